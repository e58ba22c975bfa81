"""What the machine is in doubt about, most valuable first, and what people decide about it.

An item is a stretch of film that may be tied to the wrong build, or to none. Its id is the film and the second at which
it begins, so that it stays the same while rows come and go. Deciding keeps the decision and lets the film obey at once;
which other stretches follow from it is settled by `builds.relinking.relink`, which whoever decides calls afterwards.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Literal, get_args

from sqlite_utils import Database

from diaryidx.errors import NotFound, WrongUse
from diaryidx.records import Candidate, Decision, DecisionKind, Recording, Segment, Sentence
from diaryidx.store import decisions, reading

Action = Literal["accept", "refuse", "assign", "not-a-build", "split", "join"]
ACTIONS: tuple[Action, ...] = get_args(Action)
#: A link that is at least this certain is not asked about: nine in ten of them are right.
SURE_LINK = 0.9
#: What a stretch is worth in which nothing is stated, against one statement (our own choice).
NOTHING_STATED = 0.2
#: A moment may be named by this many seconds less or more (our own choice).
NEAR = 1.0
LONGEST_NAME = 80
_ID = re.compile(r"(?P<recording>.+)@(?P<seconds>\d+(?:\.\d+)?)")


@dataclass(frozen=True, slots=True)
class Item:
    """A stretch of film for a person to decide on.

    ``id`` is ``RECORDING@SECONDS``; ``file`` is its path, relative to the shop's recordings folder when inside it.
    ``build``, ``certainty`` and ``evidence`` are the machine's link, or the decision that holds, which ``decision``
    then numbers. ``candidates`` come likeliest first. ``statements`` counts what depends on it, ``value`` is that
    times the doubt.
    """

    id: str
    recording: str
    title: str
    said_on: str | None
    file: str
    start: float
    end: float
    topic: str
    subject: str
    text: str
    build: str | None
    certainty: float
    evidence: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    statements: int
    value: float
    decision: int | None = None
    sentences: tuple[Sentence, ...] = field(default=(), repr=False)


def items(db: sqlite3.Connection, limit: int | None = None, leave_out: Collection[str] = ()) -> list[Item]:
    """The stretches that are in doubt, most valuable first.

    In doubt is what is about a bike, was not decided by a person, and is tied to no build or not surely to one.

    :param leave_out: ids of items that are not asked for now.
    """
    doubtful = [one for one in decisions.doubts(db, SURE_LINK) if _id(one[1], one[2]) not in leave_out]
    doubtful.sort(key=lambda one: (-_value(one[3], one[4]), one[1], one[2]))
    films: dict[str, tuple[Recording, dict[int | None, Segment], list[Sentence]]] = {}
    found = []
    for row, name, _start, _certainty, stated in doubtful[:limit]:
        if name not in films:
            segments = {one.id: one for one in reading.segments(db, recording_id=name)}
            films[name] = reading.recording(db, name), segments, reading.sentences(db, name)
        film, segments, sentences = films[name]
        found.append(_item(film, segments[row], sentences, stated))
    return found


def count_items(db: sqlite3.Connection) -> int:
    """How many stretches are in doubt."""
    return len(decisions.doubts(db, SURE_LINK))


def item(db: sqlite3.Connection, item_id: str) -> Item:
    """One stretch by its id, in doubt or not; the one that holds this moment of film.

    :raises WrongUse: the id has another form than ``RECORDING@SECONDS``.
    :raises NotFound: there is no such film, or nothing is said there.
    """
    film, segments, place = _located(db, item_id)
    segment = segments[place]
    stated = decisions.statements_by_segment(db, film.id).get(segment.id or 0, 0)
    return _item(film, segment, reading.sentences(db, film.id), stated)


def decide(
    db: Database, item_id: str, action: Action, actor: str, value: str | None = None, *, over: bool = False
) -> Decision:
    """Keep a person's decision on an item, and let its film obey.

    :param action: "accept" takes the build it is tied to or the likeliest candidate; "refuse" says that it is not that
        one, or not the one that ``value`` names; "assign" ties it to the job number in ``value``; "not-a-build" says
        that it is about no bike; "split" cuts it at the moment in ``value`` (seconds or ``m:ss``); "join" joins it with
        the stretch that follows.
    :param actor: the name of the person.
    :param over: also where that sets aside what another person decided.
    :raises DecidedBefore: it would, and ``over`` was not said; nothing is kept then.
    :raises WrongUse: the action cannot be done with this item; nothing is kept then.
    :raises NotFound: there is no such item or build.
    """
    actor = checked_actor(actor)
    now = item(db.conn, item_id)
    kind, start, end, what = _meant(db.conn, now, action, value)
    return decisions.decide(db, now.recording, kind, start, end, actor, what, _evidence(now), over=over)


def undo(db: Database, actor: str, decision_id: int | None = None) -> Decision:
    """Take back a decision, or the last one that this person made and that still holds.

    :raises NotFound: there is none.
    :raises WrongUse: it was undone before.
    """
    actor = checked_actor(actor)
    if decision_id is None:
        own = [one.id for one in decisions.decisions(db.conn) if one.actor == actor and one.undone_at is None]
        if not own:
            raise NotFound(f"{actor} has decided nothing that could be undone; `diaryidx decisions` lists them all")
        decision_id = own[-1]
    return decisions.undo(db, decision_id, actor)


def checked_actor(actor: str) -> str:
    """A person's name, as it stands beside a decision.

    :raises WrongUse: it is empty, or no name.
    """
    name = " ".join(actor.split())
    if not name or not name.isprintable() or len(name) > LONGEST_NAME:
        raise WrongUse("say who decides, with a name of at most 80 letters (--as NAME)")
    return name


def item_json(one: Item) -> dict[str, Any]:
    """An item as pages and commands give it."""
    shape = asdict(one)
    del shape["sentences"]
    return {**shape, "evidence": list(one.evidence), "candidates": [asdict(other) for other in one.candidates]}


def decision_json(one: Decision, films: Mapping[str, Recording]) -> dict[str, Any]:
    """A decision as pages and commands give it; ``recording`` is the film that is known by its content now, or null."""
    film = films.get(one.film)
    return {**asdict(one), "recording": None if film is None else film.id}


# --- items -----------------------------------------------------------------------------------------------------------


def _id(recording: str, start: float) -> str:
    return f"{recording}@{start:.1f}"


def _value(certainty: float, statements: int) -> float:
    """What a stretch is worth: its doubt times what depends on it. ``certainty`` is that of its link, 0 without one."""
    return round((1.0 - certainty) * (statements or NOTHING_STATED), 4)


def _item(film: Recording, segment: Segment, sentences: Sequence[Sentence], statements: int) -> Item:
    own = tuple(sentences[segment.first : segment.last + 1])
    return Item(
        id=_id(film.id, segment.start),
        recording=film.id,
        title=film.title,
        said_on=film.date,
        file=film.path,
        start=segment.start,
        end=segment.end,
        topic=segment.title,
        subject=segment.subject.kind,
        text=" ".join(sentence.text for sentence in own),
        build=segment.build,
        certainty=segment.certainty,
        evidence=segment.evidence,
        candidates=segment.candidates,
        statements=statements,
        value=_value(segment.certainty if segment.build is not None else 0.0, statements),
        decision=segment.decision,
        sentences=own,
    )


def _located(db: sqlite3.Connection, item_id: str) -> tuple[Recording, list[Segment], int]:
    """The film of an item, its segments, and the place of the one that holds the moment."""
    match = _ID.fullmatch(item_id.strip())
    if match is None:
        raise WrongUse(f"{item_id!r} is no item; it is written FILM@SECONDS, as `diaryidx review list` shows it")
    film, seconds = reading.recording(db, match["recording"]), float(match["seconds"])
    segments = reading.segments(db, recording_id=film.id)
    distances = [max(one.start - seconds, seconds - one.end, 0.0) for one in segments]
    begins = [abs(one.start - seconds) for one in segments]
    near = [place for place in range(len(segments)) if begins[place] <= NEAR / 10]
    # A whole second names the stretch that begins in it: pages and lists show where one begins rounded down.
    near = near or [place for place, one in enumerate(segments) if int(one.start) == seconds]
    near = near or [place for place in range(len(segments)) if distances[place] <= NEAR]
    if not near:
        raise NotFound(
            f"nothing is said at {seconds:.1f} seconds of {film.id}; `diaryidx segments {film.id}` shows what is"
        )
    return film, segments, min(near, key=lambda place: (distances[place], begins[place]))


# --- decisions -------------------------------------------------------------------------------------------------------


def _meant(
    db: sqlite3.Connection, now: Item, action: Action, value: str | None
) -> tuple[DecisionKind, float, float, dict[str, Any]]:
    """What is to be kept: the kind of decision, its stretch in seconds, and what was decided."""
    if action == "accept":
        return "link", now.start, now.end, {"build": _build_offered(now, "accept")}
    if action == "refuse":
        refused = reading.build(db, value).job_number if value else _build_offered(now, "refuse")
        return "link", now.start, now.end, {"not": refused}
    if action == "assign":
        return "link", now.start, now.end, {"build": reading.build(db, value or "").job_number}
    if action == "not-a-build":
        return "not a build", now.start, now.end, {}
    if action == "split":
        at = _moment_inside(now, value or "")
        return "split", at, at, {"at": at}
    if action == "join":
        return "join", now.start, _next_stretch(db, now).end, {}
    raise WrongUse(f"{action!r} is nothing that can be decided; it may be {', '.join(ACTIONS)}")


def _build_offered(now: Item, verb: str) -> str:
    if now.build is not None:
        return now.build
    if not now.candidates:
        raise WrongUse(f"{now.id}: no build is proposed that you could {verb}; assign one by its job number")
    return now.candidates[0].job_number


def _moment_inside(now: Item, value: str) -> float:
    """The start of the sentence nearest to a moment, if the stretch can be cut there."""
    seconds = seconds_of(value)
    starts = [sentence.start for sentence in now.sentences[1:]]
    if not starts or not now.start <= seconds <= now.end:
        raise WrongUse(f"{now.id}: cannot be cut at {value!r}; it has {len(now.sentences)} sentences, {_stretch(now)}")
    return min(starts, key=lambda start: abs(start - seconds))


def _next_stretch(db: sqlite3.Connection, now: Item) -> Segment:
    _film, segments, place = _located(db, now.id)
    if place + 1 >= len(segments):
        raise WrongUse(f"{now.id}: nothing follows it that it could be joined with")
    return segments[place + 1]


def seconds_of(value: str) -> float:
    """A moment as people write it, ``83.5``, ``1:23`` or ``1:02:03``, in seconds.

    :raises WrongUse: it is none.
    """
    parts = value.strip().split(":")
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        numbers = []
    if not numbers or len(numbers) > 3 or any(not 0 <= number < 1e6 for number in numbers):
        raise WrongUse(f"{value!r} is no moment of film; write seconds or m:ss")
    return sum(number * float(60**power) for power, number in enumerate(reversed(numbers)))


def _stretch(now: Item) -> str:
    return f"from {now.start:.1f} to {now.end:.1f} seconds"


def _evidence(now: Item) -> dict[str, Any]:
    """What the person saw, kept beside the decision."""
    shape = item_json(now)
    kept = ("recording", "title", "said_on", "topic", "text", "build", "certainty", "evidence", "candidates")
    return {name: shape[name] for name in kept}
