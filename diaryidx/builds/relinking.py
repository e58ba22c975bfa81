"""Ties the topics of every film to builds again, after anything changed that the links rest on."""

from __future__ import annotations

from sqlite_utils import Database

from diaryidx.builds.linking import link
from diaryidx.store import reading, writing


def relink(db: Database) -> None:
    """Tie the segments of every film to builds again, oldest film first, since each one knows what was said before."""
    builds = reading.builds(db.conn)
    for film in sorted(reading.recordings(db.conn), key=lambda film: (film.date or "", film.id)):
        segments = reading.segments(db.conn, recording_id=film.id)
        linked = link(
            film,
            segments,
            reading.sentences(db.conn, film.id),
            reading.mentions(db.conn, film.id),
            reading.statements(db.conn, recording_id=film.id),
            builds,
            reading.statements(db.conn, before=film.date) if film.date else [],
        )
        writing.save_links(db, film.id, linked)
