"""Decisions laid over topics: what is decided holds wherever the machine cuts."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from diaryidx.builds.deciding import obey, sentences_in
from diaryidx.records import Decision, DecisionKind, Segment, Subject

SPANS = [(5.0 * place, 5.0 * place + 4.8) for place in range(10)]


def decision(number: int, kind: DecisionKind, start: float, end: float, **what: str) -> Decision:
    return Decision(number, "2026-11-25T10:00:00+00:00", "Ada", kind, "film", start, end, dict(what), {})


def topics(*firsts: int, kind: Any = "build", sentences: int = len(SPANS)) -> list[Segment]:
    lasts = [*(first - 1 for first in firsts[1:]), sentences - 1]
    return [
        Segment(0, 0, first, last, f"topic {first}", Subject(kind)) for first, last in zip(firsts, lasts, strict=True)
    ]


def cut(*decisions: Decision, at: list[Segment] | None = None) -> list[tuple[int, int, str | None]]:
    arranged = obey(at or topics(0, 4), SPANS, decisions, lambda first, last: "other")
    return [
        (one.first, one.last, one.build if one.subject.kind == "build" else one.subject.kind) for one, _ in arranged
    ]


def test_without_decisions_topics_stay_as_the_machine_cut_them() -> None:
    assert cut() == [(0, 3, None), (4, 9, None)]


def test_a_decided_stretch_keeps_its_build_wherever_the_machine_cuts() -> None:
    link = decision(1, "link", 20.0, 35.0, build="7")
    assert cut(link, at=topics(0, 4, 7)) == [(0, 3, None), (4, 6, "7"), (7, 9, None)]
    assert cut(link, at=topics(0)) == [(0, 3, None), (4, 6, "7"), (7, 9, None)]
    assert cut(link, at=topics(0, 5, 6)) == [(0, 3, None), (4, 4, "7"), (5, 5, "7"), (6, 6, "7"), (7, 9, None)]


def test_a_decided_link_is_certain_and_says_by_whom_and_when() -> None:
    (segment, outcome), _ = obey(topics(0, 4), SPANS, [decision(3, "link", 0.0, 20.0, build="7")], lambda *_: "other")
    assert (segment.certainty, segment.evidence, segment.decision) == (1.0, ("decided by Ada on 2026-11-25",), 3)
    assert outcome is not None and outcome.build == "7"


def test_not_a_build_and_a_build_where_the_machine_saw_talk() -> None:
    assert cut(decision(1, "not a build", 0.0, 20.0)) == [(0, 3, "shop"), (4, 9, None)]
    talk = topics(0, kind="shop")
    assert cut(decision(1, "link", 20.0, 35.0, build="7"), at=talk) == [(0, 3, "shop"), (4, 6, "7"), (7, 9, "shop")]


def test_the_last_decision_on_a_stretch_holds() -> None:
    first, second = decision(1, "link", 0.0, 50.0, build="7"), decision(2, "link", 10.0, 20.0, build="8")
    assert cut(first, second, at=topics(0)) == [(0, 1, "7"), (2, 3, "8"), (4, 9, "7")]
    assert cut(first, decision(2, "not a build", 0.0, 50.0), at=topics(0)) == [(0, 9, "shop")]


def test_refused_builds_add_up_and_refusing_the_decided_one_opens_the_stretch_again() -> None:
    refusals = [decision(1, "link", 0.0, 20.0, **{"not": "7"}), decision(2, "link", 0.0, 20.0, **{"not": "8"})]
    (segment, outcome), _ = obey(topics(0, 4), SPANS, refusals, lambda *_: "other")
    assert outcome is not None and outcome.refused == {"7", "8"} and segment.build is None
    link = decision(1, "link", 0.0, 20.0, build="7")
    assert cut(link, decision(2, "link", 0.0, 20.0, **{"not": "7"})) == [(0, 3, None), (4, 9, None)]


def test_a_split_cuts_where_the_machine_did_not_and_both_halves_keep_what_was_decided() -> None:
    split = decision(2, "split", 30.0, 30.0)
    assert cut(split) == [(0, 3, None), (4, 5, None), (6, 9, None)]
    assert cut(decision(1, "link", 20.0, 50.0, build="7"), split) == [(0, 3, None), (4, 5, "7"), (6, 9, "7")]


def test_a_join_takes_cuts_away_and_the_build_that_holds_for_most_of_it() -> None:
    join = decision(3, "join", 0.0, 50.0)
    assert cut(join) == [(0, 9, None)]
    one, other = decision(1, "link", 0.0, 20.0, build="7"), decision(2, "link", 20.0, 50.0, build="8")
    assert cut(one, other, join) == [(0, 9, "8")]
    assert cut(join, decision(4, "link", 0.0, 10.0, build="9")) == [(0, 1, "9"), (2, 9, None)]
    assert cut(decision(1, "split", 30.0, 30.0), join) == [(0, 9, None)]


def test_a_stretch_in_which_no_sentence_has_its_middle_binds_the_sentence_that_it_overlaps() -> None:
    assert list(sentences_in([(0.0, 30.0), (30.0, 60.0)], 20.0, 29.0)) == [0]
    assert list(sentences_in([(0.0, 10.0), (30.0, 60.0)], 12.0, 20.0)) == []


KINDS: tuple[DecisionKind, ...] = ("link", "not a build", "split", "join")


@given(
    st.lists(st.tuples(st.sampled_from(KINDS), st.floats(0, 50), st.floats(0.1, 30), st.sampled_from("789"))),
    st.sets(st.integers(1, 9)),
    st.sampled_from(["build", "shop"]),
)
def test_whatever_is_decided_segments_hold_every_sentence_once_and_the_last_link_holds(
    made: list[tuple[DecisionKind, float, float, str]], firsts: set[int], kind: str
) -> None:
    decisions = [
        decision(number, kind_, start, start + length * (kind_ != "split"), **{"build": job} if kind_ == "link" else {})
        for number, (kind_, start, length, job) in enumerate(made)
    ]
    last = decision(99, "link", 12.0, 28.0, build="5")
    arranged = obey(topics(0, *sorted(firsts), kind=kind), SPANS, [*decisions, last], lambda *_: "other")
    held = [place for one, _ in arranged for place in range(one.first, one.last + 1)]
    assert held == list(range(len(SPANS)))
    build_of = {place: one.build for one, _ in arranged for place in range(one.first, one.last + 1)}
    assert [build_of[place] for place in range(2, 6)] == ["5"] * 4  # whose middles lie between 12 and 28
