"""Cuts a film's topics again where people decided: a decided stretch keeps its build whatever the machine's cuts are.

The machine cuts by what it hears, so another engine or another rule cuts elsewhere. Decisions are tied to seconds of
film. Here they are laid over the sentences of a film in the order they were made, the last one holds, and wherever two
neighbouring sentences are decided differently the film is cut. A sentence belongs to a stretch when its middle does.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from diaryidx.records import Decision, Segment, Subject

#: Seconds of one sentence: its start and its end.
Span = tuple[float, float]
#: Gives a stretch of sentences, first to last, a title.
Titled = Callable[[int, int], str]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What people decided about a sentence: its build, or that it is about none, or builds it is not about.

    ``decision`` is the number of the last decision, ``told`` says by whom and when.
    """

    decision: int
    told: str
    build: str | None = None
    no_build: bool = False
    refused: frozenset[str] = frozenset()

    @property
    def says(self) -> tuple[str | None, bool, frozenset[str]]:
        """What was decided, without who decided it."""
        return self.build, self.no_build, self.refused


def obey(
    topics: Sequence[Segment], spans: Sequence[Span], decisions: Sequence[Decision], titled: Titled
) -> list[tuple[Segment, Outcome | None]]:
    """Lay decisions over the topics of a film.

    :param topics: as the machine cut them, in order; together they hold every sentence.
    :param spans: the seconds of every sentence, in order.
    :param decisions: those in force on this film, in its seconds, oldest first.
    :returns: the segments, which hold the same sentences, each with what was decided about all of it. One that was tied
        to a build has that build with certainty 1; the machine's links are not in them.
    """
    if not topics or not spans:
        return []
    firsts = [topic.first for topic in topics]
    topic_of = [max(bisect_right(firsts, place) - 1, 0) for place in range(len(spans))]
    outcomes: list[Outcome | None] = [None] * len(spans)
    cuts: list[bool | None] = [None] * len(spans)
    for decision in decisions:
        _lay(decision, spans, outcomes, cuts)
    starts = [place for place in range(len(spans)) if place == 0 or _is_cut(place, topic_of, outcomes, cuts)]
    ends = [*(start - 1 for start in starts[1:]), len(spans) - 1]
    return [
        (_segment(topics, topic_of, spans, first, last, outcomes[first], titled), outcomes[first])
        for first, last in zip(starts, ends, strict=True)
    ]


def set_aside_by(spans: Sequence[Span], in_force: Sequence[Decision], new: Decision) -> list[int]:
    """The numbers of the decisions that would hold no more, or for less of the film, with a new one laid over them.

    What only adds to another is none of them: that a stretch is not about a second bike either, or is about one beside
    a refused one.

    :param in_force: those that hold on the film of the new one, in its seconds, oldest first.
    """
    outcomes: list[Outcome | None] = [None] * len(spans)
    cuts: list[bool | None] = [None] * len(spans)
    cut_by: dict[int, int] = {}
    for decision in in_force:
        before = list(cuts)
        _lay(decision, spans, outcomes, cuts)
        cut_by |= {place: decision.id for place, cut in enumerate(cuts) if cut != before[place]}
    then, cut_then = list(outcomes), list(cuts)
    _lay(new, spans, then, cut_then)
    aside = [one.decision for one, other in zip(outcomes, then, strict=True) if one and _contradicts(one, other)]
    aside += [by for place, by in cut_by.items() if cuts[place] != cut_then[place]]
    return list(dict.fromkeys(aside))


def _contradicts(before: Outcome, after: Outcome | None) -> bool:
    """Whether what was decided about a sentence does not hold after another decision."""
    if after is None or before.says == after.says:
        return False
    if before.build is not None or before.no_build:
        return (before.build, before.no_build) != (after.build, after.no_build)
    return after.build in before.refused


def sentences_in(spans: Sequence[Span], start: float, end: float) -> range:
    """The places of the sentences whose middles lie in a stretch; where none does, that which overlaps it most."""
    inside = [place for place, (begin, stop) in enumerate(spans) if start <= (begin + stop) / 2 < end]
    if inside:
        return range(inside[0], inside[-1] + 1)
    overlaps = [min(end, stop) - max(start, begin) for begin, stop in spans]
    best = max(range(len(spans)), key=overlaps.__getitem__, default=0)
    return range(best, best + 1) if overlaps and overlaps[best] > 0 else range(0)


def nearest_start(spans: Sequence[Span], seconds: float) -> int:
    """The place of the sentence that begins nearest to a moment."""
    return min(range(len(spans)), key=lambda place: abs(spans[place][0] - seconds))


def _lay(decision: Decision, spans: Sequence[Span], outcomes: list[Outcome | None], cuts: list[bool | None]) -> None:
    """Lay one decision over what was decided before it."""
    if decision.kind == "split":
        cuts[nearest_start(spans, decision.start)] = True
        return
    places = sentences_in(spans, decision.start, decision.end)
    if decision.kind == "join":
        outcome = _longest(places, spans, outcomes)
        for place in places:
            outcomes[place] = outcome
        for place in places[1:]:
            cuts[place] = False
    elif decision.kind in ("link", "not a build"):
        for place in places:
            outcomes[place] = _decided(outcomes[place], decision)


def _decided(before: Outcome | None, decision: Decision) -> Outcome:
    told = f"decided by {decision.actor} on {decision.made_at[:10]}"
    if decision.kind == "not a build":
        return Outcome(decision.id, told, no_build=True)
    if "build" in decision.what:
        return Outcome(decision.id, told, build=decision.what["build"])
    refused = decision.what["not"]
    if before is None or before.no_build:
        return Outcome(decision.id, told, refused=frozenset([refused]))
    build = None if before.build == refused else before.build
    return Outcome(decision.id, told, build=build, refused=before.refused | {refused})


def _longest(places: range, spans: Sequence[Span], outcomes: Sequence[Outcome | None]) -> Outcome | None:
    """Of what was decided before within a stretch that is joined, that which holds for most of it."""
    seconds: dict[tuple[str | None, bool, frozenset[str]], float] = {}
    of: dict[tuple[str | None, bool, frozenset[str]], Outcome] = {}
    for place in places:
        if (outcome := outcomes[place]) is not None:
            seconds[outcome.says] = seconds.get(outcome.says, 0.0) + spans[place][1] - spans[place][0]
            of[outcome.says] = outcome
    return of[max(seconds, key=seconds.__getitem__)] if seconds else None


def _is_cut(
    place: int, topic_of: Sequence[int], outcomes: Sequence[Outcome | None], cuts: Sequence[bool | None]
) -> bool:
    """Whether a segment begins with a sentence that is not the first."""
    before, here = outcomes[place - 1], outcomes[place]
    if (before and before.says) != (here and here.says):
        return True
    forced = cuts[place]
    return topic_of[place - 1] != topic_of[place] if forced is None else forced


def _segment(
    topics: Sequence[Segment],
    topic_of: Sequence[int],
    spans: Sequence[Span],
    first: int,
    last: int,
    outcome: Outcome | None,
    titled: Titled,
) -> Segment:
    """The segment of some sentences: like the topic that it shares most seconds with, but for what was decided."""
    seconds: dict[int, float] = {}
    for place in range(first, last + 1):
        seconds[topic_of[place]] = seconds.get(topic_of[place], 0.0) + spans[place][1] - spans[place][0]
    topic = topics[max(seconds, key=seconds.__getitem__)]
    subject = topic.subject if topic.subject.kind != "build" else Subject("build")
    if outcome is not None and outcome.no_build and subject.kind == "build":
        subject = Subject("shop")
    if outcome is not None and outcome.build is not None:
        subject = Subject("build", outcome.build)
    same = (topic.first, topic.last) == (first, last) or subject.kind != "build"
    segment = replace(
        topic,
        start=spans[first][0],
        end=spans[last][1],
        first=first,
        last=last,
        title=topic.title if same else titled(first, last),
        subject=subject,
        build=None,
        certainty=0.0 if subject.kind == "build" else topic.certainty,
        evidence=(),
        candidates=(),
    )
    return segment if outcome is None else _with_outcome(segment, outcome)


def _with_outcome(segment: Segment, outcome: Outcome) -> Segment:
    if outcome.build is None and not outcome.no_build:  # builds were refused, which one it is stays open
        return replace(segment, decision=outcome.decision)
    return replace(segment, build=outcome.build, certainty=1.0, evidence=(outcome.told,), decision=outcome.decision)
