"""Everything that can be wrong with an input, through the command a person types: one clear line, the right exit code,
the other files still go through, and nothing that was stored is lost."""

from __future__ import annotations

import json
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from click.testing import CliRunner, Result
from numpy.typing import NDArray

from diaryidx.cli import main
from diaryidx.errors import DiaryidxError
from diaryidx.media.decode import decode_blocks
from diaryidx.resources import mini_model_folder
from diaryidx.shop import Shop
from tests.sound import excerpt, write_wav

ROOT = Path(__file__).resolve().parent.parent
FILM = "2026-05-04-brakes-tutorial"


def call(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def indexed(shop: Shop) -> tuple[int, dict[str, dict[str, Any]]]:
    result = call("index", "--shop", shop.folder, "--json")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, {row["path"]: row for row in json.loads(result.stdout)["recordings"]}


def encoded(
    path: Path,
    samples: NDArray[np.int16],
    *,
    rate: int = 16000,
    layout: str = "mono",
    codec: str = "pcm_s16le",
    container: str | None = None,
) -> Path:
    """Write samples, one row a channel, with PyAV."""
    with av.open(str(path), "w", format=container) as output:
        stream = output.add_stream(codec, rate=rate, layout=layout)
        for start in range(0, samples.shape[1], 1024):
            piece = samples[:, start : start + 1024]
            frame = av.AudioFrame.from_ndarray(piece.T.reshape(1, -1).copy(), format="s16", layout=layout)
            frame.sample_rate = rate
            output.mux(stream.encode(frame))
        output.mux(stream.encode(None))
    return path


@pytest.fixture(scope="session")
def speech(minute: Path) -> NDArray[np.int16]:
    """Fifteen seconds of speech, 16 kHz mono."""
    return np.concatenate(list(decode_blocks(minute, 0.0, 15.0)))


@pytest.fixture
def with_good_film(shop: Shop, speech: NDArray[np.int16]) -> Shop:
    write_wav(shop.recordings / "good.wav", speech)
    return shop


def _text(path: Path) -> None:
    path.write_text("Shopping list: bolts, tea, more bolts\n" * 30)


def _empty(path: Path) -> None:
    path.touch()


def _noise(path: Path) -> None:
    path.write_bytes(np.random.default_rng(1).bytes(50_000))


def _header_only(path: Path) -> None:
    path.write_bytes((b"\x1a\x45\xdf\xa3" if path.suffix == ".webm" else b"\0\0\0\x18ftypmp42") + bytes(40))


def _no_sound(path: Path) -> None:
    with av.open(str(path), "w", format="mp4") as output:
        stream = output.add_stream("mpeg4", rate=5)
        stream.width = stream.height = 64
        for shade in range(10):
            frame = av.VideoFrame.from_ndarray(np.full((64, 64, 3), shade * 20, np.uint8), format="rgb24")
            output.mux(stream.encode(frame))
        output.mux(stream.encode(None))


def _folder_named_like_a_film(path: Path) -> None:
    path.mkdir()


@pytest.mark.parametrize("make", [_text, _empty, _noise, _header_only, _no_sound])
@pytest.mark.parametrize("name", ["bad.mp4", "bad.webm", "bad.wav"])
def test_what_is_no_film_with_sound_is_named_in_one_line(
    with_good_film: Shop, make: Callable[[Path], None], name: str
) -> None:
    make(with_good_film.recordings / name)
    code, rows = indexed(with_good_film)
    assert code == 1
    assert rows["good.wav"]["outcome"] == "indexed"
    assert rows[name]["outcome"] == "failed"
    assert name in rows[name]["error"]
    assert "\n" not in rows[name]["error"]


def test_a_folder_named_like_a_film_is_looked_into(with_good_film: Shop, speech: NDArray[np.int16]) -> None:
    _folder_named_like_a_film(with_good_film.recordings / "folder.mp4")
    write_wav(with_good_film.recordings / "folder.mp4" / "inside.wav", speech[:80000])
    code, rows = indexed(with_good_film)
    assert code == 0
    assert rows["folder.mp4/inside.wav"]["outcome"] == "indexed"


def test_a_truncated_film_gives_what_is_there_and_says_so(shop: Shop, speech: NDArray[np.int16]) -> None:
    whole = encoded(shop.folder / "whole.mkv", speech[None, :])
    data = whole.read_bytes()
    (shop.recordings / "cut.mkv").write_bytes(data[: len(data) // 2])
    code, rows = indexed(shop)
    assert (code, rows["cut.mkv"]["outcome"]) == (0, "indexed")
    assert rows["cut.mkv"]["sentences"] > 0


def test_silence_and_music_are_no_speech(shop: Shop) -> None:
    seconds = np.arange(16000 * 6) / 16000
    chord = sum(np.sin(2 * np.pi * pitch * seconds) for pitch in (220.0, 277.2, 329.6)) * 6000
    write_wav(shop.recordings / "silence.wav", np.zeros(16000 * 6, np.int16))
    write_wav(shop.recordings / "music.wav", chord.astype(np.int16))
    code, rows = indexed(shop)
    assert code == 0
    assert rows["silence.wav"]["sentences"] == 0
    assert rows["music.wav"]["outcome"] == "indexed"


def test_eight_channels_telephone_sound_and_a_wrong_ending_are_all_heard(shop: Shop, speech: NDArray[np.int16]) -> None:
    encoded(shop.recordings / "eight.wav", np.tile(speech, (8, 1)), layout="7.1")
    encoded(shop.recordings / "phone.wav", speech[None, ::2], rate=8000)
    encoded(shop.recordings / "really a wav.mp4", speech[None, :], container="wav")
    code, rows = indexed(shop)
    assert code == 0
    assert [row["sentences"] > 0 for row in rows.values()] == [True, True, True]


@pytest.mark.parametrize(
    "name", ['it\'s "the" one.wav', "two\nlines.wav", "🏍 päivä.wav", "-rf.wav", "a;b & $(c) %s.wav", "  spaces  .wav"]
)
def test_any_name_that_a_file_may_have_is_taken(shop: Shop, speech: NDArray[np.int16], name: str) -> None:
    write_wav(shop.recordings / name, speech[:80000])
    code, rows = indexed(shop)
    assert code == 0
    (row,) = rows.values()
    assert row["path"] == name
    assert call("transcript", row["id"], "--shop", shop.folder).exit_code == 0
    assert indexed(shop)[1][name]["outcome"] == "unchanged"


def test_a_name_that_is_no_text_is_taken_or_named(shop: Shop, speech: NDArray[np.int16], with_good_film: Shop) -> None:
    try:
        write_wav(shop.recordings / os.fsdecode(b"caf\xe9.wav"), speech[:80000])
    except OSError:
        return  # this file system takes Unicode names only
    result = call("index", "--shop", shop.folder)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    assert result.exit_code in (0, 1)
    assert indexed(shop)[1]["good.wav"]["outcome"] == "unchanged"


def test_an_unreadable_folder_is_named_and_the_others_go_through(
    with_good_film: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed = with_good_film.recordings / "closed"
    closed.mkdir()
    real = os.scandir

    def scandir(path: Any) -> Any:
        if Path(os.fsdecode(path)) == closed:
            raise PermissionError(13, "Permission denied", str(closed))
        return real(path)

    monkeypatch.setattr(os, "scandir", scandir)
    code, rows = indexed(with_good_film)
    assert code == 1
    assert rows["good.wav"]["outcome"] == "indexed"
    assert any("closed" in name and row["outcome"] == "failed" for name, row in rows.items())


def test_a_full_disk_is_said_in_one_line_and_what_was_stored_stays(heard: Shop, speech: NDArray[np.int16]) -> None:
    write_wav(heard.recordings / "second.wav", speech)

    def no_more_room() -> None:
        # No file may grow beyond this: enough for SQLite to open its log, too little for what is to be stored.
        resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))

    command = [sys.executable, "-m", "diaryidx.cli", "index", "--shop", str(heard.folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, preexec_fn=no_more_room, timeout=120)
    assert done.returncode == 1, done.stderr
    assert "Traceback" not in done.stderr
    assert "disk" in done.stderr.splitlines()[-1]
    assert call("transcript", FILM, "--shop", heard.folder).exit_code == 0
    assert indexed(heard)[1]["second.wav"]["outcome"] == "indexed"


def test_a_locked_database_is_said_in_one_line(heard: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diaryidx.store.database.BUSY_SECONDS", 0.2)
    with sqlite3.connect(heard.database) as other:
        other.execute("begin exclusive")
        result = call("recording", FILM, "--title", "x", "--shop", heard.folder)
        other.rollback()
    assert result.exit_code == 1
    assert len(result.stderr.splitlines()) == 1
    assert "another program is writing" in result.stderr


@pytest.mark.parametrize("content", [b"garbage" * 1000, b"SQLite format 3\0" + b"\x01" * 4096])
def test_a_damaged_database_is_said_in_one_line_and_kept(heard: Shop, content: bytes) -> None:
    for extra in heard.folder.glob("shop.db-*"):
        extra.unlink()
    heard.database.write_bytes(content)
    for arguments in (("index",), ("history", "1"), ("check",), ("recording",)):
        result = call(*arguments, "--shop", heard.folder)
        assert result.exit_code == 1, arguments
        assert len(result.stderr.splitlines()) == 1
        assert "shop.db" in result.stderr
    assert heard.database.read_bytes() == content


def test_a_database_that_is_damaged_inside_is_said_in_one_line(heard: Shop) -> None:
    with sqlite3.connect(heard.database) as db:
        db.execute("pragma wal_checkpoint(truncate)")
        page_size, page = db.execute(
            "select page_size, rootpage from pragma_page_size, sqlite_master where name = 'recordings'"
        ).fetchone()
    db.close()
    content = bytearray(heard.database.read_bytes())
    content[(page - 1) * page_size : page * page_size] = b"\xa5" * page_size
    heard.database.write_bytes(content)
    for arguments in (("index",), ("transcript", FILM), ("recording",)):
        result = call(*arguments, "--shop", heard.folder)
        assert isinstance(result.exception, SystemExit), arguments
        assert (result.exit_code, len(result.stderr.splitlines())) == (1, 1)
        assert "shop.db" in result.stderr and "restore" in result.stderr


def test_a_foreign_database_is_refused_and_kept(shop: Shop) -> None:
    with sqlite3.connect(shop.database) as other:
        other.execute("create table recipes (name text)")
    before = shop.database.read_bytes()
    result = call("index", "--shop", shop.folder)
    assert (result.exit_code, len(result.stderr.splitlines())) == (1, 1)
    assert shop.database.read_bytes() == before


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "jobs.csv"),
        (b"customer,make\nA,Marlowe\n", "job"),
        (b"\xff\xfe\x00\x01\x02garbage\x00" * 20, "jobs.csv"),
        (bytes(range(256)) * 10, "jobs.csv"),
    ],
)
def test_a_job_book_that_is_none_is_said_in_one_line(shop: Shop, content: bytes, said: str) -> None:
    book = shop.folder / "jobs.csv"
    book.write_bytes(content)
    result = call("jobs", "import", book, "--shop", shop.folder)
    assert result.exit_code in (1, 2)
    assert len(result.stderr.splitlines()) == 1, result.stderr
    assert said in result.stderr


def test_doubled_job_numbers_are_named_with_their_line_and_the_rest_is_taken(shop: Shop) -> None:
    book = shop.folder / "jobs.csv"
    book.write_text("job number,make\n1,Marlowe\n2,Hartnell\n1,Brackwater\n")
    result = call("jobs", "import", book, "--shop", shop.folder, "--json")
    assert result.exit_code == 1
    shown = json.loads(result.stdout)
    assert shown["builds"] == 2
    assert len(shown["problems"]) == 1
    assert "4" in shown["problems"][0]


def test_a_broken_job_book_does_not_stop_the_films(with_good_film: Shop) -> None:
    (with_good_film.folder / "jobs.csv").write_bytes(b"customer,make\nA,Marlowe\n")
    result = call("index", "--shop", with_good_film.folder, "--json")
    assert result.exit_code == 1
    assert json.loads(result.stdout)["recordings"][0]["outcome"] == "indexed"
    assert "jobs.csv" in result.stderr


def test_a_job_book_of_100_000_rows_is_taken(shop: Shop) -> None:
    book = shop.folder / "jobs.csv"
    book.write_text(
        "job,make,model\n" + "".join(f"{number},Marlowe,Curlew {number % 90}\n" for number in range(100_000))
    )
    result = call("jobs", "import", book, "--shop", shop.folder, "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout)["builds"] == 100_000


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("parts:\n  - tank\nfinishs:\n  - gold\n", "3"),
        ("parts:\n  - tank\n  bad: [\n", "3"),
        ("heard:\n  - not a map\n", "2"),
    ],
)
def test_an_error_in_the_words_is_named_with_its_line(with_good_film: Shop, text: str, line: str) -> None:
    with_good_film.words.write_text(text)
    result = call("index", "--shop", with_good_film.folder)
    assert result.exit_code == 2
    assert len(result.stderr.strip().splitlines()) == 1, result.stderr
    assert "words.yaml" in result.stderr
    assert line in result.stderr.split("words.yaml", 1)[1]


def _no_folder(folder: Path) -> None:
    pass


def _empty_folder(folder: Path) -> None:
    folder.mkdir()


def _a_text(folder: Path) -> None:
    folder.write_text("no model")


def _cut_short(folder: Path) -> None:
    shutil.copytree(mini_model_folder(), folder)
    file = folder / "am" / "final.mdl"
    file.write_bytes(file.read_bytes()[:5000])


def _garbage_inside(folder: Path) -> None:
    shutil.copytree(mini_model_folder(), folder)
    (folder / "graph" / "HCLr.fst").write_bytes(b"garbage" * 100)


@pytest.mark.parametrize("make", [_no_folder, _empty_folder, _a_text, _cut_short, _garbage_inside])
def test_a_wrong_or_damaged_model_is_said_in_one_line(
    with_good_film: Shop, tmp_path: Path, make: Callable[[Path], None]
) -> None:
    make(tmp_path / "model")
    (with_good_film.folder / "shop.toml").write_text(f'[speech]\nengine = "vosk"\nmodel = "{tmp_path / "model"}"\n')
    command = [sys.executable, "-m", "diaryidx.cli", "index", "--shop", str(with_good_film.folder)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 1, done.stderr
    assert len(done.stderr.strip().splitlines()) == 1, done.stderr
    assert "model" in done.stderr
    for command_name in (("model", "status"), ("check",)):
        said = call(*command_name, "--shop", with_good_film.folder)
        assert said.exit_code == 1
        assert "model" in said.output


def test_every_error_of_ours_ends_with_1_or_2() -> None:
    def kinds(kind: type[DiaryidxError]) -> list[type[DiaryidxError]]:
        return [kind, *(inner for sub in kind.__subclasses__() for inner in kinds(sub))]

    assert {kind.exit_code for kind in kinds(DiaryidxError)} == {1, 2}


def test_a_variable_frame_rate_is_no_trouble(shop: Shop, speech: NDArray[np.int16]) -> None:
    path = shop.recordings / "phone film.mkv"
    with av.open(str(path), "w") as output:
        picture = output.add_stream("mpeg4", rate=30)
        picture.width = picture.height = 64
        sound = output.add_stream("pcm_s16le", rate=16000, layout="mono")
        times = [0, 1, 2, 9, 10, 40, 41, 42, 100, 300]
        for shade, time in enumerate(times):
            frame = av.VideoFrame.from_ndarray(np.full((64, 64, 3), shade * 20, np.uint8), format="rgb24")
            frame.pts = time
            output.mux(picture.encode(frame))
        output.mux(picture.encode(None))
        frame_of_sound = av.AudioFrame.from_ndarray(speech[None, :].copy(), format="s16", layout="mono")
        frame_of_sound.sample_rate = 16000
        output.mux(sound.encode(frame_of_sound))
        output.mux(sound.encode(None))
    code, rows = indexed(shop)
    assert code == 0
    assert rows["phone film.mkv"]["sentences"] > 0


def test_a_film_outside_the_recordings_folder_is_taken_where_it_is(shop: Shop, minute: Path, tmp_path: Path) -> None:
    film = excerpt(minute, tmp_path / "elsewhere.wav", seconds=5.0)
    result = call("index", film, "--shop", shop.folder, "--json")
    assert result.exit_code == 0
    assert json.loads(result.stdout)["recordings"][0]["path"] == film.as_posix()
