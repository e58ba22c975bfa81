"""A shop whose one film shows twelve bikes with few words, so that the linker itself is in doubt about each of them."""

from __future__ import annotations

from pathlib import Path

from diaryidx.builds.relinking import relink
from diaryidx.records import Build, Reading, Segment, Sentence, Statement, Subject, Word
from diaryidx.shop import Shop
from diaryidx.store import writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from tests.site.seeded_shop import FILM_SECONDS, empty_shop, make_film

WALK = "walk-round"
#: Parts, each asked for at two bikes: what is said of one fits both.
PARTS = ("seat", "horn", "stand", "mirror", "battery", "chain guard")
BOOK = [
    Build("201", "Ada Quill", "Tarnbeck", "Otter 500", colour="bronze", registration="QX21 ABC",
          asked_for="seat, horn, stand", nickname="Bramble"),
    Build("202", "Bo Thistle", "Orrin", "Heron 900", colour="grey", asked_for="seat, horn, stand"),
    Build("203", "Cleo Wainfleet", "Fell & Moss", "Stoat", colour="red", asked_for="mirror, battery, chain guard"),
    Build("204", "Dov Amble", "Tarnbeck", "Otter 650", colour="green", asked_for="mirror, battery, chain guard"),
]  # fmt: skip
ITEMS = 2 * len(PARTS)


def doubtful_shop(folder: Path, film: bool = True) -> Shop:
    """The shop, its film indexed and linked."""
    shop = empty_shop(folder)
    if film:
        make_film(shop.recordings / "walk.webm")
    db = open_store(shop.database)
    writing.save_builds(db, BOOK)
    row = RecordingRow(WALK, "walk.webm", 1, 1, "hash of walk", "Walk-round", "diary", "2025-02-27", "file name",
                       "2025-02", float(FILM_SECONDS), True)  # fmt: skip
    writing.save_recording(db, row)
    sentences, segments, statements = [], [], []
    for number in range(ITEMS):
        part, start = PARTS[number % len(PARTS)], 2.0 * number
        verb = "fitted" if number < len(PARTS) else "ordered"
        for words, begin in ((f"then there is this one number {number}", start), (f"we {verb} the {part}", start + 1)):
            heard = tuple(Word(word, begin, begin + 0.9, 0.9) for word in words.split())
            sentences.append(Sentence(begin, begin + 0.9, words, words, heard, (), 0.9))
        segments.append(Segment(start, start + 1.9, 2 * number, 2 * number + 1, f"the {part}", Subject("build")))
        status = "done" if verb == "fitted" else "waiting"
        statements.append(
            Statement(status, f"we {verb} the {part}", part, task="fit", certainty=0.9, subject=Subject("build"),
                      sentence=2 * number + 1, segment=number, start=start + 1, end=start + 1.9)
        )  # fmt: skip
    reading = Reading(kind="diary", segments=tuple(segments), statements=tuple(statements))
    writing.save_reading(db, WALK, sentences, reading, reading_key="k", engine="vosk:mini")
    relink(db)
    db.close()
    return shop
