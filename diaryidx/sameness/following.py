"""A film that is known again by its sound: what people decided about it follows, moved to where it is heard now."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlite_utils import Database

from diaryidx.media.decode import decode_blocks
from diaryidx.sameness.alignment import GLANCE, Shared, hashes, may_share, shared
from diaryidx.sameness.landmarks import METHOD, Ear, Landmarks, packed, unpacked
from diaryidx.store import decisions, reading, sounds
from diaryidx.store.decisions import Piece
from diaryidx.store.sounds import KnownFilm

#: Two films are related when so many seconds of them are the same, or this share of the shorter one: more than a
#: jingle that many films begin with (our own choice).
LEAST_SECONDS, LEAST_SHARE = 30.0, 0.5
#: A film is the known one, in another file, when so much of it and so much of the known one are the same.
SAME_OF_NEW, SAME_OF_KNOWN = 0.8, 0.6
#: What a person said about a film that holds for one that was cut from it, too.
FOLLOWING_FIELDS = ("date", "month", "kind")


@dataclass(frozen=True, slots=True)
class Likeness:
    """A known film that is heard in a new one: in which stretches, and what shares of both films these are."""

    film: str
    stretches: tuple[Shared, ...]
    of_new: float
    of_known: float


def listen(path: Path) -> Landmarks:
    """How a film sounds.

    :raises MediaError: it cannot be decoded.
    """
    ear = Ear()
    for block in decode_blocks(path):
        ear.hear(block)
    return ear.landmarks()


def likenesses(db: Database, film: str, landmarks: Landmarks) -> list[Likeness]:
    """The films that are heard in this one, the likest first."""
    glance, whole = hashes(landmarks, GLANCE), hashes(landmarks)
    found: list[Likeness] = []
    for known in sounds.known_films(db.conn, METHOD):
        if known.film == film:
            continue
        other = unpacked(known.sound, known.duration)
        if may_share(glance, hashes(other, GLANCE)):
            found += _related(known, shared(whole, hashes(other)), landmarks.seconds)
    return sorted(found, key=lambda one: -one.of_new)


def remember(db: Database, film: str, title: str, landmarks: Landmarks) -> list[Likeness]:
    """Keep how a film sounds, and which stretches of it are those of other films, so that decisions follow.

    :param film: its content hash.
    :returns: the films that are heard in it, the likest first.
    """
    found = likenesses(db, film, landmarks)
    sounds.save_known_film(db, KnownFilm(film, landmarks.seconds, packed(landmarks)), title, METHOD)
    decisions.save_pieces(db, film, [piece for one in found for piece in _pieces(one)])
    return found


def known_as(db: Database, recording_id: str, found: list[Likeness], is_there: Callable[[str], bool]) -> str:
    """The id by which a new recording is to be known: that of the same film whose file is gone, else its own.

    What a person said about the date, month and kind of a film from which it was cut holds for it, too.

    :param is_there: whether the file of a recording is there, by its stored path.
    """
    files = {file.content_hash: file for file in reading.recording_files(db.conn)}
    for one in found:
        file = files.get(one.film)
        if file is None or file.id == recording_id:
            continue
        if one.of_new >= SAME_OF_NEW and one.of_known >= SAME_OF_KNOWN and not is_there(file.path):
            sounds.take_over(db, recording_id, file.id)
            return file.id
        if one.of_new >= LEAST_SHARE:
            sounds.copy_corrections(db, recording_id, file.id, FOLLOWING_FIELDS)
            break
    return recording_id


def _related(known: KnownFilm, stretches: list[Shared], seconds: float) -> Iterator[Likeness]:
    together = sum(one.seconds for one in stretches)
    if stretches and together >= min(LEAST_SECONDS, LEAST_SHARE * min(seconds, known.duration)):
        yield Likeness(known.film, tuple(stretches), together / seconds, min(together / known.duration, 1.0))


def _pieces(one: Likeness) -> Iterator[Piece]:
    for stretch in one.stretches:
        yield Piece(stretch.start, stretch.end, one.film, stretch.other_start)
