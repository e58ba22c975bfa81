"""The index as a whole, with real libvosk on a minute of the demo's tutorial."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from filelock import FileLock
from numpy.typing import NDArray
from sqlite_utils import Database

from diaryidx import indexing
from diaryidx.checking import check
from diaryidx.correcting import correct
from diaryidx.errors import SpeechError
from diaryidx.indexing import Indexed, index
from diaryidx.records import Build, Word
from diaryidx.resources import mini_model_folder
from diaryidx.shop import Shop, load_shop
from diaryidx.speech.vosk_engine import VoskEngine
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from tests.sound import excerpt, write_wav

ROOT = Path(__file__).resolve().parent.parent


class CountingEngine(VoskEngine):
    """Real Vosk that remembers how often it was asked, and can be made to break."""

    def __init__(self, breaks_after: int | None = None) -> None:
        super().__init__(mini_model_folder())
        self.asked = 0
        self.breaks_after = breaks_after

    def hear(self, samples: NDArray[np.int16]) -> tuple[Word, ...]:
        if self.breaks_after is not None and self.asked >= self.breaks_after:
            raise KeyboardInterrupt
        self.asked += 1
        return super().hear(samples)


def run(
    shop: Shop, paths: Sequence[Path] = (), *, workers: int | None = None, engine: str | None = None
) -> list[Indexed]:
    db = open_store(shop.database)
    try:
        return index(shop, db, paths, workers=workers, engine=engine)
    finally:
        db.close()


def words_of(shop: Shop, recording_id: str) -> list[Word]:
    db = open_store(shop.database)
    try:
        return [word for sentence in reading.sentences(db.conn, recording_id) for word in sentence.words]
    finally:
        db.close()


def no_engine(*_: object) -> None:
    raise AssertionError("nothing should have been heard")


def test_a_film_is_heard_understood_and_stored(heard: Shop) -> None:
    db = open_store(heard.database)
    film = reading.recordings(db.conn)[0]
    assert (film.date, film.date_from, film.month, film.kind) == ("2026-05-04", "file name", "2026-05", "tutorial")
    assert film.duration == pytest.approx(80.0, abs=0.1)
    assert film.engine is not None and film.engine.startswith("vosk:")
    sentences = reading.sentences(db.conn, film.id)
    assert len(sentences) > 5
    assert all(0 <= one.start < one.end <= 80.0 for one in sentences)
    assert any(mention.label == "PART" for mention in reading.mentions(db.conn, film.id))
    assert reading.search_sentences(db.conn, '"brake"')
    assert db.table("stretches").count == 0
    db.close()


def test_a_second_index_hears_nothing(heard: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(indexing, "open_engine", no_engine)
    monkeypatch.setattr(indexing, "decode_blocks", no_engine)
    assert [one.outcome for one in run(heard)] == ["unchanged"]


def test_a_renamed_film_keeps_its_id_and_is_not_heard_again(
    heard: Shop, minute: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(indexing, "open_engine", no_engine)
    (heard.recordings / "2026").mkdir()
    (heard.recordings / minute.name).rename(heard.recordings / "2026" / "Brakes 'final' 🛠.wav")
    outcome = run(heard)
    assert [(one.outcome, one.path) for one in outcome] == [("unchanged", "2026/Brakes 'final' 🛠.wav")]
    assert [one.outcome for one in run(heard)] == ["unchanged"]
    db = open_store(heard.database)
    assert len(reading.recordings(db.conn)) == 1
    db.close()


def test_a_copy_of_a_film_is_known_and_not_read_twice(
    heard: Shop, minute: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(indexing, "open_engine", no_engine)
    shutil.copy(minute, heard.recordings / "copy.wav")
    assert {one.outcome for one in run(heard)} == {"unchanged"}
    monkeypatch.setattr("diaryidx.survey.content_hash", no_engine)
    assert {one.outcome for one in run(heard)} == {"unchanged"}


def test_a_touched_film_is_not_heard_again(heard: Shop, minute: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(indexing, "open_engine", no_engine)
    os.utime(heard.recordings / minute.name, (1, 1))
    assert [one.outcome for one in run(heard)] == ["unchanged"]
    monkeypatch.setattr("diaryidx.survey.content_hash", no_engine)
    assert [one.outcome for one in run(heard)] == ["unchanged"]


def test_new_words_of_the_shop_are_understood_without_hearing_again(
    heard: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(indexing, "open_engine", no_engine)
    before = words_of(heard, "2026-05-04-brakes-tutorial")
    said = next(word.word for word in before if len(word.word) > 5)
    heard.words.write_text(f"parts:\n  - {said}\n")
    assert [one.outcome for one in run(heard)] == ["indexed"]
    db = open_store(heard.database)
    found = {mention.canonical for mention in reading.mentions(db.conn, "2026-05-04-brakes-tutorial")}
    db.close()
    assert said in found
    assert words_of(heard, "2026-05-04-brakes-tutorial") == before
    assert [one.outcome for one in run(heard)] == ["unchanged"]


def test_a_persons_correction_survives_a_reindex(heard: Shop) -> None:
    db = open_store(heard.database)
    correct(db, "2026-05-04-brakes-tutorial", {"title": "Brakes, part one", "kind": "questions"})
    db.close()
    heard.words.write_text("parts:\n  - flux capacitor\n")
    outcome = run(heard)
    assert outcome[0].recording is not None
    assert (outcome[0].recording.title, outcome[0].recording.kind) == ("Brakes, part one", "questions")


def test_the_result_does_not_depend_on_the_number_of_workers(shop: Shop, minute: Path, heard: Shop) -> None:
    shutil.copy2(minute, shop.recordings / minute.name)
    run(shop, workers=1)
    recording_id = "2026-05-04-brakes-tutorial"
    assert words_of(shop, recording_id) == words_of(heard, recording_id)


def test_a_stopped_run_goes_on_where_it_was_and_hears_nothing_twice(
    shop: Shop, minute: Path, heard: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy2(minute, shop.recordings / minute.name)
    first, second = CountingEngine(breaks_after=1), CountingEngine()
    monkeypatch.setattr(indexing, "open_engine", lambda *_: first)
    with pytest.raises(KeyboardInterrupt):
        run(shop, workers=1)
    db = open_store(shop.database)
    kept = db.table("stretches").count
    db.close()
    monkeypatch.setattr(indexing, "open_engine", lambda *_: second)
    assert [one.outcome for one in run(shop, workers=1)] == ["indexed"]
    whole = CountingEngine()
    monkeypatch.setattr(indexing, "open_engine", lambda *_: whole)
    shutil.rmtree(shop.recordings)
    shop.recordings.mkdir()
    shop.database.unlink()
    shutil.copy2(minute, shop.recordings / minute.name)
    run(shop, workers=1)
    assert kept == first.asked == 1
    assert first.asked + second.asked == whole.asked
    assert words_of(shop, "2026-05-04-brakes-tutorial") == words_of(heard, "2026-05-04-brakes-tutorial")


def test_a_killed_run_goes_on_and_ends_with_the_same_result(shop: Shop, minute: Path, heard: Shop) -> None:
    shutil.copy2(minute, shop.recordings / minute.name)
    command = [sys.executable, "-m", "diaryidx.cli", "index", "--jobs", "1", "--shop", str(shop.folder)]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    db = open_store(shop.database)
    deadline = time.monotonic() + 60
    while db.table("stretches").count == 0 and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.02)
    process.send_signal(signal.SIGKILL)
    process.wait()
    kept = db.table("stretches").count
    db.close()
    assert kept > 0
    assert [one.outcome for one in run(shop)] == ["indexed"]
    assert words_of(shop, "2026-05-04-brakes-tutorial") == words_of(heard, "2026-05-04-brakes-tutorial")


def test_ctrl_c_ends_a_run_in_one_line_and_keeps_what_was_finished(shop: Shop, minute: Path) -> None:
    shutil.copy2(minute, shop.recordings / minute.name)
    command = [sys.executable, "-m", "diaryidx.cli", "index", "--jobs", "1", "--shop", str(shop.folder)]
    process = subprocess.Popen(
        command,
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler) and None,
    )
    db = open_store(shop.database)
    deadline = time.monotonic() + 60
    while db.table("stretches").count == 0 and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.02)
    process.send_signal(signal.SIGINT)
    _out, said = process.communicate(timeout=60)
    assert process.returncode == 1
    assert "Traceback" not in said
    assert "run the same command to go on" in said.splitlines()[-1]
    assert db.table("stretches").count > 0
    db.close()


def test_two_indexes_of_one_shop_do_not_work_at_once(heard: Shop) -> None:
    with (
        FileLock(heard.folder / ".index.lock"),
        pytest.raises(indexing.DiaryidxError, match="another index is running"),
    ):
        run(heard)
    assert [one.outcome for one in run(heard)] == ["unchanged"]


def test_a_bad_file_is_named_and_the_others_go_through(shop: Shop, minute: Path) -> None:
    shutil.copy2(excerpt(minute, shop.recordings / "good.wav", seconds=5.0), shop.recordings / "good.wav.bak")
    (shop.recordings / "notes.mp4").write_text("this is a shopping list")
    (shop.recordings / "empty.webm").touch()
    by_name = {one.path: one for one in run(shop)}
    assert by_name["good.wav"].outcome == "indexed"
    for name in ("notes.mp4", "empty.webm"):
        assert by_name[name].outcome == "failed"
        assert name in (by_name[name].error or "")
        assert "\n" not in (by_name[name].error or "")
    db = open_store(shop.database)
    assert set(reading.failed_files(db.conn)) == {"notes.mp4", "empty.webm"}
    db.close()
    (shop.recordings / "notes.mp4").unlink()
    shutil.copy2(shop.recordings / "good.wav", shop.recordings / "notes.mp4")
    run(shop)
    db = open_store(shop.database)
    assert set(reading.failed_files(db.conn)) == {"empty.webm"}
    db.close()
    (shop.recordings / "empty.webm").unlink()
    run(shop)
    db = open_store(shop.database)
    assert reading.failed_files(db.conn) == {}
    db.close()


def test_a_file_that_breaks_later_does_not_lose_what_was_known(heard: Shop, minute: Path) -> None:
    (heard.recordings / minute.name).write_bytes(b"now it is something else")
    outcome = run(heard)
    assert [one.outcome for one in outcome] == ["failed"]
    assert len(words_of(heard, "2026-05-04-brakes-tutorial")) > 50


def test_a_named_file_that_is_missing_fails_alone(shop: Shop, minute: Path) -> None:
    good = excerpt(minute, shop.recordings / "good.wav", seconds=5.0)
    outcome = run(shop, [shop.recordings / "missing.webm", good])
    assert [(one.path, one.outcome) for one in outcome] == [("missing.webm", "failed"), ("good.wav", "indexed")]


def test_a_silent_film_is_indexed_and_says_so(shop: Shop) -> None:
    write_wav(shop.recordings / "silence.wav", np.zeros(16000 * 4, np.int16))
    (outcome,) = run(shop)
    assert outcome.outcome == "indexed"
    assert outcome.recording is not None
    assert (outcome.recording.sentences, outcome.recording.error) == (0, "no speech was heard in this film")


def test_without_any_engine_nothing_is_half_written(shop: Shop, minute: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (shop.folder / "shop.toml").write_text("")
    monkeypatch.setattr("diaryidx.speech.home.find_spec", lambda name: None)
    shutil.copy2(minute, shop.recordings / minute.name)
    with pytest.raises(SpeechError, match="model get"):
        run(load_shop(shop.folder))
    db = open_store(shop.database)
    assert reading.recordings(db.conn) == []
    db.close()


def test_a_wrong_words_file_is_said_before_any_listening(
    shop: Shop, minute: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy2(minute, shop.recordings / minute.name)
    shop.words.write_text("parts: [tank\n")
    engine = CountingEngine(breaks_after=0)
    monkeypatch.setattr(indexing, "open_engine", lambda *_: engine)
    with pytest.raises(indexing.DiaryidxError, match=r"words\.yaml"):
        run(shop)


def test_a_job_book_that_changed_is_read_again_and_films_are_linked_anew(heard: Shop) -> None:
    heard.job_book.write_text("job number,make,model\n12,Marlowe,Curlew\n")
    run(heard)
    db = open_store(heard.database)
    assert [one.job_number for one in reading.builds(db.conn)] == ["12"]
    db.close()


def test_a_shop_without_a_watched_job_book_keeps_its_builds_and_is_sound(shop: Shop, db: Database) -> None:
    settings = shop.folder / "shop.toml"
    settings.write_text('name = "Tern Lane"\n[jobs]\nfile = ""\n')
    writing.save_builds(db, [Build("12", make="Marlowe")])
    run(load_shop(shop.folder))
    (found,) = [one for one in check(load_shop(shop.folder), db) if one.about == "job book"]
    assert found.sound and found.text.startswith("1 builds; no file is watched")
    assert [one.job_number for one in reading.builds(db.conn)] == ["12"]


def test_two_thousand_known_films_are_only_listed(shop: Shop, db: Database) -> None:
    from diaryidx.indexing import reading_key
    from diaryidx.store.writing import RecordingRow

    key = reading_key(shop)
    rows = []
    for number in range(2000):
        path = shop.recordings / f"film {number:04d}.mp4"
        with path.open("wb") as file:
            file.truncate(250_000_000)
        stat = path.stat()
        rows.append(
            RecordingRow(
                f"film-{number}",
                path.name,
                stat.st_size,
                stat.st_mtime_ns,
                f"{number}",
                "t",
                "diary",
                "2026-05-01",
                "file name",
                "2026-05",
                60.0,
                True,
                "vosk:m",
                key,
                "indexed",
            )
        )
    with db.atomic():
        for row in rows:
            db.table("recordings").insert({name: getattr(row, name) for name in RecordingRow.__slots__})
    start = time.monotonic()
    outcome = run(shop)
    print(f"2,000 known films: {time.monotonic() - start:.2f} s")
    assert {one.outcome for one in outcome} == {"unchanged"}
    assert len(outcome) == 2000
