from __future__ import annotations

import numpy as np
import pytest

from diaryidx.builds.known import shop_on_the_day
from diaryidx.builds.said import said_by_sentence
from diaryidx.builds.turns import shows_two, turns
from diaryidx.builds.wishes import shipped_vocabulary
from diaryidx.records import Build, Mention, RecordingKind, Sentence
from diaryidx.vocabulary.loader import find_terms

BOOK = [
    Build("301", "Wilma Tarn", "Hobb", "Plover 400", nickname="Biscuit"),
    Build("302", "Amos Feather", "Hobb", "Plover 400"),
    Build("303", "Ines Dray", "Sallow", "Knot"),
]
#: Chances of a turn as they should be told apart: likely, hardly.
LIKELY, HARDLY = 0.3, 0.2
SHOP = shop_on_the_day(BOOK, {build.job_number: 1.0 for build in BOOK}, ())


def heard(*texts: str) -> tuple[list[Sentence], list[Mention]]:
    sentences = [Sentence(4.0 * place, 4.0 * place + 4, text, text) for place, text in enumerate(texts)]
    mentions = [
        Mention(term.label, text[start:end], term.canonical, place, start, end)
        for place, text in enumerate(texts)
        for start, end, term in find_terms(shipped_vocabulary(), text)
    ]
    return sentences, mentions


def chances(*texts: str, cuts: set[int] | None = None, kind: RecordingKind = "diary") -> list[float]:
    sentences, mentions = heard(*texts)
    return list(turns(sentences, said_by_sentence(sentences, mentions, ()), cuts or set(), kind, SHOP))


def chance(text: str) -> float:
    return chances("hello", text)[1]


@pytest.mark.parametrize(
    "text",
    ["next to that is a customer's project", "so over here we have a bit of a mess", "right moving on",
     "and then there's the one from the barn", "biscuit is back on its feet", "wilma tarn's is still in bits",
     "now the knot", "what about the plover", "job three oh two has been waiting"],
)  # fmt: skip
def test_pointing_on_and_a_name_at_the_start_turn_to_another_bike(text: str) -> None:
    assert chance(text) >= LIKELY


@pytest.mark.parametrize(
    "text",
    ["the seat came out lovely", "now the tank is another story", "this brake lever was bent", "we put it over there",
     "and the mirrors are these two bolts here"],
)  # fmt: skip
def test_parts_and_places_do_not(text: str) -> None:
    assert chance(text) <= HARDLY


@pytest.mark.parametrize(
    "text", ["it needs a new chain", "he wants it louder", "so she rides it to work", "because it leaks"]
)
def test_a_sentence_that_goes_on_hardly_turns(text: str) -> None:
    assert chance(text) <= HARDLY


def test_a_bike_named_only_to_hold_this_one_against_it_is_less_of_a_turn_than_one_that_is_shown() -> None:
    assert chance("the same tank as on the knot") <= HARDLY < LIKELY <= chance("and on to the knot")


def test_a_name_said_again_is_less_than_a_new_one_and_a_late_one_is_none() -> None:
    first, again, other, late = chances(
        "biscuit is up next to the door", "biscuit has new forks", "the knot has new forks",
        "we had a long day with the dog and the kettle before feather rang",
    )  # fmt: skip
    assert again < other and late < LIKELY <= first


def test_a_name_that_the_bike_in_hand_has_too_is_no_new_one() -> None:
    _, model, other_model = chances("biscuit is here", "the plover has new forks", "the knot has new forks")
    assert model < other_model


def test_signs_add_up_and_a_topic_cut_by_talk_is_one() -> None:
    plain, cut, both = (
        chances("so", text, cuts=cuts)[1] for text, cuts in (("well", None), ("well", {1}), ("next up well", {1}))
    )
    assert plain < cut < both


def test_a_note_from_the_bench_seldom_turns() -> None:
    texts = ("next up", "the knot", "seat done")
    assert np.all(np.array(chances(*texts, kind="bench note")) < 0.5 * np.array(chances(*texts)))


@pytest.mark.parametrize(("text", "two"), [
    ("and these two came from the same barn", True), ("then a pair of them", True), ("these two bolts are new", False),
    ("these two are the new brake pads", False), ("these two are getting new pads", True), ("the other two", False),
])  # fmt: skip
def test_two_bikes_shown_as_one_are_told_from_two_parts(text: str, two: bool) -> None:
    sentences, mentions = heard(text)
    assert shows_two(sentences[0], mentions) is two


def test_odd_texts_are_no_error() -> None:
    assert all(0 < one < 1 for one in chances("", "...", "🏍️", "the " * 500, "next up"))
