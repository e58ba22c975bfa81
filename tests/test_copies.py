"""A shop in one file: whole, checked, put back as it was or not at all."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest

from diaryidx.copies import make_copy, put_back
from diaryidx.errors import StoreError, WrongUse
from diaryidx.noting import keep_note
from diaryidx.records import Build
from diaryidx.shop import Shop, load_shop
from diaryidx.store import backup as database_copies
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store


def _photo(path: Path) -> Path:
    out = io.BytesIO()
    with av.open(out, "w", format="image2pipe") as container:
        stream = container.add_stream("mjpeg", rate=1)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuvj420p"
        container.mux(stream.encode(av.VideoFrame.from_ndarray(np.full((72, 64), 90, np.uint8), format="yuvj420p")))
        container.mux(stream.encode(None))
    path.write_bytes(out.getvalue())
    return path


@pytest.fixture
def lived_in(tmp_path: Path) -> Shop:
    """A shop with all that people put into it: a build, a note with a photo, voice notes, a film, words, a job book."""
    folder = tmp_path / "shop"
    (folder / "recordings" / "voice-notes").mkdir(parents=True)
    (folder / "shop.toml").write_text('name = "Tern Lane"\n')
    (folder / "words.yaml").write_text("parts:\n  - knee dents\n")
    (folder / "jobs.csv").write_text("job,make\n31,Orrin\n")
    (folder / "recordings" / "voice-notes" / "2026-11-01 job 31.m4a").write_bytes(b"sent by phone")
    (folder / "recordings" / "memo.m4a").write_bytes(b"dropped in")
    (folder / "recordings" / "diary.mp4").write_bytes(b"a film" * 1000)
    shop = load_shop(folder)
    with closing(open_store(shop.database)) as db:
        writing.save_builds(db, [Build("31", make="Orrin")])
        for film, kind in (("memo", "bench note"), ("diary", "diary")):
            path = "memo.m4a" if film == "memo" else "diary.mp4"
            row = writing.RecordingRow(
                film, path, 1, 1, film, film, kind, "2026-11-01", "file name", "2026-11", 5.0, False
            )
            writing.save_recording(db, row)
        build = reading.build(db.conn, "31")
        keep_note(shop, db, build, "panel has a run", author="Wes", photos=[_photo(tmp_path / "panel.jpg")])
    return shop


def whole(folder: Path) -> dict[str, bytes]:
    """Every file of a shop but its database and what it kept aside."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith(("shop.db", ".")) and "before-restore" not in str(path)
    }


def notes_in(folder: Path) -> list[str]:
    with closing(open_store(folder / "shop.db")) as db:
        return [note.text for note in reading.notes(db.conn)]


def test_a_copy_holds_all_that_people_put_in_and_no_film(lived_in: Shop, tmp_path: Path) -> None:
    held = make_copy(lived_in, tmp_path / "monday.zip")
    photo = next((lived_in.folder / "photos").iterdir()).name
    assert set(held.files) == {
        "shop.db", "shop.toml", "words.yaml", "jobs.csv", f"photos/{photo}", "recordings/memo.m4a",
        "recordings/voice-notes/2026-11-01 job 31.m4a",
    }  # fmt: skip
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith((".", "monday"))] == ["monday.zip"]
    assert (tmp_path / "monday.zip").stat().st_mode & 0o077 == 0, "it holds customers' names"
    with zipfile.ZipFile(tmp_path / "monday.zip") as parts:
        listed = json.loads(parts.read("contents.json"))["files"]
        for name, one in listed.items():
            assert hashlib.sha256(parts.read(name)).hexdigest() == one["sha256"]


def test_a_new_folder_gets_the_whole_shop_back(lived_in: Shop, tmp_path: Path) -> None:
    make_copy(lived_in, tmp_path / "monday.zip")
    done = put_back(tmp_path / "monday.zip", tmp_path / "new" / "place")
    before = whole(lived_in.folder)
    del before["recordings/diary.mp4"]
    assert whole(tmp_path / "new" / "place") == before
    assert notes_in(tmp_path / "new" / "place") == ["panel has a run"]
    assert done.kept == () and load_shop(tmp_path / "new" / "place").settings.name == "Tern Lane"


def test_nothing_is_overwritten_unless_that_is_said_and_then_it_is_kept(lived_in: Shop, tmp_path: Path) -> None:
    make_copy(lived_in, tmp_path / "monday.zip")
    (lived_in.folder / "words.yaml").write_text("parts:\n  - later words\n")
    (lived_in.folder / "photos" / "another.jpg").write_bytes(b"taken since")
    with closing(open_store(lived_in.database)) as db:
        keep_note(lived_in, db, reading.build(db.conn, "31"), "written since", author="Ruth")
    with pytest.raises(WrongUse, match=r"shop\.db, words\.yaml.*--overwrite"):
        put_back(tmp_path / "monday.zip", lived_in.folder)
    assert notes_in(lived_in.folder) == ["panel has a run", "written since"]
    done = put_back(tmp_path / "monday.zip", lived_in.folder, overwrite=True)
    assert done.files == ("shop.db", "words.yaml"), "what is the same already is left alone"
    assert notes_in(lived_in.folder) == ["panel has a run"]
    assert "knee dents" in (lived_in.folder / "words.yaml").read_text()
    assert (lived_in.folder / "photos" / "another.jpg").exists(), "what the copy does not have stays"
    database, beside = done.kept
    assert "later words" in (beside / "words.yaml").read_text()
    with closing(open_store(database)) as db:
        assert [note.text for note in reading.notes(db.conn)] == ["panel has a run", "written since"]


def _damaged(raw: bytes) -> bytes:
    middle = raw.index(b"words.yaml") + 30
    return raw[:middle] + bytes([raw[middle] ^ 0xFF]) + raw[middle + 1 :]


def _with_file(name: str) -> Callable[[bytes], bytes]:
    """The same copy with one more file, listed as it should be."""

    def changed(raw: bytes) -> bytes:
        out = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(raw)) as old, zipfile.ZipFile(out, "w") as new:
            about = json.loads(old.read("contents.json"))
            about["files"][name] = {"sha256": hashlib.sha256(b"x").hexdigest(), "bytes": 1}
            for one in old.namelist():
                new.writestr(one, json.dumps(about) if one == "contents.json" else old.read(one))
            new.writestr(name, b"x")
        return out.getvalue()

    return changed


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (lambda raw: raw[: len(raw) // 2], "copy"),
        (_damaged, "damaged|copy"),
        (lambda raw: b"PK\x03\x04 no zip at all", "copy"),
        (_with_file("../outside.csv"), "no copy"),
        (_with_file("/etc/outside.csv"), "no copy"),
        (_with_file(".hidden.csv"), "no copy"),
        (_with_file("plugin.py"), "no copy"),
    ],
)
def test_what_is_no_whole_copy_is_refused_and_nothing_is_touched(
    lived_in: Shop, tmp_path: Path, change: Callable[[bytes], bytes], says: str
) -> None:
    make_copy(lived_in, tmp_path / "monday.zip")
    before = whole(lived_in.folder)
    (tmp_path / "other.zip").write_bytes(change((tmp_path / "monday.zip").read_bytes()))
    with pytest.raises(StoreError, match=says) as raised:
        put_back(tmp_path / "other.zip", lived_in.folder, overwrite=True)
    assert "\n" not in str(raised.value)
    assert whole(lived_in.folder) == before and notes_in(lived_in.folder) == ["panel has a run"]
    assert not (tmp_path / "outside.csv").exists()
    assert [path.name for path in lived_in.folder.glob(".restore-*")] == []


def test_where_the_database_cannot_be_put_back_no_file_is(lived_in: Shop, tmp_path: Path) -> None:
    make_copy(lived_in, tmp_path / "monday.zip")
    (lived_in.folder / "words.yaml").write_text("parts:\n  - later words\n")
    before = whole(lived_in.folder)
    with closing(open_store(lived_in.database)) as site:
        reading.builds(site.conn)
        with pytest.raises(StoreError, match="has it open"):
            put_back(tmp_path / "monday.zip", lived_in.folder, overwrite=True)
    assert whole(lived_in.folder) == before
    assert list(lived_in.folder.glob("before-restore-*")) == []


def test_a_copy_of_the_database_alone_is_still_put_back(lived_in: Shop, tmp_path: Path) -> None:
    database_copies.backup(lived_in.database, tmp_path / "old.db")
    with closing(open_store(lived_in.database)) as db:
        keep_note(lived_in, db, reading.build(db.conn, "31"), "written since", author="Ruth")
    with pytest.raises(WrongUse, match="--overwrite"):
        put_back(tmp_path / "old.db", lived_in.folder)
    done = put_back(tmp_path / "old.db", lived_in.folder, overwrite=True)
    assert (done.files, notes_in(lived_in.folder)) == (("shop.db",), ["panel has a run"])


def test_a_job_book_elsewhere_is_not_in_it_and_a_file_is_never_overwritten(lived_in: Shop, tmp_path: Path) -> None:
    (tmp_path / "elsewhere.csv").write_text("job\n31\n")
    elsewhere = replace(lived_in, settings=replace(lived_in.settings, jobs_file=str(tmp_path / "elsewhere.csv")))
    assert "jobs.csv" not in make_copy(elsewhere, tmp_path / "monday.zip").files
    raw = (tmp_path / "monday.zip").read_bytes()
    with pytest.raises(WrongUse, match="nothing is overwritten"):
        make_copy(lived_in, tmp_path / "monday.zip")
    assert (tmp_path / "monday.zip").read_bytes() == raw
