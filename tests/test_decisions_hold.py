"""What people decided holds: after every re-index, with another engine, in other files of the same film, in a crash.

Real libvosk listens to a stretch of a demo film. Whether a decision is in force is read from segments and sentences.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from sqlite_utils import Database

from diaryidx import correcting, indexing
from diaryidx.builds import review
from diaryidx.builds.relinking import relink
from diaryidx.media.decode import SAMPLE_RATE, decode_blocks
from diaryidx.records import Decision, Word
from diaryidx.resources import demo_shop_folder, mini_model_folder
from diaryidx.shop import Shop, load_shop
from diaryidx.speech.vosk_engine import VoskEngine
from diaryidx.store import decisions, reading
from diaryidx.store.database import open_store
from tests.sound import encode, excerpt, write_wav

ROOT = Path(__file__).resolve().parent.parent
FILM = "2026-11-02-october-diary"
NAME = "2026-11-02 October diary.wav"
#: Sentences that reach over the end of what was decided about, in seconds: cuts of another engine fall elsewhere.
RIM = 2.0


class OtherEngine(VoskEngine):
    """Another engine: it writes sentences with punctuation, hears some words otherwise, and some not at all."""

    def __init__(self) -> None:
        super().__init__(mini_model_folder())
        self.name, self.fingerprint = "packaged", "other"

    def hear(self, samples: NDArray[np.int16]) -> tuple[Word, ...]:
        words = super().hear(samples)
        changed = [replace(word, word=word.word + "." * (place % 11 == 10)) for place, word in enumerate(words)]
        return tuple(word for place, word in enumerate(changed) if place % 7 != 3)


@pytest.fixture(scope="module")
def decided_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop with one film of two minutes, about which everything was decided that can be."""
    folder = tmp_path_factory.mktemp("decided") / "shop"
    (folder / "recordings").mkdir(parents=True)
    (folder / "shop.toml").write_text('[speech]\nengine = "vosk"\nmodel = "mini"\n')
    shutil.copy(demo_shop_folder() / "jobs.csv", folder / "jobs.csv")
    film = next(demo_shop_folder().rglob("*October*.webm"))
    excerpt(film, folder / "recordings" / NAME, start=30.0, seconds=135.0)
    shop = load_shop(folder)
    db = open_store(shop.database)
    assert [one.outcome for one in indexing.index(shop, db)] == ["indexed"]
    segments = reading.segments(db.conn, recording_id=FILM)
    assert len(segments) >= 5
    at = [f"{FILM}@{segment.start:.1f}" for segment in segments]
    review.decide(db, at[0], "not-a-build", "Ada")
    review.decide(db, at[1], "refuse", "Bram", "115")
    review.decide(db, at[1], "assign", "Bram", "112")
    review.decide(db, at[2], "assign", "Ada", "117")
    review.decide(db, at[3], "refuse", "Ada", "120")
    review.decide(db, at[2], "split", "Ada", str(segments[2].start + 18))
    review.decide(db, at[-2], "join", "Bram")
    heard = next(word.word for word in reading.sentences(db.conn, FILM)[4].words if len(word.word) > 5)
    correcting.correct_word(shop, db, at[1], heard, "Wendlebury", "Ada")
    undone = review.decide(db, at[2], "not-a-build", "Ada")
    review.undo(db, "Bram", undone.id)
    correcting.correct(db, FILM, {"date": "2026-10-31", "title": "The walk-round", "address": "https://example.org/1"})
    assert [one.outcome for one in indexing.index(shop, db)] == ["indexed"]  # of another date it is read again
    assert_all_hold(db, FILM)
    db.close()
    return folder


@pytest.fixture
def decided(decided_once: Path, tmp_path: Path) -> Shop:
    folder = tmp_path / "decided-shop"
    shutil.copytree(decided_once, folder, copy_function=shutil.copy2)
    return load_shop(folder)


@pytest.fixture
def store(decided: Shop) -> Iterator[Database]:
    db = open_store(decided.database)
    yield db
    db.close()


def assert_all_hold(db: Database, recording_id: str, shift: float = 0.0, until: float = 1e9) -> int:
    """Look at every decision that was not undone: does the film obey it, ``shift`` seconds earlier than it was made?

    :returns: how many were looked at.
    """
    made = [one for one in decisions.decisions(db.conn) if one.undone_at is None]
    seen = 0
    for one in made:
        start, end = one.start - shift, one.end - shift
        if start >= -1.0 and end <= until:
            seen += 1
            assert holds(db, recording_id, one, start, end, made), (
                one,
                reading.segments(db.conn, recording_id=recording_id),
            )
    assert seen
    return seen


def holds(db: Database, recording_id: str, one: Decision, start: float, end: float, made: Sequence[Decision]) -> bool:
    sentences = reading.sentences(db.conn, recording_id)
    segments = reading.segments(db.conn, recording_id=recording_id)
    inside = [place for place, said in enumerate(sentences) if said.start >= start - 0.3 and said.end <= end + 0.3]
    here = [segment for segment in segments if any(segment.first <= place <= segment.last for place in inside)]
    if one.kind == "word":
        heard, meant = one.what["heard"], one.what["meant"]
        return all(meant in said.text for said in sentences if heard in said.heard.split())
    if one.kind == "split":
        return any(abs(segment.start - start) < RIM for segment in segments)
    if one.kind == "join":
        return len(here) == 1
    if one.kind == "not a build":
        return bool(here) and all(segment.subject.kind != "build" for segment in here)
    if "not" in one.what:
        return bool(here) and all(segment.build != one.what["not"] for segment in here)
    tied = {statement.build for statement in reading.statements(db.conn, recording_id=recording_id)
            if statement.segment in {segments.index(segment) for segment in here} and statement.build}  # fmt: skip
    sure = all((segment.build, segment.certainty) == (one.what["build"], 1.0) for segment in here)
    return bool(here) and sure and tied <= {one.what["build"]}


def index(shop: Shop, db: Database, engine: str | None = None) -> list[str]:
    return [one.outcome for one in indexing.index(shop, db, engine=engine)]


def test_every_kind_of_decision_was_made(store: Database) -> None:
    assert {one.kind for one in decisions.decisions(store.conn)} == {"link", "not a build", "word", "split", "join"}
    assert assert_all_hold(store, FILM) == 8


def test_when_all_that_the_machine_found_is_lost_and_another_engine_listens_every_decision_holds(
    decided: Shop, store: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = [sentence.heard for sentence in reading.sentences(store.conn, FILM)]
    store.execute("delete from recordings")
    store.execute("delete from film_pieces")
    store.conn.commit()
    monkeypatch.setattr(indexing, "open_engine", lambda *_: OtherEngine())
    assert index(decided, store, engine="packaged") == ["indexed"]
    assert [sentence.heard for sentence in reading.sentences(store.conn, FILM)] != before
    assert_all_hold(store, FILM)


class BrokenOff(VoskEngine):
    """Stops at the first stretch, as by Ctrl-C."""

    def hear(self, samples: NDArray[np.int16]) -> tuple[Word, ...]:
        raise KeyboardInterrupt


def test_renamed_encoded_anew_and_trimmed_the_film_keeps_its_id_and_all_that_was_said_of_it(
    decided: Shop, store: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    old = decided.recordings / NAME
    sound = np.concatenate(list(decode_blocks(old)))
    old.unlink()
    encode(decided.recordings / "final.mp3", sound[round(3.37 * SAMPLE_RATE) :], "libmp3lame", 22050, 32000)
    with monkeypatch.context() as patched, pytest.raises(KeyboardInterrupt):  # and the first run is broken off
        patched.setattr(indexing, "open_engine", lambda *_: BrokenOff(mini_model_folder()))
        index(decided, store)
    assert index(decided, store) == ["indexed"]
    (film,) = reading.recordings(store.conn)
    assert (film.id, film.path) == (FILM, "final.mp3")
    assert (film.title, film.date, film.address) == ("The walk-round", "2026-10-31", "https://example.org/1")
    assert assert_all_hold(store, FILM, shift=3.37) >= 7
    for made, heard in zip(decisions.decisions(store.conn), decisions.trail(store.conn), strict=True):
        assert heard.film != made.film
        assert heard.start == pytest.approx(max(made.start - 3.37, 0.0), abs=0.1)


def test_another_file_in_the_place_of_the_film_keeps_the_decisions_at_their_moments(
    decided: Shop, store: Database
) -> None:
    path = decided.recordings / NAME
    sound = np.concatenate(list(decode_blocks(path)))
    write_wav(path, sound[round(5.0 * SAMPLE_RATE) : round(130 * SAMPLE_RATE)])
    assert index(decided, store) == ["indexed"]
    assert assert_all_hold(store, FILM, shift=5.0, until=125.0) >= 6


def test_decisions_on_footage_hold_in_the_cut_and_the_other_way_round(decided: Shop, store: Database) -> None:
    sound = np.concatenate(list(decode_blocks(decided.recordings / NAME)))
    link = next(one for one in decisions.decisions(store.conn) if one.what.get("build") == "117")
    assigned = sound[round((link.start - 1) * SAMPLE_RATE) : round((link.end + 1) * SAMPLE_RATE)]
    opening = sound[: round(8.5 * SAMPLE_RATE)]
    cut = np.concatenate([assigned, opening])
    encode(decided.recordings / "published.m4a", cut, "aac", 44100, 64000)
    assert sorted(index(decided, store)) == ["indexed", "unchanged"]
    assert len(reading.recordings(store.conn)) == 2
    assert holds(store, "published", link, 1.0, 1.0 + link.end - link.start, [])
    (opened,) = [one for one in decisions.decisions(store.conn) if one.kind == "not a build" and not one.undone_at]
    after = len(assigned) / SAMPLE_RATE
    assert holds(store, "published", opened, after, after + 8.5, [])
    assert reading.recording(store.conn, "published").date == "2026-10-31"
    made = review.decide(store, "published@2.0", "assign", "Ada", "119")
    relink(store)
    shift = link.start - 1.0
    assert holds(store, FILM, made, made.start + shift, made.end + shift, [])
    review.undo(store, "Ada", made.id)
    assert holds(store, FILM, link, link.start, link.end, [])


def test_another_film_of_the_same_people_is_left_alone(decided: Shop, store: Database) -> None:
    film = next(demo_shop_folder().rglob("*November*.webm"))
    excerpt(film, decided.recordings / "2026-11-24 November diary.wav", seconds=32.0)
    assert sorted(index(decided, store)) == ["indexed", "unchanged"]
    assert decisions.decisions_on(store.conn, "2026-11-24-november-diary") == []


def test_a_film_decided_about_under_an_earlier_version_is_listened_to_for_its_sound(
    decided: Shop, store: Database
) -> None:
    before = store.execute("select film, sound from known_films").fetchall()
    store.execute("delete from known_films")
    store.conn.commit()
    assert index(decided, store) == ["unchanged"]
    assert store.execute("select film, sound from known_films").fetchall() == before


# --- at the same time, and in a crash --------------------------------------------------------------------------------


def start_index(shop: Shop) -> subprocess.Popen[bytes]:
    command = [sys.executable, "-m", "diaryidx.cli", "index", "--jobs", "1", "--shop", str(shop.folder)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def wait_for_a_stretch(db: Database, process: subprocess.Popen[bytes]) -> None:
    deadline = time.monotonic() + 120
    while db.table("stretches").count == 0 and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.02)
    assert process.poll() is None


def test_a_decision_made_while_an_index_runs_is_not_lost_and_holds_at_once(decided: Shop, store: Database) -> None:
    path = decided.recordings / NAME
    sound = np.concatenate(list(decode_blocks(path)))
    write_wav(path, sound[round(5.0 * SAMPLE_RATE) :])  # so that it is heard again, five seconds earlier
    process = start_index(decided)
    wait_for_a_stretch(store, process)
    segment = reading.segments(store.conn, recording_id=FILM)[-1]
    made = review.decide(store, f"{FILM}@{segment.start:.1f}", "assign", "Carl", "121")
    assert holds(store, FILM, made, made.start, made.end, [])
    assert process.wait(240) == 0
    assert holds(store, FILM, made, made.start - 5.0, made.end - 5.0, [])
    assert index(decided, store) == ["unchanged"]
    assert holds(store, FILM, made, made.start - 5.0, made.end - 5.0, [])


DECIDER = """
import sys
from pathlib import Path
from diaryidx.builds import review
from diaryidx.builds.relinking import relink
from diaryidx.store.database import open_store
db = open_store(Path(sys.argv[1]))
for _ in range(12):
    made = review.decide(db, sys.argv[2], "assign", sys.argv[3], "117")
    review.undo(db, sys.argv[3], made.id)
    relink(db)
review.decide(db, sys.argv[2], "assign", sys.argv[3], "117")
"""


def test_people_who_decide_at_the_same_time_lose_nothing(decided: Shop, store: Database) -> None:
    before = len(decisions.decisions(store.conn))
    starts = [segment.start for segment in reading.segments(store.conn, recording_id=FILM)]
    people = [
        subprocess.Popen([sys.executable, "-c", DECIDER, str(decided.database), f"{FILM}@{start:.1f}", name], cwd=ROOT)
        for name, start in (("Ada", starts[2]), ("Bram", starts[-1]))
    ]
    assert [person.wait(240) for person in people] == [0, 0]
    made = decisions.decisions(store.conn)[before:]
    assert len(made) == 26 and sum(one.undone_at is None for one in made) == 2
    relink(store)
    for one in made:
        if one.undone_at is None:
            assert holds(store, FILM, one, one.start, one.end, [])


DIES = """
import os, sys
from pathlib import Path
from diaryidx.builds import review
from diaryidx.store import decisions
from diaryidx.store.database import open_store
step = getattr(decisions, sys.argv[3])
setattr(decisions, sys.argv[3], lambda *given: (step(*given), os._exit(9)))
review.decide(open_store(Path(sys.argv[1])), sys.argv[2], "split", "Ada", sys.argv[4])
"""


@pytest.mark.parametrize("step", ["replace_segments", "tie_statements", "obey_decisions"])
def test_a_program_that_dies_while_deciding_leaves_all_or_nothing(decided: Shop, store: Database, step: str) -> None:
    segment = reading.segments(store.conn, recording_id=FILM)[2]
    before = reading.segments(store.conn), reading.statements(store.conn), decisions.decisions(store.conn)
    middle = str((segment.start + segment.end) / 2)
    died = subprocess.run(
        [sys.executable, "-c", DIES, str(decided.database), f"{FILM}@{segment.start:.1f}", step, middle], cwd=ROOT
    )
    assert died.returncode == 9
    assert (reading.segments(store.conn), reading.statements(store.conn), decisions.decisions(store.conn)) == before


def test_an_index_killed_before_it_ties_films_to_builds_is_gone_on_with(
    decided: Shop, store: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    decided.words.write_text("parts:\n  - flux capacitor\n")

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(indexing, "relink", killed)
        with pytest.raises(KeyboardInterrupt):
            index(decided, store)
    assert_all_hold(store, FILM)
    assert index(decided, store) == ["unchanged"]
    assert_all_hold(store, FILM)
    assert not reading.links_due(store.conn)
