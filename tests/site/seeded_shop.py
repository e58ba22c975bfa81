"""A small made-up shop for the site's tests: real films made here, and a database written by the store itself."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from sqlite_utils import Database

from diaryidx.builds.film_references import refresh_references
from diaryidx.film_records import (
    Aside,
    CustomerPart,
    FilmReference,
    Need,
    Pointing,
    Remarks,
    Step,
    StepWarning,
    Torque,
)
from diaryidx.records import (
    Build,
    Entry,
    Event,
    Mention,
    ProductLine,
    Promise,
    Reading,
    Repair,
    Segment,
    Sentence,
    Statement,
    Subject,
    Word,
)
from diaryidx.shop import Shop, load_shop
from diaryidx.store import writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow

#: The film's picture is grey, and its shade tells the second: so a test can see which moment a player really shows.
SHADE_STEP = 9
FILM_SECONDS = 24
DIARY, LATER_DIARY, TUTORIAL, NOTE = "diary-february", "diary-march", "front-brake-pads", "bench-note-41"
CUSTOMER, VIN, REGISTRATION = "Odo Fennimore", "JH2RC4407LM000141", "XA41 BCD"


@dataclass(frozen=True)
class Said:
    """A line of a script: when, and the words."""

    start: float
    end: float
    words: str
    certainty: float = 0.93
    repairs: tuple[Repair, ...] = ()
    heard: str | None = None


def make_film(path: Path, seconds: int = FILM_SECONDS, picture: bool = True) -> Path:
    """A film with VP8 and Opus: each second another shade of grey (16 + second * `SHADE_STEP`) and another tone."""
    path.parent.mkdir(parents=True, exist_ok=True)
    times = np.arange(48000) / 48000
    with av.open(str(path), "w") as container:
        sound = container.add_stream("libopus", rate=48000)
        sound.layout = "mono"
        if picture:
            video = container.add_stream("libvpx", rate=10)
            video.width, video.height, video.pix_fmt = 160, 90, "yuv420p"
            video.options = {"deadline": "realtime", "cpu-used": "8", "g": "10"}
        for second in range(seconds):  # second by second, so that sound and picture lie side by side in the file
            for number in range(second * 10, second * 10 + 10) if picture else ():
                frame = av.VideoFrame(160, 90, "yuv420p")
                for place, plane in enumerate(frame.planes):
                    plane.update(bytes([16 + second * SHADE_STEP if place == 0 else 128]) * plane.buffer_size)
                frame.pts, frame.time_base = number, Fraction(1, 10)
                container.mux(video.encode(frame))
            tone = (3000 * np.sin(2 * np.pi * (220 + 20 * second) * times)).astype(np.int16)
            audio = av.AudioFrame.from_ndarray(tone.reshape(1, -1), format="s16", layout="mono")
            audio.sample_rate, audio.pts, audio.time_base = 48000, second * 48000, Fraction(1, 48000)
            container.mux(sound.encode(audio))
        if picture:
            container.mux(video.encode(None))
        container.mux(sound.encode(None))
    return path


def empty_shop(folder: Path, model: str = "mini") -> Shop:
    """A shop with nothing in it."""
    (folder / "recordings").mkdir(parents=True)
    (folder / "shop.toml").write_text(f'name = "Quillmark Cycles"\n[speech]\nmodel = "{model}"\n', encoding="utf-8")
    return load_shop(folder)


def seeded_shop(folder: Path, films: bool = True) -> Shop:
    """A shop with three builds and four recordings; without the media files when ``films`` is False."""
    shop = empty_shop(folder)
    if films:
        film = make_film(shop.recordings / "diary" / "february.webm")
        shutil.copy(film, shop.recordings / "diary" / "march.webm")
        shutil.copy(film, shop.recordings / "pads.webm")
        make_film(shop.recordings / "note.ogg", seconds=6, picture=False)
    db = open_store(shop.database)
    writing.save_builds(db, BUILDS)
    _save_diary(db)
    _save_later_diary(db)
    _save_tutorial(db)
    _save_note(db)
    writing.save_failure(db, "broken.mp4", 12, 1, "broken.mp4: this is no film; put back a good copy")
    refresh_references(db)
    db.close()
    return shop


BUILDS = (
    Build("41", CUSTOMER, "Marlowe", "Curlew", "1998", REGISTRATION, VIN, "bronze", None, "2025-01-13", "2025-05-01",
          None, "in work", "quilted seat in tan; slimmer loom", False),
    Build("J/17.b", "Ida Brask", "Hartnell", "Dunlin", "2004", None, None, "grey", "the Heron", "2025-02-03"),
    Build("30", "Per Amsel", "Tansy & Rook", "Petrel", "1986", date_in="2024-05-01", date_out="2025-01-20",
          state="collected"),
)  # fmt: skip


def _sentences(lines: tuple[Said, ...]) -> list[Sentence]:
    return [
        Sentence(
            line.start,
            line.end,
            line.heard or line.words,
            line.words,
            tuple(Word(word, line.start, line.end, line.certainty) for word in (line.heard or line.words).split()),
            line.repairs,
            line.certainty,
        )
        for line in lines
    ]


def _row(film: str, path: str, title: str, kind: str, date: str, month: str, picture: bool = True) -> RecordingRow:
    seconds = float(FILM_SECONDS if picture else 6)
    return RecordingRow(film, path, 1, 1, f"hash of {film}", title, kind, date, "file name", month, seconds, picture)


def _of(job: str) -> Subject:
    return Subject("build", job)


FEBRUARY = (
    Said(0.5, 3.0, "welcome back to the diary for february"),
    Said(3.2, 6.9, "first of all the curlew the front brake caliper is done",
         repairs=(Repair("calli per", "caliper", 0.9),),
         heard="first of all the curlew the front brake calli per is done"),
    Said(7.1, 10.0, "we are waiting for the seat from kestrel yard"),
    Said(10.2, 13.0, "the mirrors might be going on next month", 0.41),
    Said(13.2, 17.0, "next up the heron and the loom is still to be made"),
    Said(17.2, 20.0, "<b>right</b> & that is all we have"),
)  # fmt: skip


def _save_diary(db: Database) -> None:
    writing.save_recording(
        db, _row(DIARY, "diary/february.webm", "Build diary, February", "diary", "2025-02-27", "2025-02")
    )
    reading = Reading(
        kind="diary",
        mentions=(Mention("PART", "front brake caliper", "caliper", 1, 27, 46),),
        segments=(
            Segment(3.2, 13.0, 1, 3, "the curlew", _of("41"), "41", 0.92, ("said “curlew”",)),
            Segment(13.2, 17.0, 4, 4, "the heron", _of("J/17.b"), "J/17.b", 0.44, ("said “heron”",)),
        ),
        statements=(
            Statement("done", FEBRUARY[1].words, "caliper", side="front", task="fit", certainty=0.9, subject=_of("41"),
                      build="41", sentence=1, segment=0, start=3.2, end=6.9, who="Tove"),
            Statement("waiting", FEBRUARY[2].words, "seat", finish="tan", supplier="Kestrel Yard", certainty=0.98,
                      subject=_of("41"), build="41", sentence=2, segment=0, start=7.1, end=10.0),
            Statement("planned", FEBRUARY[3].words, "mirror", side="both", certainty=0.31, subject=_of("41"),
                      build="41", sentence=3, segment=0, start=10.2, end=13.0),
            Statement("planned", FEBRUARY[4].words, "wiring loom", certainty=0.7, subject=_of("J/17.b"),
                      build="J/17.b", sentence=4, segment=1, start=13.2, end=17.0),
        ),
        promises=(Promise("we will show the heron finished in april", 13.2, 17.0, "2025-04", 0.8),),
        remarks=Remarks(
            pointings=(Pointing("this one here", 4.63, 1, "caliper"),),
            customer_parts=(
                CustomerPart("supplied", "caliper", FEBRUARY[1].words, 3.4, 5.0, 1),
                CustomerPart("copied", "seat", FEBRUARY[2].words, 7.2, 9.0, 2, "the one on his last bike", 0.6),
                CustomerPart("supplied", "mirror", FEBRUARY[3].words, 10.3, 12.0, 3, None, 0.4),
            ),
        ),
    )  # fmt: skip
    writing.save_reading(db, DIARY, _sentences(FEBRUARY), reading, reading_key="k", engine="vosk:mini")


def _save_later_diary(db: Database) -> None:
    lines = (
        Said(0.4, 4.0, "the curlew has its tank in satin black now"),
        Said(4.2, 8.0, "the open day is on the twelfth of april at the yard"),
        Said(8.2, 12.0, "new this month a brass filler cap for about forty pounds"),
        Said(12.2, 16.0, "the front brake caliper has to be fitted"),
    )
    writing.save_recording(
        db, _row(LATER_DIARY, "diary/march.webm", "Build diary, March", "diary", "2025-03-28", "2025-03")
    )
    reading = Reading(
        kind="diary",
        segments=(Segment(0.4, 16.0, 0, 3, "the curlew again", _of("41"), "41", 0.95),),
        statements=(
            Statement("done", lines[0].words, "tank", task="paint", finish="satin black", certainty=0.9,
                      subject=_of("41"), build="41", sentence=0, segment=0, start=0.4, end=4.0),
            Statement("planned", lines[3].words, "caliper", side="front", task="fit", certainty=0.8, subject=_of("41"),
                      build="41", sentence=3, segment=0, start=12.2, end=16.0),
        ),
        events=(Event("open day", 4.2, 8.0, "2025-04-12", "the yard", True, lines[1].words, "hopefully"),),
        remarks=Remarks(
            references=(
                FilmReference("the film we made on brake pads", 12.4, 14.0, 3, about=("brake", "pads"), certainty=0.9),
                FilmReference("a film about gearboxes", 14.5, 15.0, 3, about=("gearboxes",), certainty=0.9),
            ),
            asides=(Aside(1, 1, 4.2, 8.0),),
        ),
        products=(ProductLine("brass filler cap", 8.2, 12.0, lines[2].words, None, "Curlew", 40.0, "GBP", True,
                              "available", 0.8),),
    )  # fmt: skip
    writing.save_reading(db, LATER_DIARY, _sentences(lines), reading, reading_key="k", engine="vosk:mini")


def _save_tutorial(db: Database) -> None:
    lines = (
        Said(0.5, 4.0, "how do i change the front brake pads"),
        Said(4.2, 9.0, "take the two pins out of the caliper and slide the old brake pads out"),
        Said(9.2, 14.0, "push the pistons back and put the new front brake pads in"),
        Said(14.2, 20.0, "pump the lever until it is firm"),
    )
    writing.save_recording(
        db, _row(TUTORIAL, "pads.webm", "Changing front brake pads", "tutorial", "2025-03-05", "2025-03")
    )
    pads = "brake pads"
    reading = Reading(
        kind="tutorial",
        mentions=(Mention("PART", "brake pads", pads, 0, 26, 36), Mention("TASK", "change", "change", 0, 9, 15)),
        segments=(Segment(0.5, 20.0, 0, 3, "changing the pads", Subject("tutorial", TUTORIAL)),),
        entries=(
            Entry(lines[0].words, " ".join(line.words for line in lines[1:]), 4.2, 20.0, (pads, "change"), 0.86),
            Entry("can i mix old and new pads", lines[2].words, 9.2, 14.0, (pads,), 0.4),
        ),
        remarks=Remarks(
            steps=(
                Step(0, "What you need", 0.5, 4.0, 0, 0, tools=(Need("torque wrench", "torque wrench"),)),
                Step(
                    1,
                    "Step 1: Change the pads",
                    0.5,
                    20.0,
                    0,
                    3,
                    needed=(Need("grease", "copper grease"),),
                    torques=(Torque("35 Nm (26 lbf ft)", 35.0, "newton metre", "caliper bolts", 9.4),),
                    warnings=(StepWarning("Never ride with a soft lever", 14.4),),
                ),
            ),
        ),
    )
    writing.save_reading(db, TUTORIAL, _sentences(lines), reading, reading_key="k", engine="vosk:mini")


def _save_note(db: Database) -> None:
    lines = (Said(0.2, 3.0, "note for forty one the clutch cable is frayed"),)
    writing.save_recording(
        db, _row(NOTE, "note.ogg", "Bench note, job 41", "bench note", "2025-03-11", "2025-03", picture=False)
    )
    reading = Reading(
        kind="bench note",
        segments=(Segment(0.2, 3.0, 0, 0, "job 41", _of("41"), "41", 0.9),),
        statements=(
            Statement("asked for", lines[0].words, "clutch cable", said_by="customer", certainty=0.9,
                      subject=_of("41"), build="41", sentence=0, segment=0, start=0.2, end=3.0, source="note"),
        ),
    )  # fmt: skip
    writing.save_reading(db, NOTE, _sentences(lines), reading, reading_key="k", engine="vosk:mini")
