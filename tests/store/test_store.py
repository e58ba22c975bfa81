from __future__ import annotations

import dataclasses
import multiprocessing
import sqlite3
from pathlib import Path
from typing import TypeVar

import pytest
from sqlite_utils import Database

from diaryidx.errors import NotFound, StoreError
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
from diaryidx.store import reading, writing
from diaryidx.store.database import APPLICATION_ID, open_store
from diaryidx.store.migrations import FULL_TEXT, HUMAN_TABLES, MACHINE_TABLES
from diaryidx.store.words import pack_words, unpack_words

ROW = writing.RecordingRow(
    "may-diary", "2026/may.webm", 10, 20, "hash", "May diary", "other", "2026-05-02", "file name", "2026-05", 60.0, True
)
SENTENCES = (
    Sentence(
        0.5,
        2.0,
        "the wiper is off",
        "the viper is off",
        (Word("the", 0.5, 0.7, 0.9),),
        (Repair("wiper", "viper", 0.8),),
    ),
    Sentence(3.0, 5.0, "the petrol tank is at the painter", "the petrol tank is at the painter", certainty=0.7),
)
READING = Reading(
    kind="diary",
    mentions=(Mention("PART", "petrol tank", "fuel tank", 1, 4, 15, value={"n": 1}),),
    segments=(Segment(0.5, 5.0, 0, 1, "The viper", Subject("build")),),
    statements=(
        Statement(
            "waiting", SENTENCES[1].text, part="fuel tank", who="painter", when="since May", subject=Subject("build"),
            sentence=1, segment=0, start=3.0, end=5.0, rule="at someone",
        ),
        Statement("usual practice", "we always grease it", subject=Subject("shop"), sentence=0, segment=0),
    ),
    entries=(Entry("how do I drain the tank", "with a hose", 3.0, 5.0, ("fuel tank",)),),
    promises=(Promise("next month we will paint it", 3.0, 5.0, "2026-06"),),
    events=(Event("open day", 3.0, 5.0, "2026-06-01", "the yard", True, "maybe the first"),),
    products=(ProductLine("grip", 3.0, 5.0, "about forty", price=40.0, currency="GBP", approximate=True),),
)  # fmt: skip


@pytest.fixture
def filled(db: Database) -> Database:
    writing.save_builds(db, [Build("12", customer="A. Nonymous", nickname="viper", public=True)])
    writing.save_recording(db, ROW)
    writing.save_reading(db, ROW.id, SENTENCES, READING, reading_key="k", engine="vosk:m")
    return db


def test_prices_and_measures_can_be_looked_for_by_amount_and_unit(filled: Database) -> None:
    mentions = (
        Mention("MEASURE", "47 Nm", "47 newton metre", 0, 0, 5, value={"amount": 47.0, "unit": "newton metre"}),
        Mention("PRICE", "£39.99", "39.99 GBP", 0, 6, 12, value={"amount": 39.99, "currency": "GBP"}),
        Mention("PART", "tank", "fuel tank", 0, 13, 17),
    )
    again = dataclasses.replace(READING, mentions=mentions)
    writing.save_reading(filled, ROW.id, SENTENCES, again, reading_key="k", engine="vosk:m")
    rows = filled.conn.execute("select amount, unit from mentions order by start_char").fetchall()
    assert rows == [(47.0, "newton metre"), (39.99, "GBP"), (None, None)]
    assert tuple(reading.mentions(filled.conn, ROW.id)) == mentions


Said = TypeVar("Said", Statement, Promise, Event, ProductLine)


def _as_said(one: Said) -> Said:
    """A record without what the store knows of its film, which must be there."""
    assert one.said_on == ROW.date
    return dataclasses.replace(one, said_on=None)


def test_what_was_saved_comes_back_as_the_same_records(filled: Database) -> None:
    without_id = [dataclasses.replace(one, id=None, recording=None) for one in reading.sentences(filled.conn, ROW.id)]
    assert tuple(without_id) == SENTENCES
    assert tuple(reading.mentions(filled.conn, ROW.id)) == READING.mentions
    for saved, read in (
        (READING.segments, reading.segments(filled.conn)),
        (READING.statements[::-1], [_as_said(one) for one in reading.statements(filled.conn)]),
        (READING.entries, reading.entries(filled.conn)),
        (READING.promises, [_as_said(one) for one in reading.promises(filled.conn)]),
        (READING.events, [_as_said(one) for one in reading.events(filled.conn)]),
        (READING.products, [_as_said(one) for one in reading.products(filled.conn)]),
    ):
        assert [dataclasses.replace(one, id=None, recording=None) for one in read] == list(saved)  # type: ignore[type-var]
    assert reading.build(filled.conn, "12") == Build("12", customer="A. Nonymous", nickname="viper", public=True)


def test_a_film_of_no_known_kind_takes_the_kind_that_its_talk_shows(filled: Database) -> None:
    assert reading.recording(filled.conn, ROW.id).kind == "diary"


def test_reading_a_film_again_replaces_everything_and_leaves_nothing_behind(filled: Database) -> None:
    writing.save_reading(filled, ROW.id, SENTENCES[:1], Reading("diary"), reading_key="k2")
    counts = {table: filled.table(table).count for table in MACHINE_TABLES}
    assert {table: count for table, count in counts.items() if count} == {"recordings": 1, "sentences": 1}
    assert reading.search_sentences(filled.conn, '"petrol"') == []


def test_search_finds_the_meant_word_the_heard_word_and_the_canonical_term(filled: Database) -> None:
    for words, start in (('"viper"', 0.5), ('"wiper"', 0.5), ('"fuel"', 3.0), ('"painters"', 3.0)):
        assert [hit.sentence.start for hit in reading.search_sentences(filled.conn, words)] == [start], words
    assert [hit.entry.question for hit in reading.search_entries(filled.conn, '"draining"')] == [
        "how do I drain the tank"
    ]


def test_linking_moves_the_statements_about_the_bike_and_no_others(filled: Database) -> None:
    segment = reading.segments(filled.conn)[0]
    writing.save_links(filled, ROW.id, [dataclasses.replace(segment, build="12", certainty=0.9, evidence=("said so",))])
    by_status = {one.status: one for one in reading.statements(filled.conn)}
    assert (by_status["waiting"].build, by_status["waiting"].subject) == ("12", Subject("build", "12"))
    assert by_status["usual practice"].build is None
    assert reading.segments(filled.conn, build="12")[0].evidence == ("said so",)
    writing.save_links(filled, ROW.id, [segment])
    assert {one.build for one in reading.statements(filled.conn)} == {None}


def test_a_statement_is_as_sure_as_its_words_and_its_link_together(filled: Database) -> None:
    segment = reading.segments(filled.conn)[0]
    unlinked = {one.status: one.certainty for one in reading.statements(filled.conn)}
    writing.save_links(filled, ROW.id, [dataclasses.replace(segment, build="12", certainty=0.8)])
    linked = {one.status: one.certainty for one in reading.statements(filled.conn)}
    assert linked["waiting"] == pytest.approx(unlinked["waiting"] * 0.8)
    assert linked["usual practice"] == unlinked["usual practice"]  # of no bike
    writing.save_links(filled, ROW.id, [dataclasses.replace(segment, build="12", certainty=1.0)])  # a person's word
    assert {one.status: one.certainty for one in reading.statements(filled.conn)} == unlinked


def test_a_persons_corrections_outrank_guesses_and_survive_a_reindex(filled: Database) -> None:
    writing.correct_recording(filled, ROW.id, {"title": "Spring diary", "date": "2026-04-30", "month": "2026-04"})
    writing.save_recording(filled, ROW)
    film = reading.recording(filled.conn, ROW.id)
    assert (film.title, film.date, film.month, film.date_from) == ("Spring diary", "2026-04-30", "2026-04", "a person")
    assert [one.id for one in reading.recordings(filled.conn, month="2026-04")] == [ROW.id]


def test_saving_a_film_again_keeps_what_was_heard_of_it(filled: Database) -> None:
    writing.save_recording(filled, ROW)
    assert len(reading.sentences(filled.conn, ROW.id)) == 2


def test_the_job_book_is_updated_by_job_number_and_nothing_is_deleted(filled: Database) -> None:
    writing.save_builds(filled, [Build("12", nickname="adder"), Build("7")])
    assert [(one.job_number, one.nickname) for one in reading.builds(filled.conn)] == [("7", None), ("12", "adder")]


def test_finished_stretches_are_kept_until_the_film_is_stored(db: Database) -> None:
    writing.save_recording(db, ROW)
    words = (Word("well", 1.0, 1.25, 0.5), Word("Hello,", 2.0, 2.5, None, True, "1"))
    writing.save_stretch(db, "hash", "engine", 0, 16000, words)
    assert reading.stretches(db.conn, "hash", "engine") == {(0, 16000): words}
    assert reading.stretches(db.conn, "hash", "another engine") == {}
    writing.save_reading(db, ROW.id, SENTENCES, READING, reading_key="k", engine="vosk:m")
    assert reading.stretches(db.conn, "hash", "engine") == {}


def test_a_change_that_breaks_half_way_leaves_the_film_as_it_was(filled: Database) -> None:
    broken = dataclasses.replace(READING, statements=(Statement("done", "x", sentence=99),))
    with pytest.raises(IndexError):
        writing.save_reading(filled, ROW.id, SENTENCES[:1], broken, reading_key="k3")
    assert len(reading.sentences(filled.conn, ROW.id)) == 2
    assert len(reading.statements(filled.conn)) == 2


def test_an_unknown_film_is_said_with_the_nearest_names(filled: Database) -> None:
    with pytest.raises(NotFound, match="did you mean may-diary"):
        reading.recording(filled.conn, "may-dairy")


def test_words_survive_packing() -> None:
    words = (Word("“Grüße”", 0.001, 1.5, 0.3333, True, "2"),)
    assert unpack_words(pack_words(words)) == words


def test_every_table_is_either_a_persons_or_the_machines(db: Database) -> None:
    own = {name for name in db.table_names() if "_fts" not in name and not name.startswith(("_", "sqlite_"))}
    assert own == set(HUMAN_TABLES) | set(MACHINE_TABLES)
    assert not set(HUMAN_TABLES) & set(MACHINE_TABLES)


def test_the_database_says_that_it_is_ours_and_uses_a_write_ahead_log(db: Database) -> None:
    assert db.execute("pragma application_id").fetchone()[0] == APPLICATION_ID
    assert db.execute("pragma journal_mode").fetchone()[0] == "wal"
    assert db.execute("pragma foreign_keys").fetchone()[0] == 1
    for table, columns in FULL_TEXT.items():
        assert db.table(table).detect_fts() == f"{table}_fts"
        assert set(columns) <= set(db.table(table).columns_dict)


def test_another_programs_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    with sqlite3.connect(path) as other:
        other.execute("create table recipes (name text)")
    before = path.read_bytes()
    with pytest.raises(StoreError, match="another program's database"):
        open_store(path)
    assert path.read_bytes() == before


@pytest.mark.parametrize("content", [b"not a database at all, just text" * 40, b"SQLite format 3\0" + b"\xff" * 5000])
def test_a_damaged_database_is_said_in_one_line_and_left_alone(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "shop.db"
    path.write_bytes(content)
    with pytest.raises(StoreError, match="damaged or no SQLite database"):
        open_store(path)
    assert path.read_bytes() == content


def test_a_database_of_a_newer_version_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    db = open_store(path)
    db.table("_sqlite_migrations").insert({"migration_set": "diaryidx", "name": "from_the_future", "applied_at": "x"})
    db.close()
    with pytest.raises(StoreError, match="newer version"):
        open_store(path)


def test_a_missing_folder_is_said_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="cannot be opened"):
        open_store(tmp_path / "nowhere" / "shop.db")


def test_a_locked_database_is_said_in_one_line(
    filled: Database, shop_db_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("diaryidx.store.database.BUSY_SECONDS", 0.1)
    second = open_store(shop_db_path)
    filled.conn.execute("begin immediate")
    with pytest.raises(StoreError, match="another program is writing"):
        writing.save_builds(second, [Build("13")])
    filled.conn.rollback()
    writing.save_builds(second, [Build("13")])
    second.close()


@pytest.fixture
def shop_db_path(db: Database) -> Path:
    return Path(db.execute("select file from pragma_database_list").fetchone()[0])


def _write_many(path: str, first: int) -> None:
    db = open_store(Path(path))
    for number in range(first, first + 40):
        writing.save_builds(db, [Build(str(number))])
    db.close()


def test_two_programs_that_write_at_once_both_get_everything_in(shop_db_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    processes = [context.Process(target=_write_many, args=(str(shop_db_path), first)) for first in (1000, 2000)]
    for process in processes:
        process.start()
    for process in processes:
        process.join(60)
        assert process.exitcode == 0
    db = open_store(shop_db_path)
    assert len(reading.builds(db.conn)) == 80
    db.close()


def test_two_programs_may_make_the_database_at_the_same_moment(tmp_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    path = str(tmp_path / "shop.db")
    processes = [context.Process(target=_write_many, args=(path, first)) for first in (1000, 2000)]
    for process in processes:
        process.start()
    for process in processes:
        process.join(60)
        assert process.exitcode == 0
