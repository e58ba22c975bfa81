"""The parts of the language bench that figures depend on: spans follow their words, scores are what they say."""

from __future__ import annotations

from tests.bench.language_misheard import _moved
from tests.bench.language_parsed import _places_back
from tests.bench.language_scoring import Understood, span_scores, statement_counts, whole_f1
from tests.language.checkable_set import Case


def test_spans_follow_their_words_into_a_misheard_text() -> None:
    text = "the front calliper is off and the clip ons went"
    spans = ((4, 9, "SIDE"), (10, 18, "PART"), (34, 42, "PART"))
    moved = _moved(Case(text, (), "diary", spans, ()), "the front cali per is off and the eclipse went")
    assert [(moved.text[start:end], label) for start, end, label in moved.spans or ()] == [
        ("front", "SIDE"), ("cali per", "PART"), ("eclipse", "PART"),
    ]  # fmt: skip


def test_a_span_whose_words_were_lost_can_be_found_nowhere() -> None:
    moved = _moved(Case("the old tank leaks", (), "diary", ((8, 12, "PART"),), ()), "the old leaks")
    assert moved.spans == ((len(moved.text), len(moved.text) + 1, "PART"),)


def test_places_come_back_from_a_text_with_marks_written_in() -> None:
    was, now = "tank is off we wait", "tank is off. we wait"
    assert "".join(was[_places_back(was, now)[at]] for at in range(13, 20)) == "we wait"


def test_scores_are_those_of_the_counts() -> None:
    """Two of three statements right, three made: F1 2/3; spans: one of two found, one made: F1 2/3."""
    one, two, three, other = ((("status", "done"), ("part", part)) for part in ("seat", "tank", "rim", "hub"))
    told = Understood(
        [[one, two], [three]],
        [[one, two], [other]],
        [{(0, 4, "PART"), (5, 9, "PART")}, None],
        [{(0, 4, "PART")}, set()],
    )
    assert whole_f1(statement_counts(told)).startswith("0.667 ")
    import spacy

    overall, labels, ranged = span_scores(spacy.blank("en"), told, ["tank seat", "rim"])
    assert round(overall, 3) == round(labels["PART"], 3) == 0.667 and ranged.startswith("0.667 ")
