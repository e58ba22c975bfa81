"""How words vary. Forms after English school grammar; checked by hand."""

from __future__ import annotations

import pytest

from diaryidx.vocabulary.inflections import Spellings, plural_and_singular, spelled, verb_forms

TABLES = Spellings(
    spellings={"tyre": "tire"},
    split={"mudguard": "mud guard"},
    irregular={"take": ["takes", "taking", "took", "taken"], "cut": ["cuts", "cutting", "cut", "cut"]},
    doubled=frozenset({"refit"}),
    particles=frozenset({"off", "down"}),
)


@pytest.mark.parametrize(
    ("verb", "forms"),
    [
        ("weld", {"weld", "welds", "welding", "welded"}),
        ("strip", {"strip", "strips", "stripping", "stripped"}),
        ("strip down", {"strip down", "strips down", "stripping down", "stripped down"}),
        ("powder coat", {"powder coat", "powder coats", "powder coating", "powder coated"}),
        ("brace", {"brace", "braces", "bracing", "braced"}),
        ("modify", {"modify", "modifies", "modifying", "modified"}),
        ("polish", {"polish", "polishes", "polishing", "polished"}),
        ("take off", {"take off", "takes off", "taking off", "took off", "taken off"}),
        ("cut", {"cut", "cuts", "cutting"}),
        ("refit", {"refit", "refits", "refitting", "refitted"}),
        ("free", {"free", "frees", "freeing", "freed"}),
        ("spray", {"spray", "sprays", "spraying", "sprayed"}),
    ],
)
def test_verbs_are_inflected(verb: str, forms: set[str]) -> None:
    assert {phrase for phrase, _ in verb_forms(verb, TABLES)} == forms


@pytest.mark.parametrize(
    ("phrase", "other"),
    [
        ("brake pad", "brake pads"), ("brake pads", "brake pad"), ("battery", "batteries"), ("batteries", "battery"),
        ("switch", "switches"), ("switches", "switch"), ("tail lens", "tail lenses"), ("chassis", "chassises"),
    ],
)  # fmt: skip
def test_parts_are_known_in_both_numbers(phrase: str, other: str) -> None:
    assert plural_and_singular(phrase) == (phrase, other)


def test_spellings_and_compounds_are_added() -> None:
    assert list(spelled(["front tyre", "mudguard"], TABLES)) == ["front tyre", "front tire", "mudguard", "mud guard"]
