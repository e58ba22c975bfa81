"""Parts and materials that a customer supplied ("he's brought his own tank"), and what is to be copied from another.

How people say so is data (``cues/customer_parts.yaml``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from diaryidx.film_records import CustomerPart
from diaryidx.language.found import Found
from diaryidx.language.patterns import Match, Row, patterns, words_in
from diaryidx.language.told import BIKE_LABELS, Told
from diaryidx.language.word_times import word_times

_FILE = "customer_parts.yaml"
_MATERIALS = ("material",)
_ENDS = frozenset([",", ".", "and", "so", "but"])
_JOINING = frozenset(["and", ",", "the", "a", "his", "her", "own", "some"])
NEAR = 8  # words within which a picture or "like the one on" belongs to a part; own choice
LIKE_WORDS = 5  # words of what it is to be like; own choice
SURE, SURE_IN_TALK = 0.8, 0.6  # where the customer is named as who wants it, and elsewhere; own estimates


def customer_parts(told: Sequence[Told]) -> list[CustomerPart]:
    """Find what customers supplied or want copied.

    Arguments:
        told: all sentences of the film.
    Returns: in the order of the film, each part of a sentence once.
    """
    found: list[CustomerPart] = []
    last: Found | None = None
    for one in told:
        if not one.has_kind("joke", "advice", "question"):
            found += {(new.how, new.part): new for new in (*_supplied(one), *_copied(one, last))}.values()
        parts = _things(one)
        last = parts[-1] if parts else last
    return found


def _things(one: Told) -> list[Found]:
    """Parts of the bike, and materials ("the hide"); no tools."""
    return sorted(
        (
            found
            for found in one.terms
            if (found.label == "PART" and (found.term is None or found.term.system != "tools"))
            or (found.label == "FINISH" and found.term is not None and found.term.sort in _MATERIALS)
        ),
        key=lambda found: found.start,
    )


def _row(one: Told, things: Sequence[Found]) -> Row:
    bikes = ((found.start, found.end, "BIKE") for found in one.labelled(*BIKE_LABELS))
    return Row.of(one.words, [*((thing.start, thing.end, "PART") for thing in things), *bikes])


def _supplied(one: Told) -> Iterator[CustomerPart]:
    things = _things(one)
    row = _row(one, things)
    if patterns(_FILE, "not supplied").first(row):
        return
    for match in patterns(_FILE, "supplied").find(row):
        thing = next((thing for thing in things if match.mark and thing.start == match.mark[0]), None)
        if thing is None or thing.canonical in words_in(_FILE, "never supplied"):
            continue
        if not words_in(_FILE, "pictures").isdisjoint(one.words[match.start : thing.end + 1]):
            continue  # "he sent us a photo of the exhaust"
        for also in (thing, *_joined(one, things, thing)):
            yield _record(one, "supplied", also, match, None)


def _joined(one: Told, things: Sequence[Found], thing: Found) -> list[Found]:
    """Parts that are told in one breath with another: "the mirrors and the levers"."""
    joined, last = [], thing
    for after in things:
        between = one.words[last.end : after.start]
        if after.start >= last.end and between and _JOINING.issuperset(between):
            joined.append(after)
            last = after
    return joined


def _copied(one: Told, last: Found | None) -> Iterator[CustomerPart]:
    """What is to be copied; without a part in its sentence it is that spoken of before."""
    things = _things(one)
    row = _row(one, things)
    if patterns(_FILE, "not copied").first(row):
        return
    for match in patterns(_FILE, "copied").find(row):
        if match.mark is None or words_in(_FILE, "copied needs").isdisjoint(one.words):
            continue
        near = [thing for thing in things if abs(thing.start - match.start) <= NEAR]
        thing = next((thing for thing in reversed(near) if thing.end <= match.start), near[0] if near else None)
        yield _record(one, "copied", thing or (last if not things else None), match, _like(one, match))


def _like(one: Told, match: Match) -> str:
    """What it is to be like, in the words used: "a picture of an old tank", "the Dipper"."""
    start, end = match.mark or (match.start, match.end)
    if one.words[start] in words_in(_FILE, "pictures"):
        start -= start > 0 and one.words[start - 1] in ("a", "the", "some", "this")
    else:
        start = match.start if one.words[start] in ("one", "ones") else start
    end = max(end, match.end)
    if one.words[end - 1] in ("on", "off", "from", "to"):  # "like the ones on | the dipper"
        start = end
        bikes = (bike.end for bike in one.labelled(*BIKE_LABELS) if start <= bike.start < start + 3)
        end = next(bikes, end + LIKE_WORDS)
    end = min(end, len(one.words))
    stop = next((at for at in range(start + 1, end) if one.words[at] in _ENDS), end)
    return one.quote(start, stop).strip(" ,.?!")


def _record(one: Told, how: str, thing: Found | None, match: Match, like: str | None) -> CustomerPart:
    start, end = word_times(one, match.start, match.end)
    sure = any(clause.subject == "customer" for clause in one.clauses) or how == "supplied"
    return CustomerPart(
        how="supplied" if how == "supplied" else "copied", part=thing.canonical if thing else None, text=one.text,
        start=start, end=end, sentence=one.place, like=like, certainty=SURE if sure else SURE_IN_TALK,
    )  # fmt: skip
