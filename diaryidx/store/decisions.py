"""What people decided about films, and the segments as they follow from it. Human tables: rows are added, never lost.

A decision is kept under the content hash of the film it was made on. Which stretches of another file are the same
film says the table ``film_pieces``, which is made from how the films sound.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlite_utils import Database

from diaryidx.builds.deciding import Outcome, Span, obey, set_aside_by
from diaryidx.errors import DecidedBefore, NotFound, WrongUse
from diaryidx.records import Decision, DecisionKind, Recording, Segment, Subject
from diaryidx.store import reading
from diaryidx.store.database import writing
from diaryidx.wording import decision_words

#: A decision follows the sound of its film; what is shorter than this, in seconds, and less than half of what was
#: decided about, is the rim of another stretch (our own choice).
SHORTEST_REST = 1.0
#: Pieces of film that lie this close to each other in both films, in seconds, are one.
CLOSE = 1.0


#: The content that a recording's sentences are of.
_FILM = "coalesce(recordings.heard_film, recordings.content_hash)"


@dataclass(frozen=True, slots=True)
class Piece:
    """From ``start`` to ``end`` of one film one hears ``known``, from its ``known_start`` on. All in seconds."""

    start: float
    end: float
    known: str
    known_start: float


@dataclass(frozen=True, slots=True)
class Shared:
    """From ``start`` to ``end`` of a recording one hears ``other``, from its ``other_start`` on; both are here.

    ``shorter`` is how long the shorter of both is. All in seconds.
    """

    recording: str
    start: float
    end: float
    other: str
    other_start: float
    shorter: float


def shared_stretches(db: sqlite3.Connection) -> list[Shared]:
    """The stretches that two recordings of the shop share, each as seen from both."""
    rows = db.execute(
        """with films as (select id, duration, coalesce(heard_film, content_hash) as film from recordings)
           select one.id, piece.start, piece.end, other.id, piece.known_start,
                  min(coalesce(one.duration, 0), coalesce(other.duration, 0))
           from film_pieces piece join films one on one.film = piece.film join films other on other.film = piece.known
           where one.id <> other.id order by one.id, piece.start"""
    )
    return [Shared(*row) for row in rows]


def published_first(db: sqlite3.Connection) -> dict[str, tuple[bool, str, str]]:
    """Of each recording a key that sorts published ones before others, then older ones before newer ones."""
    return {one.id: (one.address is None, one.date or "9999", one.id) for one in reading.recordings(db)}


def decide(
    db: Database,
    recording_id: str,
    kind: DecisionKind,
    start: float,
    end: float,
    actor: str,
    what: Mapping[str, Any],
    evidence: Mapping[str, Any],
    *,
    over: bool = False,
) -> Decision:
    """Keep a decision on a stretch of a film, and let every film that holds this stretch obey it; one transaction.

    :param start: seconds of this recording, as is ``end``.
    :param over: also where that sets aside what another person decided; both stay, and the new one names the other in
        its evidence, under ``over``. Undoing it brings the other back.
    :raises DecidedBefore: it would set aside what another person decided, and ``over`` was not said.
    """
    with writing(db):
        others = _set_aside(db.conn, recording_id, kind, start, end, actor, what)
        if others and not over:
            raise DecidedBefore(_decided_before(others))
        if others:
            evidence = {**evidence, "over": [one.id for one in others]}
        decision_id = db.execute(
            """insert into decisions (made_at, actor, kind, film, start, end, what, evidence)
               values (?, ?, ?, ?, ?, ?, ?, ?)""",
            (_now(), actor, kind, film_of(db.conn, recording_id), start, end, _packed(what), _packed(evidence)),
        ).lastrowid
        made = decision(db.conn, decision_id or 0)
        _obeyed_by_all(db, made)
    return made


def _set_aside(
    db: sqlite3.Connection, recording_id: str, kind: DecisionKind, start: float, end: float, actor: str,
    what: Mapping[str, Any],
) -> list[Decision]:  # fmt: skip
    """What other people decided about a stretch and a new decision would set aside, oldest first."""
    in_force = decisions_on(db, recording_id)
    others = {one.id: one for one in in_force if one.actor != actor}
    if not others or kind == "word":
        return []
    new = Decision(0, "", actor, kind, film_of(db, recording_id), start, end, dict(what), {})
    return [others[one] for one in sorted(set_aside_by(_spans(db, recording_id), in_force, new)) if one in others]


def _decided_before(others: Sequence[Decision]) -> str:
    said = "; ".join(
        f"{one.actor} decided on {one.made_at[:10]}: {decision_words(one)} (number {one.id})" for one in others
    )
    return f"{said}. To decide otherwise all the same, say so with --over; both stay in `diaryidx decisions`"


def undo(db: Database, decision_id: int, actor: str) -> Decision:
    """Take a decision back; it is kept with who took it back and when.

    :raises NotFound: there is no such decision.
    :raises WrongUse: it was undone before.
    """
    with writing(db):
        before = decision(db.conn, decision_id)
        if before.undone_at is not None:
            raise WrongUse(
                f"decision {decision_id} was undone by {before.undone_by} on {before.undone_at[:10]} already"
            )
        db.execute("update decisions set undone_at = ?, undone_by = ? where id = ?", (_now(), actor, decision_id))
        after = decision(db.conn, decision_id)
        _obeyed_by_all(db, after)
    return after


def decision(db: sqlite3.Connection, decision_id: int) -> Decision:
    """One decision by its number.

    :raises NotFound: there is none.
    """
    found = _decisions(db, "where id = ?", (decision_id,))
    if not found:
        raise NotFound(f"there is no decision {decision_id}; `diaryidx decisions` lists them")
    return found[0]


def decisions(db: sqlite3.Connection) -> list[Decision]:
    """Every decision that was ever made, undone ones too, in the order they were made."""
    return _decisions(db, "order by id")


def trail(db: sqlite3.Connection) -> list[Decision]:
    """Every decision, with the film and the seconds where it is heard now, if its own film is there in another file."""
    here = films(db)
    return [one if one.film in here else _heard_now(db, one, here) for one in decisions(db)]


def version(db: sqlite3.Connection) -> tuple[int, int]:
    """Changes whenever a decision is made or undone."""
    made, undone = db.execute("select coalesce(max(id), 0), count(undone_at) from decisions").fetchone()
    return made, undone


def film_of(db: sqlite3.Connection, recording_id: str) -> str:
    """The content hash of the film that a recording's sentences are of; they are replaced when a file changed."""
    row = db.execute(f"select {_FILM} from recordings where id = ?", (recording_id,)).fetchone()
    if row is None:
        raise NotFound(f"no recording has the id {recording_id!r}; `diaryidx recording` lists them")
    return str(row[0])


def recordings_of(db: sqlite3.Connection, film: str) -> list[str]:
    """The recordings in which a film is heard, wholly or in pieces."""
    rows = db.execute(
        f"""select id from recordings where {_FILM} = :film
             or {_FILM} in (select film from film_pieces where known = :film) order by id""",
        {"film": film},
    )
    return [row[0] for row in rows]


def films(db: sqlite3.Connection) -> dict[str, Recording]:
    """The recordings by the content hashes under which decisions on them are kept."""
    return {film_of(db, one.id): one for one in reading.recordings(db)}


def decisions_on(db: sqlite3.Connection, recording_id: str) -> list[Decision]:
    """The decisions in force on a recording, in its own seconds, in the order they were made.

    One that was made on another film whose sound this one has is told by the stretches in which that is heard.
    """
    film = film_of(db, recording_id)
    pieces = _pieces(db, film)
    films = [film, *{piece.known for piece in pieces}]
    marks = ", ".join("?" * len(films))
    known_jobs = (
        "(json_extract(what, '$.build') is null or json_extract(what, '$.build') in (select job_number from builds))"
    )
    found = _decisions(db, f"where film in ({marks}) and undone_at is null and {known_jobs} order by id", films)
    return [
        replace(one, film=film, start=start, end=end)
        for one in found
        for start, end in ([(one.start, one.end)] if one.film == film else _moved(one, pieces))
    ]


def of_no_film(db: sqlite3.Connection) -> int:
    """How many decisions in force are about films that are not here, in no piece; they are kept until one is."""
    rows = db.execute("select distinct film from decisions where undone_at is null").fetchall()
    gone = [film for (film,) in rows if not recordings_of(db, film)]
    marks = ", ".join("?" * len(gone))
    counted = db.execute(f"select count(*) from decisions where undone_at is null and film in ({marks})", gone)
    return int(counted.fetchone()[0])


def statements_by_segment(db: sqlite3.Connection, recording_id: str | None = None) -> dict[int, int]:
    """How many statements follow each segment, by its row; of one film when given."""
    rows = db.execute(
        """select segment_id, count(*) from statements where follows and (:film is null or recording_id = :film)
           group by segment_id""",
        {"film": recording_id},
    )
    return dict(rows.fetchall())


def doubts(db: sqlite3.Connection, sure: float) -> list[tuple[int, str, float, float, int]]:
    """The segments that a person should look at, without what is in them, so that years of film take no time.

    In doubt is what is about a bike, was not decided by a person, and is tied to no build or less surely than ``sure``.

    :returns: of each its row, recording, start in seconds, certainty of its link, and how many statements follow it.
    """
    stated = statements_by_segment(db)
    rows = db.execute(
        """select id, recording_id, start, case when build is null then 0.0 else certainty end from segments
           where subject_kind = 'build' and (decision is null or certainty < 1.0)
             and (build is null or certainty < ?)""",
        (sure,),
    )
    return [(*row, stated.get(row[0], 0)) for row in rows]


def save_pieces(db: Database, film: str, pieces: Sequence[Piece]) -> None:
    """Say which stretches of other films are heard in this one, and the other way round; all films obey."""
    with writing(db):
        concerned = set(recordings_of(db.conn, film))
        db.execute("delete from film_pieces where film = ? or known = ?", (film, film))
        for one in pieces:
            end = one.known_start + one.end - one.start
            for row in (
                (film, one.start, one.end, one.known, one.known_start),
                (one.known, one.known_start, end, film, one.start),
            ):
                db.execute("insert into film_pieces (film, start, end, known, known_start) values (?, ?, ?, ?, ?)", row)
        concerned.update(recordings_of(db.conn, film))
        for recording_id in concerned if len(concerned) > 1 else ():
            _obeyed(db, recording_id)


def outcomes(db: Database, recording_id: str) -> list[Outcome | None]:
    """What was decided about each segment of a film, in order, with the segments cut so."""
    if not _concerned(db.conn, recording_id):
        return []
    with writing(db):
        return obey_decisions(db, recording_id)


def obey_decisions(db: Database, recording_id: str) -> list[Outcome | None]:
    """Cut the segments of a film as people decided; to be called within a transaction.

    Undecided segments that were not cut again keep the links they had.

    :returns: what was decided about each segment, in order.
    """
    if not _concerned(db.conn, recording_id):
        return []
    decided = decisions_on(db.conn, recording_id)
    stored = reading.segments(db.conn, recording_id=recording_id)
    arranged = obey(
        _topics(db.conn, recording_id),
        _spans(db.conn, recording_id),
        decided,
        lambda first, last: _title(db.conn, recording_id, first, last),
    )
    segments = [_with_link(segment, outcome, stored) for segment, outcome in arranged]
    if [_plain(one) for one in segments] != [_plain(one) for one in stored]:
        replace_segments(db, recording_id, segments)
    return [outcome for _, outcome in arranged]


def replace_segments(db: Database, recording_id: str, segments: Sequence[Segment]) -> None:
    """Put other segments in the place of a film's; its statements go over to them. Within a transaction."""
    old = [row[0] for row in db.execute("select id from segments where recording_id = ?", (recording_id,))]
    for place, segment in enumerate(segments):
        row = db.execute(
            """insert into segments (recording_id, place, start, end, first, last, title, subject_kind, subject_id,
                 build, certainty, evidence, candidates, decision) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)""",
            (recording_id, place, segment.start, segment.end, segment.first, segment.last, segment.title,
             segment.subject.kind, segment.subject.id, segment.build, segment.certainty, _packed(segment.evidence),
             candidates_packed(segment), segment.decision),
        )  # fmt: skip
        db.execute(
            """update statements set segment_id = ? where recording_id = ? and sentence_id in
                 (select id from sentences where recording_id = ? and place between ? and ?)""",
            (row.lastrowid, recording_id, recording_id, segment.first, segment.last),
        )
        tie_statements(db, row.lastrowid or 0, segment)
    db.execute(f"delete from segments where id in ({', '.join('?' * len(old))})", old)


def tie_statements(db: Database, segment_id: int, segment: Segment) -> None:
    """Let the statements of a segment that are about what it is about have its subject and build."""
    db.execute(
        """update statements set build = :build, subject_kind = case when subject_kind is null then null else :kind end,
             subject_id = case when subject_kind is null then subject_id else :subject end
           where segment_id = :segment and follows""",
        {
            "build": segment.build if segment.subject.kind == "build" else None,
            "kind": segment.subject.kind,
            "subject": segment.build if segment.subject.kind == "build" else segment.subject.id,
            "segment": segment_id,
        },
    )


def candidates_packed(segment: Segment) -> str:
    """A segment's candidates as the database keeps them."""
    return _packed(
        [{"job_number": one.job_number, "why": one.why, "certainty": one.certainty} for one in segment.candidates]
    )


def _obeyed_by_all(db: Database, made: Decision) -> None:
    """Let every film that holds the decided stretch obey; links elsewhere may follow from that and are due."""
    for recording_id in recordings_of(db.conn, made.film):
        _obeyed(db, recording_id)


def _obeyed(db: Database, recording_id: str) -> None:
    obey_decisions(db, recording_id)
    db.execute("update recordings set links_due = 1 where id = ?", (recording_id,))


def _with_link(segment: Segment, outcome: Outcome | None, stored: Sequence[Segment]) -> Segment:
    """A segment with what it may be about, and an undecided one with its link as before, or as a longer one had."""
    was = next((one for one in stored if one.first <= segment.first <= one.last), None)
    if was is None or (outcome is None and segment.subject.kind != "build"):
        return segment
    refused = outcome.refused if outcome is not None else frozenset()
    segment = replace(segment, candidates=tuple(one for one in was.candidates if one.job_number not in refused))
    if segment.build is not None or segment.subject.kind != "build":
        return segment
    if was.decision is not None and was.build is not None:
        return segment  # that was a person's word, which holds no more
    build = None if was.build in refused else was.build
    return replace(
        segment,
        subject=Subject("build", build),
        build=build,
        certainty=was.certainty if build == was.build else 0.0,
        evidence=was.evidence if build == was.build else (),
    )


def _heard_now(db: sqlite3.Connection, one: Decision, here: Collection[str]) -> Decision:
    rows = db.execute("select distinct film from film_pieces where known = ? order by film", (one.film,))
    for film in [row[0] for row in rows if row[0] in here]:
        for start, end in _moved(one, _pieces(db, film)):
            return replace(one, film=film, start=start, end=end)
    return one


def _moved(one: Decision, pieces: Sequence[Piece]) -> Iterator[tuple[float, float]]:
    """Where a decision on another film holds in this one, in this one's seconds."""
    parts: list[tuple[float, float]] = []
    for piece in sorted((piece for piece in pieces if piece.known == one.film), key=lambda piece: piece.start):
        shift = piece.start - piece.known_start
        start, end = max(one.start + shift, piece.start), min(one.end + shift, piece.end)
        if start > end or (start == end and one.kind != "split"):
            continue
        if parts and start - parts[-1][1] <= CLOSE:
            parts[-1] = parts[-1][0], end
        else:
            parts.append((start, end))
    least = 0.0 if one.kind == "split" else min(SHORTEST_REST, (one.end - one.start) / 2)
    yield from (part for part in parts if part[1] - part[0] >= least)


def _pieces(db: sqlite3.Connection, film: str) -> list[Piece]:
    rows = db.execute("select start, end, known, known_start from film_pieces where film = ?", (film,))
    return [Piece(*row) for row in rows]


def _concerned(db: sqlite3.Connection, recording_id: str) -> bool:
    """Whether anything was ever decided about a film, or about another one that is heard in it."""
    found = db.execute(
        f"""select exists (select 1 from recordings join decisions d on d.film = {_FILM}
               or d.film in (select known from film_pieces where film = {_FILM}) where recordings.id = ?)""",
        (recording_id,),
    ).fetchone()
    return bool(found[0])


def _topics(db: sqlite3.Connection, recording_id: str) -> list[Segment]:
    rows = db.execute(
        """select first, last, title, subject_kind, subject_id, certainty from topics where recording_id = ?
           order by place""",
        (recording_id,),
    )
    return [Segment(0.0, 0.0, row[0], row[1], row[2], Subject(row[3], row[4]), certainty=row[5]) for row in rows]


def _spans(db: sqlite3.Connection, recording_id: str) -> list[Span]:
    rows = db.execute("select start, end from sentences where recording_id = ? order by place", (recording_id,))
    return [(row[0], row[1]) for row in rows]


def _title(db: sqlite3.Connection, recording_id: str, first: int, last: int) -> str:
    """A title for sentences that the machine did not cut so."""
    from diaryidx.builds.topics import title_of  # only here, since it takes a while to load

    return title_of(one for one in reading.mentions(db, recording_id) if first <= one.sentence <= last)


def _plain(segment: Segment) -> Segment:
    """A segment without its row number and film, to be compared."""
    return replace(segment, id=None, recording=None)


def _decisions(db: sqlite3.Connection, rest: str, parameters: Sequence[Any] = ()) -> list[Decision]:
    cursor = db.execute(f"select * from decisions {rest}", parameters)
    names = [column[0] for column in cursor.description]
    rows = [dict(zip(names, row, strict=True)) for row in cursor]
    return [
        Decision(**{**row, "what": json.loads(row["what"]), "evidence": json.loads(row["evidence"])}) for row in rows
    ]


def _packed(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
