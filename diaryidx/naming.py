"""The names of the job book in films: a new or changed row has only those films read again that may say it.

A film is put right with the names that the shop knew on its day (`understanding.known_on`), and read with all names. So
a changed row can change a film in two ways: its names are among the words that are meant in it, which the full-text
index tells; or the film is of a day on which the shop knew the row, old or new, and something in it sounds like a name.
Those films are marked together with the names that all films know from then on; what a killed program left undone, the
next index does. Nothing is heard again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from sqlite_utils import Database

from diaryidx.builds.dates import first_day, met_from
from diaryidx.records import Build
from diaryidx.store import names, reading, writing
from diaryidx.store.names import READ
from diaryidx.understanding import Understanding, put_right, understand
from diaryidx.vocabulary.loader import Term, Vocabulary


def follow_names(
    db: Database, understanding: Understanding, key: str, on_film: Callable[[int, int], None] | None = None
) -> list[str]:
    """Bring what films say up to the names of the job book that an understanding has; each film in one transaction.

    Only for a program that is alone in the shop. Films that are to be read again for another reason are left to that.

    :param key: the reading key of films that are up to date but for names.
    :param on_film: told before each film that is looked at which one it is, from 1, and of how many.
    :returns: the films that were read again and are to be tied to builds again.
    """
    mark_names(db, understanding)
    due, read = names.films_due(db.conn, key), []
    for number, (recording_id, what) in enumerate(due.items(), start=1):
        if on_film is not None:
            on_film(number, len(due))
        if _follow(db, understanding, key, recording_id, must_read=what == READ):
            read.append(recording_id)
    return read


def mark_names(db: Database, understanding: Understanding) -> None:
    """Mark the films in which names may be said that differ from those that films know, and keep the names."""
    before, now = names.known(db.conn), [names.names_of(build) for build in understanding.builds]
    if before == now:
        return
    changed = {one for one in (*before, *now) if (one in before) != (one in now)}
    phrases = changed_phrases(understanding.load(before), understanding.load(now))
    names.know(db, now, _on_days(db, changed), names.films_meaning(db.conn, phrases))


def changed_phrases(before: Vocabulary, now: Vocabulary) -> set[str]:
    """The phrases that mean something else in one vocabulary than in another, or nothing."""
    found: set[str] = set()
    for one, two in ((before.phrases, now.phrases), (before.other_readings, now.other_readings)):
        for phrase in one.keys() | two.keys():
            if _meaning(one.get(phrase)) != _meaning(two.get(phrase)):
                found.add(phrase)
    return found


def _meaning(term: Term | None) -> tuple[str | None, ...]:
    """All of a term that its sentences are read by; whose bikes have the name matters only when films are tied."""
    return (term.canonical, term.label, term.sort, term.origin) if term else ()


def _on_days(db: Database, changed: Iterable[Build]) -> list[str]:
    """The films of days on which the shop knew any of some rows."""
    since = min((met_from(build.date_in) for build in changed), default=None)
    dates = reading.film_dates(db.conn)
    return [film for film, day in dates.items() if since and ((filmed := first_day(day)) is None or filmed >= since)]


def _follow(db: Database, understanding: Understanding, key: str, recording_id: str, *, must_read: bool) -> bool:
    """Put a film right again and read it again where that changes a word, or where it must be."""
    film = reading.recording(db.conn, recording_id)
    stored = reading.sentences(db.conn, recording_id)
    sentences = put_right(understanding, stored, film.date)
    if not must_read and [one.text for one in sentences] == [one.text for one in stored]:
        surer = [now for now, before in zip(sentences, stored, strict=True) if now.repairs != before.repairs]
        names.follow(db, recording_id, surer)  # with more names to choose from each repair is a little less sure
        return False
    read = understand(understanding, film, sentences)
    writing.save_reading(db, recording_id, sentences, read, reading_key=key, decision=understanding.decision)
    return True
