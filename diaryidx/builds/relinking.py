"""Ties the topics of every film to builds again, after anything changed that the links rest on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import groupby

from sqlite_utils import Database

from diaryidx.builds.linking import link
from diaryidx.builds.voice_notes import tie_voice_note
from diaryidx.records import Build, Recording, Segment, Statement
from diaryidx.store import decisions, reading, writing

#: How often all films are tied again because a person decided meanwhile; then the next index does it.
MOST_ROUNDS = 5


def relink(db: Database) -> None:
    """Tie the segments of every film to builds again, oldest film first, since each one knows what was said before.

    Films of one day do not know of each other, and a film without a date knows of none. What people decided is a fact.
    Only links that changed are written.
    """
    for _ in range(MOST_ROUNDS):
        version = decisions.version(db.conn)
        _relink_all(db)
        if writing.forget_links_due(db, version):
            break


def _relink_all(db: Database) -> None:
    builds = reading.builds(db.conn)
    films = sorted(reading.recordings(db.conn), key=lambda film: (film.date or "", film.id))
    earlier: list[Statement] = []
    for date, same_day in groupby(films, key=lambda film: film.date):
        said = [one for film in same_day for one in _relink_film(db, film, builds, earlier if date else [])]
        if date:
            earlier += said


def relink_films(db: Database, recording_ids: Collection[str]) -> None:
    """Tie the segments of some films to builds again, by what the films before them say as they are tied now.

    What later films are tied to may rest on these; that is left to `relink`, which looks at every film.
    """
    builds = reading.builds(db.conn)
    films = sorted(reading.recordings(db.conn), key=lambda film: (film.date or "", film.id))
    said: dict[str | None, list[Statement]] = {}
    for statement in reading.statements(db.conn, tied=True):
        said.setdefault(statement.recording, []).append(statement)
    for film in [film for film in films if film.id in recording_ids]:
        before = [one.id for one in films if one.date and film.date and one.date < film.date]
        earlier = [statement for name in before for statement in said.get(name, ())]
        said[film.id] = [one for one in _relink_film(db, film, builds, earlier) if one.build is not None]


def _relink_film(
    db: Database, film: Recording, builds: Sequence[Build], earlier: Sequence[Statement]
) -> list[Statement]:
    """Tie the segments of one film.

    :returns: its statements with the builds that they are tied to now.
    """
    version = decisions.version(db.conn)
    outcomes = decisions.outcomes(db, film.id)
    segments = reading.segments(db.conn, recording_id=film.id)
    statements = reading.statements(db.conn, recording_id=film.id)
    mentions = reading.mentions(db.conn, film.id)
    sentences = reading.sentences(db.conn, film.id)
    linked = link(film, segments, sentences, mentions, statements, builds, earlier, outcomes)
    linked = tie_voice_note(film, linked, builds, outcomes)
    changed = [new for new, old in zip(linked, segments, strict=True) if new != old]
    if changed:
        writing.save_links(db, film.id, changed, version)
    return [_tied(statement, linked) for statement in statements]


def _tied(statement: Statement, segments: Sequence[Segment]) -> Statement:
    """A statement with the build of its segment, as `store.writing.save_links` ties it."""
    about_a_build = statement.subject is None or statement.subject.kind == "build"
    if statement.segment is None or not about_a_build or statement.status == "usual practice":
        return statement
    return replace(statement, build=segments[statement.segment].build)
