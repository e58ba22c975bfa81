"""How many misheard terms are repaired, and what harm repair does to what was heard right."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from math import sqrt
from pathlib import Path
from typing import Any

import yaml

from diaryidx.records import Build, Sentence
from diaryidx.transcript.repair import Repairer, build_repairer, repair
from tests.bench.repair_data import (
    Hearing,
    Shop,
    as_heard,
    as_sentence,
    films,
    general_talk,
    larger_book,
    shops,
    terms_in,
    vocabulary_of,
    workshop_talk,
)

GOLD = Path(__file__).resolve().parents[1] / "language" / "gold"
BOOKS = (10, 500)
FILM = 400  # sentences of talk that are repaired as one film


def interval(right: int, total: int) -> str:
    """A share in percent with its 95 % interval (E. B. Wilson, J. Amer. Statist. Assoc. 22, 1927)."""
    if not total:
        return "none"
    share, z = right / total, 1.96
    middle = (share + z * z / (2 * total)) / (1 + z * z / total)
    half = z * sqrt(share * (1 - share) / total + z * z / (4 * total * total)) / (1 + z * z / total)
    return f"{share:.0%} ({middle - half:.0%} to {middle + half:.0%}) of {total}"


def recall(half: str, size: int | None = None) -> dict[tuple[str, str], Counter[str]]:
    """What became of the terms that were said, by engine and noise.

    :param size: builds in the job book; None takes the shop's own few.
    """
    found: dict[tuple[str, str], Counter[str]] = {}
    for shop in (one for one in shops() if one.half == half):
        repairer = repairer_of(shop, size or len(shop.builds))
        for film in films(shop):
            counts = found.setdefault((film[0].engine, film[0].noise), Counter())
            for hearing, after in zip(film, repair(repairer, [one.sentence for one in film]), strict=True):
                counts += count(repairer, shop, hearing, after)
                found[film[0].engine, film[0].noise] = counts
    return found


def count(repairer: Repairer, shop: Shop, hearing: Hearing, after: Sentence) -> Counter[str]:
    """The terms said in one sentence: heard right, misheard, repaired, lost again; and repairs to what was not said."""
    vocabulary = repairer.vocabulary
    said = terms_in(vocabulary, shop.sentences[hearing.place])
    heard, now = terms_in(vocabulary, hearing.sentence.text), terms_in(vocabulary, after.text)
    misheard = said - heard
    return Counter(
        said=said.total(),
        misheard=misheard.total(),
        repaired=(misheard & now).total(),
        lost=((said & heard) - now).total(),
        wrong=((now - heard) - said).total(),
        names=Counter({one: times for one, times in misheard.items() if _is_name(repairer, one)}).total(),
        names_repaired=Counter(
            {one: times for one, times in (misheard & now).items() if _is_name(repairer, one)}
        ).total(),
    )


def _is_name(repairer: Repairer, canonical: str) -> bool:
    return any(term.origin != "shipped" for term in repairer.vocabulary.by_canonical.get(canonical.lower(), ()))


def repairer_of(shop: Shop, size: int) -> Repairer:
    """What repairs the talk of a shop with a job book of this size."""
    return build_repairer(vocabulary_of(shop, larger_book(shop.builds, size)))


def print_recall(half: str) -> None:
    """Print the table."""
    found = recall(half)
    total: dict[str, Counter[str]] = {}
    print(f"{half} half: engine, noise | terms said, misheard | repaired | names among them | wrong, lost")
    for (engine, noise), counts in sorted(found.items()):
        total[engine] = total.get(engine, Counter()) + counts
        print(f"  {engine:9} {noise:6}| {_line(counts)}")
    for engine, counts in total.items():
        print(f"  {engine:9} all   | {_line(counts)}")


def _line(counts: Counter[str]) -> str:
    names = interval(counts["names_repaired"], counts["names"])
    repaired = interval(counts["repaired"], counts["misheard"])
    return f"{counts['said']}, {counts['misheard']} | {repaired} | {names} | {counts['wrong']}, {counts['lost']}"


# --- harm ------------------------------------------------------------------------------------------------------------


def gold_items() -> Iterator[dict[str, Any]]:
    """The items of the language sets to work on: talk of other invented shops, as engines give it, and its names."""
    for path in sorted(GOLD.glob("working_*.yaml")):
        yield from yaml.safe_load(path.read_text(encoding="utf-8"))


def gold_talk() -> Iterator[str]:
    """What is said there."""
    return (str(item["text"]) for item in gold_items())


def with_names(shop: Shop) -> Shop:
    """The shop as if the names of those other shops were its own."""
    names: dict[str, list[str]] = {}
    for item in gold_items():
        for kind, some in item["names"].items():
            names.setdefault(kind, []).extend(some)
    own = {kind: [*shop.words.get(kind, []), *_new(names, kind, shop)] for kind in ("suppliers", "products", "people")}
    cars = [*dict.fromkeys([*names.get("makes", []), *names.get("models", [])])]
    builds = (*shop.builds, *(Build(job_number=f"g{place}", make=name) for place, name in enumerate(cars)))
    return replace(shop, words={**shop.words, **own}, builds=builds)


def _new(names: dict[str, list[str]], kind: str, shop: Shop) -> list[str]:
    known = {str(one["name"] if isinstance(one, dict) else one).lower() for one in shop.words.get(kind, [])}
    mine: dict[str, str] = {}
    for name in names.get(kind, []):
        mine.setdefault(name.lower(), name)
    return [name for key, name in mine.items() if key not in known]


def workshop_sentences(shop: Shop, repairer: Repairer, half: str) -> list[str]:
    """What the shop's people truly said, what people of other shops said, and made-up sentences of trade words."""
    made_up = workshop_talk(repairer.vocabulary, 2 if half == "report" else 1, 500)
    return [*(as_heard(text) for text in shop.sentences), *gold_talk(), *made_up]


def wrong_repairs(repairer: Repairer, texts: Iterable[str]) -> tuple[int, list[tuple[str, str, str]]]:
    """The words of talk that was heard right, and each repair made of it: sentence, heard, meant."""
    words, wrong = 0, []
    waiting = iter(texts)
    while film := [as_sentence(text) for text in islice(waiting, FILM)]:
        words += sum(len(sentence.text.split()) for sentence in film)
        for sentence in repair(repairer, film):
            wrong += [(sentence.heard, one.heard, one.meant) for one in sentence.repairs]
    return words, wrong


def print_harm(half: str, show: bool = False) -> None:
    """Print wrong repairs for each 10,000 words, and the time a sentence takes."""
    print(f"{half} half: talk heard right | builds | words | wrong repairs | for 10,000 words | ms a sentence")
    talk = list(general_talk(half))
    mine = [one for one in shops() if one.half == half]
    for size in BOOKS:
        for what, shops_there in (("workshop talk", [with_names(one) for one in mine]), ("names unknown", mine)):
            found = []
            for shop in shops_there:
                repairer = repairer_of(shop, size)
                found.append(wrong_repairs(repairer, workshop_sentences(shop, repairer, half)))
            _print_harm(what, size, found, "", show)
        repairer = repairer_of(mine[0], size)
        began = time.perf_counter()
        general = wrong_repairs(repairer, talk)
        took = (time.perf_counter() - began) / len(talk)
        _print_harm("general talk", size, [general], f"{1000 * took:.2f}", show)


def _print_harm(
    what: str, size: int, found: Sequence[tuple[int, list[tuple[str, str, str]]]], took: str, show: bool
) -> None:
    words, wrong = sum(count for count, _ in found), [one for _, some in found for one in some]
    print(f"  {what:14}| {size} | {words} | {len(wrong)} | {10_000 * len(wrong) / words:.2f} | {took}")
    if show:
        for sentence, heard, meant in wrong[:60]:
            print(f"      {heard!r} -> {meant!r}: {sentence}")


def _main(arguments: Sequence[str]) -> None:
    for half in arguments or ("working",):
        print_recall(half)
        print_harm(half, show=half == "working")


if __name__ == "__main__":
    import sys

    _main(sys.argv[1:])
