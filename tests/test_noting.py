"""Notes from the bench: kept for ever, read like talk, shown beside films, taken back without being lost."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from sqlite_utils import Database

from diaryidx.builds.finding import find_build
from diaryidx.builds.history import history
from diaryidx.builds.telling import describe_history
from diaryidx.checking import check
from diaryidx.cli import main
from diaryidx.errors import MediaError, NotFound, VocabularyError, WrongUse
from diaryidx.indexing import index
from diaryidx.noting import add_note, keep_note, read_notes, statements_of, undo_note
from diaryidx.records import Build, Note
from diaryidx.shop import Shop
from diaryidx.store import reading, writing

if TYPE_CHECKING:
    from spacy.language import Language

WORDS = [
    "tank", "seat", "the", "front rim", "is", "painted", "waiting for", "not", "on order", "\n", ".", "satin black",
    "we've", "fitted", "he wants", "next week", "two", "£40", "job 12", "bye", "?",
]  # fmt: skip
JOB = Build("117", "Ada Quill", "Tarnbeck", "Otter 500", registration="KL19 XYZ", nickname="The Goblin")


def call(shop: Shop, *arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [*map(str, arguments), "--shop", str(shop.folder)])


@pytest.fixture
def goblin(db: Database) -> Build:
    writing.save_builds(db, [JOB, Build("118", "Ada Quill", "Orrin", "Wren")])
    return JOB


def picture(path: Path, size: tuple[int, int] = (64, 48)) -> Path:
    Image.new("RGB", size, (200, 120, 20)).save(path)
    return path


def test_a_note_is_read_and_shows_in_the_history(shop: Shop, db: Database, goblin: Build) -> None:
    note = add_note(
        shop, db, goblin, "We're waiting for the wiring loom.\nCustomer rang twice.", date="3 Nov 2025", author="Wes"
    )
    assert (note.date, note.author, note.build) == ("2025-11-03", "Wes", "117")
    told = history(db.conn, goblin)
    (waiting,) = [one for one in told.statements if one.source == "note"]
    assert (waiting.part, waiting.status, waiting.note, waiting.said_on) == (
        "wiring loom",
        "waiting",
        note.id,
        note.date,
    )
    assert (waiting.recording, waiting.start, waiting.build) == (None, None, "117")
    assert waiting in told.open
    lines = describe_history(told, [])
    assert f"Note {note.id} by Wes, 3 November 2025" in lines


def test_a_note_in_which_nothing_is_stated_is_shown_all_the_same(shop: Shop, db: Database, goblin: Build) -> None:
    keep_note(shop, db, goblin, "Customer rang, comes on Friday", author="Wes")
    assert '  "Customer rang, comes on Friday"' in describe_history(history(db.conn, goblin), [])


def test_two_notes_can_disagree(shop: Shop, db: Database, goblin: Build) -> None:
    add_note(shop, db, goblin, "the tank is painted gloss black", date="2025-10-01", author="Wes")
    add_note(shop, db, goblin, "the tank is painted satin white", date="2025-11-01", author="Ruth")
    ((first, second),) = history(db.conn, goblin).conflicts
    assert (first.note, second.note) == (1, 2)
    lines = describe_history(history(db.conn, goblin), [])
    assert "The notes disagree" in lines and "The films disagree" not in lines


def test_an_undone_note_is_kept_and_counts_no_more(shop: Shop, db: Database, goblin: Build) -> None:
    note = add_note(shop, db, goblin, "the frame is painted satin black", author="Wes")
    undone = undo_note(db, note.id, "Ruth")
    assert (undone.text, undone.undone_by) == (note.text, "Ruth")
    assert undo_note(db, note.id, "Somebody else").undone_by == "Ruth"
    told = history(db.conn, goblin)
    assert [one for one in told.statements if one.source == "note"] == []
    assert told.notes == ()
    with pytest.raises(NotFound, match="note list"):
        undo_note(db, 99)


def test_new_words_change_what_is_understood_and_never_what_was_written(
    shop: Shop, db: Database, goblin: Build
) -> None:
    note = add_note(shop, db, goblin, "the dringle is fitted", author="Wes")
    assert reading.note_statements(db.conn) == []
    shop.words.write_text("parts:\n  - dringle\n")
    index(shop, db)
    assert [one.part for one in reading.note_statements(db.conn)] == ["dringle"]
    assert reading.note(db.conn, note.id).text == note.text
    assert read_notes(shop, db) == 0, "read once is enough"


def test_photos_are_copied_under_the_hash_of_their_bytes(
    shop: Shop, db: Database, goblin: Build, tmp_path: Path
) -> None:
    photos = [picture(tmp_path / f"tank{suffix}") for suffix in (".jpg", ".png", ".webp")]
    note = keep_note(shop, db, goblin, "run in the paint", photos=[*photos, photos[0]])
    assert [photo.name for photo in note.photos] == ["tank.jpg", "tank.png", "tank.webp", "tank.jpg"]
    kept = sorted(path.name for path in shop.photos.iterdir())
    assert kept == sorted({photo.file for photo in note.photos})
    for photo in note.photos:
        file = shop.photos / photo.file
        assert (photo.width, photo.height) == (64, 48)
        assert file.stat().st_mode & 0o111 == 0
    assert (shop.photos / note.photos[0].file).read_bytes() == photos[0].read_bytes()
    assert reading.note(db.conn, note.id).photos == note.photos


@pytest.mark.parametrize(
    "content",
    [
        b"#!/bin/sh\necho hello\n",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"\xff\xd8\xff\xe0 not really a picture",
        b"\x89PNG\r\n\x1a\n<html>",
        b"RIFF\x00\x00\x00\x00WEBPnothing",
        b"GIF89a\x01\x00\x01\x00",
        b"MZ\x90\x00",
        b"",
    ],
)
def test_what_is_no_picture_is_refused_in_one_line_and_no_note_is_made(
    shop: Shop, db: Database, goblin: Build, tmp_path: Path, content: bytes
) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(content)
    with pytest.raises(MediaError) as caught:
        keep_note(shop, db, goblin, "look at this", photos=[path])
    assert "\n" not in str(caught.value) and "photo.jpg" in str(caught.value)
    assert reading.notes(db.conn) == []
    assert not list(shop.photos.glob("*")) if shop.photos.exists() else True


def test_a_photo_cut_short_or_too_large_is_refused(
    shop: Shop, db: Database, goblin: Build, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = picture(tmp_path / "whole.png", (640, 480)).read_bytes()
    (tmp_path / "cut.png").write_bytes(whole[:60])
    with pytest.raises(MediaError, match="cannot be opened"):
        keep_note(shop, db, goblin, "x", photos=[tmp_path / "cut.png"])
    monkeypatch.setattr("diaryidx.media.photos.LARGEST_BYTES", 1000)
    with pytest.raises(MediaError, match="larger than"):
        keep_note(shop, db, goblin, "x", photos=[tmp_path / "whole.png"])


@pytest.mark.parametrize(
    ("text", "date"),
    [("", None), ("  \n", None), ("x" * 9000, None), ("fine", "soon"), ("fine", "2025-11"), ("fine", "2099-01-01")],
)
def test_a_note_without_words_or_of_no_day_is_wrong_use(
    shop: Shop, db: Database, goblin: Build, text: str, date: str | None
) -> None:
    with pytest.raises(WrongUse):
        keep_note(shop, db, goblin, text, date=date)


def test_the_commands_write_list_and_undo(shop: Shop, db: Database, goblin: Build, tmp_path: Path) -> None:
    photo = picture(tmp_path / "loom.jpg")
    added = call(shop, "note", "the goblin", "waiting for the wiring loom", "--photo", photo, "--as", "Wes", "--json")
    assert added.exit_code == 0, added.output
    shown = json.loads(added.stdout)
    assert (shown["note"]["build"], shown["note"]["author"]) == ("117", "Wes")
    assert shown["statements"][0]["source"] == "note"
    assert call(shop, "note", "--as", "Ruth", "118", "new tyres are on").exit_code == 0
    listed = json.loads(call(shop, "note", "list", "--json").stdout)["notes"]
    assert [(one["id"], one["undone"]) for one in listed] == [(1, False), (2, False)]
    assert "undone by Ruth" in call(shop, "note", "undo", "1", "--as", "Ruth").stdout
    again = call(shop, "note", "undo", "1", "--as", "Wes")
    assert again.exit_code == 0
    assert again.stdout.startswith("Note 1 was undone by Ruth on ") and "already; nothing was changed" in again.stdout
    assert "(undone by Ruth)" in call(shop, "note", "list", "kl19xyz").stdout
    told = json.loads(call(shop, "history", "118", "--json").stdout)
    assert [one["text"] for one in told["notes"]] == ["new tyres are on"]


def test_a_note_about_an_unclear_bike_is_not_kept(shop: Shop, db: Database, goblin: Build) -> None:
    result = call(shop, "note", "Ada Quill", "the frame is done")
    assert (result.exit_code, len(result.stderr.splitlines())) == (2, 1)
    assert "117" in result.stderr and "118" in result.stderr
    assert reading.notes(db.conn) == []
    assert call(shop, "note", "999", "x").exit_code == 2
    assert call(shop, "note", "undo", "7").exit_code == 2


def test_gaps_and_developments_are_listed_by_their_commands(shop: Shop, db: Database, goblin: Build) -> None:
    assert "Nothing is missing" in call(shop, "jobs", "gaps").stdout
    assert "words.yaml" in call(shop, "developments").stdout
    add_note(shop, db, goblin, "We're waiting for the wiring loom.", date="2025-11-03")
    shown = json.loads(call(shop, "jobs", "gaps", "--json").stdout)
    assert [(one["build"]["job_number"], one["since"]) for one in shown["waiting"]] == [("117", "2025-11-03")]
    assert "note 1: “We're waiting for the wiring loom.”" in call(shop, "jobs", "gaps").stdout
    assert call(shop, "developments", "--json").exit_code == 0
    assert call(shop, "developments", "nothing").exit_code == 2


def test_a_bike_is_found_by_what_a_note_says_of_it(shop: Shop, db: Database, goblin: Build) -> None:
    add_note(shop, db, goblin, "the brass petrol cap is fitted")
    assert find_build(db.conn, "the one with the brass petrol cap") == goblin


@cache
def pipeline() -> Language:
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.vocabulary.loader import load_vocabulary

    return build_pipeline(load_vocabulary())


@settings(deadline=None, max_examples=80)
@given(st.one_of(st.text(max_size=200), st.lists(st.sampled_from(WORDS), max_size=30).map(" ".join)))
def test_any_text_is_read_without_error_and_states_things_of_its_own_bike_alone(text: str) -> None:
    for one in statements_of(pipeline(), Note(7, "117", text, "2025-11-03", "Wes", "2025-11-03T10:00:00+00:00")):
        assert (one.build, one.source, one.note, one.said_on) == ("117", "note", 7, "2025-11-03")
        assert (one.recording, one.segment, one.start, one.end) == (None, None, None, None)
        assert 0 < one.certainty <= 1 and one.text.strip()


def test_where_the_shops_words_are_wrong_no_note_is_half_kept(shop: Shop, db: Database, goblin: Build) -> None:
    shop.words.write_text("partz:\n  - x\n")
    with pytest.raises(VocabularyError):
        add_note(shop, db, goblin, "the frame is done")
    assert reading.notes(db.conn) == []
    keep_note(shop, db, goblin, "the frame is done")
    assert len(reading.notes(db.conn)) == 1, "kept without being read, as the site does"


def test_check_tells_of_a_photo_that_is_gone(shop: Shop, db: Database, goblin: Build, tmp_path: Path) -> None:
    note = keep_note(shop, db, goblin, "look at this", photos=[picture(tmp_path / "tank.jpg")])
    assert [one.sound for one in check(shop, db) if one.about == "photos"] == [True]
    (shop.photos / note.photos[0].file).unlink()
    (finding,) = [one for one in check(shop, db) if one.about == "photos"]
    assert not finding.sound and note.photos[0].file in finding.text
