"""Films of an invented shop as if they had been heard, to teach corrections on."""

from __future__ import annotations

from collections.abc import Sequence

from sqlite_utils import Database

from diaryidx.builds.relinking import relink
from diaryidx.records import Build, Sentence, Word
from diaryidx.shop import Shop
from diaryidx.store import reading, writing
from diaryidx.store.writing import RecordingRow
from diaryidx.understanding import put_right, understand, understanding_of

BOOK = (
    Build("31", "Wilmot Garth", "Ostrel", "Plover 600", nickname="Brackwater", asked_for="red tank"),
    Build("32", "Ena Tolley", "Ostrel", "Dabchick 250", asked_for="new loom"),
)
JUNE = (
    "this month we begin with the bracket water",
    "the tank is off and it's at the painter",
    "then the dabchick",
    "the loom is done",
    "bracket, Water's seat is back",
)
JULY = ("a new bracket for the water pump", "we fitted the tank to the Bracket-water", "the fork yolks are polished")
AUGUST = ("nothing happened in august", "we painted a frame")


def heard_line(text: str, place: int) -> Sentence:
    """A line as an engine hears it: two seconds long, its words evenly spread."""
    words = text.split()
    start = 2.0 * place
    times = [round(start + 2.0 * number / len(words), 3) for number in range(len(words) + 1)]
    spoken = tuple(Word(word, times[number], times[number + 1], 0.8) for number, word in enumerate(words))
    return Sentence(start, start + 2.0, text, text, spoken, certainty=0.8)


def save_film(shop: Shop, db: Database, name: str, date: str, lines: Sequence[str]) -> None:
    """A film with these lines, understood and stored as an index does it, but not yet tied to builds."""
    row = RecordingRow(
        name, f"{name}.webm", 1, 1, name, name, "diary", date, "file name", date[:7], 2.0 * len(lines), True, "vosk:m"
    )
    writing.save_recording(db, row)
    understanding = understanding_of(shop, db, reading.builds(db.conn))
    sentences = put_right(understanding, [heard_line(line, place) for place, line in enumerate(lines)], date)
    read = understand(understanding, reading.recording(db.conn, name), sentences)
    writing.save_reading(db, name, sentences, read, reading_key="key", decision=understanding.decision)


def save_archive(shop: Shop, db: Database) -> None:
    """Three films and a job book."""
    writing.save_builds(db, BOOK)
    save_film(shop, db, "june", "2026-06-02", JUNE)
    save_film(shop, db, "july", "2026-07-02", JULY)
    save_film(shop, db, "august", "2026-08-02", AUGUST)
    relink(db)


def texts(db: Database, name: str) -> list[str]:
    """What is meant in a film, line by line."""
    return [sentence.text for sentence in reading.sentences(db.conn, name)]


def everything_said(db: Database) -> dict[str, list[tuple[object, ...]]]:
    """All that is stored of what was said, but for the row numbers, which a film gets anew when it is read again."""
    asked = {
        "sentences": "select recording_id, place, start, heard, text, terms, repairs, words from sentences",
        "segments": "select recording_id, place, title, build, certainty, evidence, subject_id from segments",
        "statements": "select recording_id, start, text, part, status, build, certainty, task, rule from statements",
        "mentions": """select s.recording_id, s.place, m.label, m.text, m.canonical, m.start_char, m.value
                       from mentions m join sentences s on s.id = m.sentence_id""",
        "entries": "select recording_id, start, question, answer from entries",
    }
    return {name: sorted(db.execute(sql).fetchall(), key=repr) for name, sql in asked.items()}
