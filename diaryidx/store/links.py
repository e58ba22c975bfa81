"""What links were made from, so that only films whose links may change are tied to builds again."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from sqlite_utils import Database

from diaryidx.film_records import Remarks
from diaryidx.records import Reading, Segment, Subject
from diaryidx.store import decisions, reading
from diaryidx.store.database import writing
from diaryidx.store.writing import tie_segments


@dataclass(frozen=True, slots=True)
class LinkState:
    """What a film gave to later ones when it was tied last, and what it may be touched by.

    ``said`` is a digest of what it says of each build, ``walk`` the builds in the order in which it shows them.
    ``named`` are builds it names though they were not to be expected, ``codes`` the numbers and plates that it says.
    """

    date: str | None
    said: Mapping[str, str] = field(default_factory=dict)
    walk: tuple[str, ...] = ()
    named: tuple[str, ...] = ()
    codes: frozenset[str] = frozenset()


#: The row of ``link_basis`` that says of which films references to films were settled last.
_REFERENCES = "references to films"
#: What is to be done with a film whose ``links_due`` says so.
TIE, CUT = 1, 2


@dataclass(frozen=True, slots=True)
class Basis:
    """One thing that links rest on: a build's row or the shop's words. Dates are those between which it is met.

    Topics rest on ``cuts``, the first word of ``fingerprint``; links on all of it.
    """

    what: str
    fingerprint: str
    date_in: str | None = None
    date_out: str | None = None

    @property
    def cuts(self) -> tuple[str, str | None, str | None]:
        """What the topics of films rest on."""
        return self.fingerprint.split(" ")[0], self.date_in, self.date_out


def states(db: sqlite3.Connection) -> dict[str, LinkState]:
    """The state of every film that was tied, by its recording."""
    rows = db.execute("select recording_id, date, said, walk, named, codes from link_states")
    return {
        row[0]: LinkState(
            row[1], json.loads(row[2]), tuple(json.loads(row[3])), tuple(json.loads(row[4])), frozenset(row[5].split())
        )
        for row in rows
    }


def basis(db: sqlite3.Connection) -> dict[str, Basis]:
    """What the links rested on when films were last marked for it, by its name."""
    rows = db.execute("select what, fingerprint, date_in, date_out from link_basis where what != ?", (_REFERENCES,))
    return {row[0]: Basis(*row) for row in rows}


def films_due(db: sqlite3.Connection, least: int = TIE) -> set[str]:
    """The films that are to be tied again; with `CUT`, those that are to be cut first."""
    return {row[0] for row in db.execute("select id from recordings where links_due >= ?", (least,))}


def talk(db: sqlite3.Connection, recording_id: str) -> Reading | None:
    """What of a film's reading its topics rest on: as its segments, those cut by talk alone; None where none are kept.

    Its statements are as they are stored now.
    """
    rows = db.execute(
        """select t.first, t.last, t.title, t.subject_kind, t.subject_id, t.certainty, f.start, l.end, r.read_as
           from talk_topics t join recordings r on r.id = t.recording_id
             join sentences f on f.recording_id = t.recording_id and f.place = t.first
             join sentences l on l.recording_id = t.recording_id and l.place = t.last
           where t.recording_id = ? order by t.place""",
        (recording_id,),
    ).fetchall()
    if not rows:
        return None
    topics = [
        Segment(start, end, first, last, title, Subject(kind, subject), certainty=certainty)
        for first, last, title, kind, subject, certainty, start, end, _ in rows
    ]
    return Reading(
        kind=rows[0][-1],
        mentions=tuple(reading.mentions(db, recording_id)),
        segments=tuple(topics),
        statements=tuple(reading.statements(db, recording_id=recording_id)),
        entries=tuple(reading.entries(db, recording_id=recording_id)),
        remarks=Remarks(asides=tuple(reading.asides(db, recording_id))),
    )


def topics(db: sqlite3.Connection, recording_id: str) -> list[tuple[int, int, str, Subject, float]]:
    """The topics of a film as the machine cut them: first and last sentence, title, subject, certainty."""
    rows = db.execute(
        """select first, last, title, subject_kind, subject_id, certainty from topics where recording_id = ?
           order by place""",
        (recording_id,),
    )
    return [(first, last, title, Subject(kind, subject), sure) for first, last, title, kind, subject, sure in rows]


def films_saying(db: sqlite3.Connection, names: Iterable[str]) -> set[str]:
    """The films in which any of some names is said, word for word."""
    phrases = " OR ".join(f'"{name}"' for name in sorted(names) if name)
    if not phrases:
        return set()
    rows = db.execute(
        """select distinct s.recording_id from sentences_fts f join sentences s on s.id = f.rowid
           where sentences_fts match ?""",
        (phrases,),
    )
    return {row[0] for row in rows}


def films_as_known(db: sqlite3.Connection) -> str:
    """Changes whenever films are added, read again or corrected, and with the titles of their topics."""
    digest = hashlib.sha256()
    for sql in (
        "select id, title, kind, date, month, indexed_at from recordings order by id",
        "select * from recording_corrections order by recording_id, field",
        "select count(*), max(id) from film_references",
        "select count(*), max(id) from mentions",
        "select recording_id, title from segments where subject_kind in ('tutorial', 'product', 'development')",
    ):
        digest.update(repr(db.execute(sql).fetchall()).encode())
    return digest.hexdigest()[:16]


def references_settled(db: sqlite3.Connection) -> str | None:
    """`films_as_known` when references to films were settled last."""
    row = db.execute("select fingerprint from link_basis where what = ?", (_REFERENCES,)).fetchone()
    return row[0] if row else None


def settle_references(db: Database, known: str) -> None:
    """Keep of which films references were settled."""
    with writing(db):
        db.execute("insert or replace into link_basis (what, fingerprint) values (?, ?)", (_REFERENCES, known))


def rest_on(db: Database, things: Sequence[Basis], due: Iterable[str], to_cut: Iterable[str]) -> None:
    """Keep what links rest on from now on, and mark the films that are to be tied again for it, or cut again too."""
    with writing(db):
        db.execute("delete from link_basis where what != ?", (_REFERENCES,))
        rows = [(one.what, one.fingerprint, one.date_in, one.date_out) for one in things]
        db.conn.executemany("insert into link_basis (what, fingerprint, date_in, date_out) values (?, ?, ?, ?)", rows)
        _mark(db, due)
        _mark(db, to_cut, CUT)


def save(
    db: Database,
    recording_id: str,
    segments: Sequence[Segment],
    state: LinkState,
    later: Iterable[str],
    version: tuple[int, int],
) -> bool:
    """Keep the links of one film and mark later films that may follow from them.

    :param segments: those of which anything changed.
    :param version: that of the decisions which the links follow.
    :returns: False where a person has decided since; then nothing is written.
    """
    with writing(db):
        if decisions.version(db.conn) != version:
            return False
        tie_segments(db, recording_id, segments)
        db.execute(
            """insert or replace into link_states (recording_id, date, said, walk, named, codes)
               values (?, ?, ?, ?, ?, ?)""",
            (recording_id, state.date, json.dumps(state.said), json.dumps(state.walk), json.dumps(state.named),
             " ".join(sorted(state.codes))),
        )  # fmt: skip
        db.execute("update recordings set links_due = 0 where id = ?", (recording_id,))
        _mark(db, later)
        return True


def _mark(db: Database, films: Iterable[str], due: int = TIE) -> None:
    rows = [(due, film) for film in films]
    db.conn.executemany("update recordings set links_due = max(links_due, ?) where id = ?", rows)
