"""Copies of the database: while others write, never over a file, checked; and putting one back, whatever happens."""

from __future__ import annotations

import multiprocessing
import sqlite3
from contextlib import closing
from multiprocessing.synchronize import Event
from pathlib import Path

import pytest

from diaryidx.errors import StoreError, WrongUse
from diaryidx.records import Build
from diaryidx.store import reading, writing
from diaryidx.store.backup import backup, restore
from diaryidx.store.database import open_store


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A closed database with one build."""
    (tmp_path / "shop").mkdir()
    path = tmp_path / "shop" / "shop.db"
    save(path, "1")
    return path


def save(path: Path, *jobs: str) -> None:
    db = open_store(path)
    writing.save_builds(db, [Build(job) for job in jobs])
    db.close()


def jobs(path: Path) -> list[str]:
    db = open_store(path)
    try:
        return [build.job_number for build in reading.builds(db.conn)]
    finally:
        db.close()


def _write_until_told(path: str, stop: Event, started: Event) -> None:
    db = open_store(Path(path))
    number = 0
    while not stop.is_set():
        number += 1
        writing.save_builds(db, [Build(f"a{number}"), Build(f"b{number}")])
        started.set()
    db.close()


def test_a_copy_made_while_another_program_writes_is_sound_and_of_one_moment(path: Path, tmp_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    stop, started = context.Event(), context.Event()
    writer = context.Process(target=_write_until_told, args=(str(path), stop, started))
    writer.start()
    try:
        assert started.wait(60)
        for number in range(3):
            backup(path, tmp_path / f"copy-{number}.db")
    finally:
        stop.set()
        writer.join(60)
    assert writer.exitcode == 0
    counts = []
    for number in range(3):
        found = jobs(tmp_path / f"copy-{number}.db")
        assert {job[1:] for job in found if job[0] == "a"} == {job[1:] for job in found if job[0] == "b"}
        counts.append(len(found))
    assert counts == sorted(counts) and counts[-1] <= len(jobs(path))


def test_a_copy_is_one_file_and_leaves_nothing_else(path: Path, tmp_path: Path) -> None:
    (tmp_path / "copies").mkdir()
    backup(path, tmp_path / "copies" / "monday.db")
    assert [file.name for file in (tmp_path / "copies").iterdir()] == ["monday.db"]
    with closing(sqlite3.connect(tmp_path / "copies" / "monday.db")) as copy:
        assert copy.execute("pragma integrity_check").fetchone()[0] == "ok"


def test_no_file_is_overwritten(path: Path, tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("dear customer")
    for file in (letter, path):
        before = file.read_bytes()
        with pytest.raises(WrongUse, match="nothing is overwritten"):
            backup(path, file)
        assert file.read_bytes() == before


@pytest.mark.parametrize("name", ["nowhere/copy.db", "shop.db/copy.db"])
def test_a_copy_that_cannot_be_written_is_said_in_one_line(path: Path, name: str) -> None:
    with pytest.raises(StoreError) as raised:
        backup(path, path.parent / name)
    assert "\n" not in str(raised.value)


def test_without_a_database_there_is_nothing_to_copy(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="no database to copy"):
        backup(tmp_path / "shop.db", tmp_path / "copy.db")
    assert list(tmp_path.iterdir()) == []


def test_what_was_copied_comes_back_and_what_was_there_is_kept(path: Path, tmp_path: Path) -> None:
    backup(path, tmp_path / "copy.db")
    save(path, "2")
    kept = restore(tmp_path / "copy.db", path)
    assert kept is not None
    assert (jobs(path), jobs(kept)) == (["1"], ["1", "2"])
    db = open_store(path)
    assert db.execute("pragma journal_mode").fetchone()[0] == "wal"
    db.close()
    assert jobs(tmp_path / "copy.db") == ["1"]


def test_a_lost_database_is_put_back(path: Path, tmp_path: Path) -> None:
    backup(path, tmp_path / "copy.db")
    path.unlink()
    assert restore(tmp_path / "copy.db", path) is None
    assert jobs(path) == ["1"]


@pytest.mark.parametrize("damage", [b"no database at all", b"SQLite format 3\0" + b"\xff" * 9000])
def test_a_damaged_database_is_replaced_and_kept(path: Path, tmp_path: Path, damage: bytes) -> None:
    backup(path, tmp_path / "copy.db")
    path.write_bytes(damage)
    kept = restore(tmp_path / "copy.db", path)
    assert jobs(path) == ["1"]
    assert kept is not None and kept.read_bytes() == damage


def _other(path: Path) -> None:
    with closing(sqlite3.connect(path)) as other:
        other.execute("create table recipes (name text)")
        other.commit()


def _newer(path: Path) -> None:
    db = open_store(path)
    db.table("_sqlite_migrations").insert({"migration_set": "diaryidx", "name": "from_the_future", "applied_at": "x"})
    db.close()


def _torn(path: Path) -> None:
    """Sound at its beginning, so that it opens; whole pages in its middle are something else."""
    db = open_store(path)
    writing.save_builds(db, [Build(f"{number}", asked_for="seat " * 50) for number in range(400)])
    db.execute("pragma wal_checkpoint(truncate)")
    db.close()
    content = bytearray(path.read_bytes())
    content[len(content) // 2 : len(content) // 2 + 3 * 4096] = b"\x5a" * (3 * 4096)
    path.write_bytes(content)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda path: None, "no such file"),
        (lambda path: path.write_bytes(b""), "no database of diaryidx"),
        (lambda path: path.write_bytes(b"a letter" * 1000), "cannot be copied"),
        (_other, "no database of diaryidx"),
        (_newer, "newer version"),
        (_torn, "damaged|cannot be copied"),
    ],
)
def test_what_is_no_sound_copy_is_refused_and_nothing_is_touched(path: Path, tmp_path: Path, make, says: str) -> None:  # type: ignore[no-untyped-def]
    make(tmp_path / "copy.db")
    before = sorted(file.name for file in path.parent.iterdir())
    with pytest.raises(StoreError, match=says) as raised:
        restore(tmp_path / "copy.db", path)
    assert "\n" not in str(raised.value)
    assert sorted(file.name for file in path.parent.iterdir()) == before
    assert jobs(path) == ["1"]


def test_while_the_site_has_the_database_open_nothing_is_put_back(path: Path, tmp_path: Path) -> None:
    backup(path, tmp_path / "copy.db")
    site = open_store(path)
    reading.builds(site.conn)
    with pytest.raises(StoreError, match="has it open"):
        restore(tmp_path / "copy.db", path)
    assert [build.job_number for build in reading.builds(site.conn)] == ["1"]
    site.close()
    restore(tmp_path / "copy.db", path)


def test_killed_at_the_last_moment_the_database_is_in_its_place(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    backup(path, tmp_path / "copy.db")
    save(path, "2")

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(Path, "replace", killed)
    with pytest.raises(KeyboardInterrupt):
        restore(tmp_path / "copy.db", path)
    monkeypatch.undo()
    assert jobs(path) == ["1", "2"]
