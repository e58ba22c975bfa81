"""Corrections of what was misheard: shown, kept, applied to the whole archive without listening, and taken back."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from filelock import FileLock
from sqlite_utils import Database

from diaryidx import indexing, teaching
from diaryidx.builds.relinking import relink
from diaryidx.errors import NotFound, WrongUse
from diaryidx.faq.search import ask, search_films
from diaryidx.indexing import index
from diaryidx.language import pipeline
from diaryidx.records import Repair
from diaryidx.shop import Shop, load_shop
from diaryidx.store import reading
from diaryidx.store.database import open_store
from diaryidx.teaching import Applied, decide, plan_teaching, plan_undoing
from diaryidx.vocabulary import Vocabulary, load_vocabulary
from tests.taught_archive import AUGUST, JULY, JUNE, everything_said, save_archive, save_film, texts

NAMES = ("brackwater", "bracket water")
ROOT = Path(__file__).resolve().parent.parent


_PIPELINES: dict[object, object] = {}


@pytest.fixture(autouse=True, scope="module")
def one_pipeline_for_the_same_words() -> Iterator[None]:
    """Corrections change no term, and loading the pipeline takes a second."""
    really = pipeline.build_pipeline

    def remembered(vocabulary: Vocabulary) -> object:
        if vocabulary.terms not in _PIPELINES:
            _PIPELINES[vocabulary.terms] = really(vocabulary)
        return _PIPELINES[vocabulary.terms]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "build_pipeline", remembered)
        yield


@pytest.fixture(autouse=True, scope="module")
def only_people_put_words_right() -> Iterator[None]:
    """The machine would repair some of these names by their sound; here it is looked at what a person's word does."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("diaryidx.transcript.repair.repair", lambda _repairer, film, _only=None: tuple(film))
        yield


@pytest.fixture(scope="module")
def archive_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("archive") / "shop"
    (folder / "recordings").mkdir(parents=True)
    (folder / "shop.toml").write_text('[speech]\nengine = "vosk"\nmodel = "mini"\n')
    shop = load_shop(folder)
    db = open_store(shop.database)
    save_archive(shop, db)
    db.close()
    return shop.database


@pytest.fixture
def archive(shop: Shop, archive_once: Path) -> Iterator[Database]:
    shutil.copy(archive_once, shop.database)
    opened = open_store(shop.database)
    yield opened
    opened.close()


def teach(shop: Shop, db: Database, heard: str, meant: str) -> Applied:
    return decide(shop, db, plan_teaching(shop, db, heard, meant), "Ena")


def undo(shop: Shop, db: Database, which: str) -> Applied:
    return decide(shop, db, plan_undoing(shop, db, which), "Ena")


def test_a_plan_shows_every_sentence_that_would_change_and_changes_none(shop: Shop, archive: Database) -> None:
    before = everything_said(archive)
    plan = plan_teaching(shop, archive, "bracket water", "Brackwater")
    assert [(change.recording, change.place, change.after.text) for change in plan.changes] == [
        ("june", 0, "this month we begin with the Brackwater"),
        ("june", 4, "Brackwater's seat is back"),
        ("july", 1, "we fitted the tank to the Brackwater"),
    ]
    assert plan.warnings == ()
    assert everything_said(archive) == before
    assert reading.taught(archive.conn) == []


def test_a_taught_correction_is_applied_and_what_was_heard_stays(shop: Shop, archive: Database) -> None:
    applied = teach(shop, archive, "Bracket Water", "Brackwater")
    assert applied.films == ("june", "july")
    assert (applied.taught.id, applied.taught.made_by) == (1, "Ena")
    first = reading.sentences(archive.conn, "june")[0]
    assert (first.heard, first.text) == (JUNE[0], "this month we begin with the Brackwater")
    assert first.repairs == (Repair("bracket water", "Brackwater", 1.0),)
    assert [word.word for word in first.words] == JUNE[0].split()
    assert texts(archive, "july")[0] == JULY[0]
    assert texts(archive, "august") == list(AUGUST)


def test_the_name_that_was_put_right_is_understood_and_tied_to_its_bike(shop: Shop, archive: Database) -> None:
    assert reading.statements(archive.conn, build="31") == []
    teach(shop, archive, "bracket water", "Brackwater")
    tied = {(one.recording, one.part) for one in reading.statements(archive.conn, build="31")}
    assert ("june", "fuel tank") in tied


def test_only_films_that_say_it_are_read_again(shop: Shop, archive: Database, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[str] = []
    really = teaching.understand
    monkeypatch.setattr(teaching, "understand", lambda u, film, said: read.append(film.id) or really(u, film, said))
    teach(shop, archive, "fork yolks", "fork yokes")
    assert read == ["july"]


def test_taking_it_back_leaves_everything_as_it_was(shop: Shop, archive: Database) -> None:
    before = everything_said(archive)
    teach(shop, archive, "bracket water", "Brackwater")
    assert everything_said(archive) != before
    assert undo(shop, archive, "bracket water").films == ("june", "july")
    assert everything_said(archive) == before
    again = teach(shop, archive, "bracket water", "Brackwater")
    assert again.taught.id == 2
    assert [(one.id, one.undone_by) for one in reading.taught(archive.conn)] == [(1, "Ena"), (2, None)]
    undo(shop, archive, "2")
    assert everything_said(archive) == before
    with pytest.raises(NotFound, match="teach --list"):
        plan_undoing(shop, archive, "2")


def test_a_whole_archive_read_anew_comes_out_the_same(shop: Shop, archive: Database) -> None:
    """The short way (some sentences, some films) against the long one, every film from its start."""
    teach(shop, archive, "bracket water", "Brackwater")
    teach(shop, archive, "fork yolks", "fork yokes")
    relink(archive)
    short = everything_said(archive)
    for name, date, lines in (("june", "06", JUNE), ("july", "07", JULY), ("august", "08", AUGUST)):
        save_film(shop, archive, name, f"2026-{date}-02", lines)
    relink(archive)
    assert everything_said(archive) == short


def test_words_yaml_is_another_source_of_the_same_and_yields_to_what_is_taught(shop: Shop, archive: Database) -> None:
    shop.words.write_text("heard: {bracket water: Blackwater, fork yolks: fork yokes}", encoding="utf-8")
    plan = plan_teaching(shop, archive, "bracket water", "Brackwater")
    assert any("“Blackwater”" in warning for warning in plan.warnings)
    teach(shop, archive, "bracket water", "Brackwater")
    assert texts(archive, "july")[1] == "we fitted the tank to the Brackwater"
    assert "“Blackwater”" in plan_undoing(shop, archive, "1").warnings[0]
    undo(shop, archive, "1")
    assert texts(archive, "july")[1] == "we fitted the tank to the Blackwater"


def test_what_is_taught_is_evidence_in_the_vocabulary(shop: Shop, archive: Database) -> None:
    teach(shop, archive, "Bracket-Water", "Brackwater")
    loaded = load_vocabulary(taught=reading.taught_words(archive.conn))
    assert loaded.heard == {"bracket water": "Brackwater"}
    assert loaded.fingerprint != load_vocabulary().fingerprint


@pytest.mark.parametrize(
    ("heard", "meant", "told"),
    [
        ("", "Brackwater", "what was heard"),
        ("bracket water", " ", "what was meant"),
        ("…", "Brackwater", "no letters or digits"),
        ("a frame", "a  frame", "the same words"),
        ("bracket water", "Brack\x07water", "a name or a few words"),
        ("water " * 13, "Brackwater", "at most 12"),
    ],
)
def test_what_cannot_be_taught_is_said_in_one_line(
    shop: Shop, archive: Database, heard: str, meant: str, told: str
) -> None:
    with pytest.raises(WrongUse, match=told) as error:
        plan_teaching(shop, archive, heard, meant)
    assert "\n" not in str(error.value)


def test_the_same_words_cannot_mean_two_things(shop: Shop, archive: Database) -> None:
    plan = plan_teaching(shop, archive, "Bracket-water", "Blackwater")
    teach(shop, archive, "bracket water", "Brackwater")
    with pytest.raises(WrongUse, match=r"teach --undo 1"):
        plan_teaching(shop, archive, "Bracket-water", "Blackwater")
    with pytest.raises(WrongUse, match=r"teach --undo 1"):
        decide(shop, archive, plan, "Wilmot")  # decided while the first question was still open
    with pytest.raises(WrongUse, match="already"):
        plan_teaching(shop, archive, "bracket water", "Brackwater")
    assert len(reading.taught(archive.conn)) == 1


def test_a_person_is_warned_of_what_may_do_harm(shop: Shop, archive: Database) -> None:
    save_film(shop, archive, "long", "2026-09-01", [f"the tank number {place} is the red one" for place in range(30)])
    (common, unknown) = plan_teaching(shop, archive, "the", "thee").warnings
    assert "heard in 37 of 40 sentences" in common
    assert "“thee” is in neither the job book nor words.yaml" in unknown
    assert "itself a word of the trade" in plan_teaching(shop, archive, "frame", "Brackwater").warnings[0]
    assert "no film says “hazel nut”" in plan_teaching(shop, archive, "hazel nut", "Brackwater").warnings[0]
    teach(shop, archive, "bracket water", "Brackwater")
    written = plan_teaching(shop, archive, "Brackwater", "Blackwater").warnings
    assert any("what was heard is “this month we begin with the bracket water”" in one for one in written)
    assert "the longer one holds" in plan_teaching(shop, archive, "water", "Brackwater").warnings[-1]


def test_what_no_film_says_yet_holds_for_films_to_come(shop: Shop, archive: Database) -> None:
    assert teach(shop, archive, "hazel nut", "Brackwater").films == ()
    save_film(shop, archive, "later", "2026-09-01", ["the Hazel nut is done"])
    assert texts(archive, "later") == ["the Brackwater is done"]


def test_search_finds_what_was_heard_and_what_is_meant(shop: Shop, archive: Database) -> None:
    teach(shop, archive, "bracket water", "Brackwater")
    vocabulary = load_vocabulary(None, reading.builds(archive.conn))
    for words in ("bracket water seat", "brackwater seat"):
        assert search_films(archive.conn, words, vocabulary)[0].sentence.text == "Brackwater's seat is back"


def test_a_question_is_answered_in_the_words_that_were_heard_too(shop: Shop, archive: Database) -> None:
    said = ["what oil goes in a bracket water", "the bracket water takes two litres of twenty fifty oil"]
    save_film(shop, archive, "questions", "2026-09-01", said)
    teach(shop, archive, "bracket water", "Brackwater")
    vocabulary = load_vocabulary(None, reading.builds(archive.conn))
    found = [ask(archive.conn, f"how many litres does the {name} take", vocabulary) for name in NAMES]
    assert [one.answers[0].start for one in found] == [2.0, 2.0]
    assert "Brackwater takes two litres" in found[1].answers[0].text


# --- other programs, other engines -----------------------------------------------------------------------------------


def test_a_decision_made_while_an_index_runs_is_kept_and_the_next_one_applies_it(
    shop: Shop, archive: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(teaching, "WAIT_SECONDS", 0.05)
    with FileLock(shop.folder / ".index.lock"):
        assert teach(shop, archive, "bracket water", "Brackwater").films is None
    assert texts(archive, "july")[1] == JULY[1]
    assert len(reading.films_behind(archive.conn, reading.last_decision(archive.conn))) == 3
    index(shop, archive)
    assert texts(archive, "july")[1] == "we fitted the tank to the Brackwater"
    assert any(one.build == "31" for one in reading.statements(archive.conn))
    assert reading.films_behind(archive.conn, reading.last_decision(archive.conn)) == {}


def test_a_running_index_applies_what_is_decided_meanwhile(
    heard: Shop, minute: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The decision comes when the index has loaded its words and read the film, but not stored it yet."""
    monkeypatch.setattr(teaching, "WAIT_SECONDS", 0.05)
    db = open_store(heard.database)
    film = reading.recordings(db.conn)[0].id
    said = next(word for word in texts(db, film)[0].split() if len(word) > 3)
    heard.words.write_text("nicknames: [Hoopoe]")  # so that the film is to be understood again
    really, decided = indexing.understand, threading.Event()

    def decide_meanwhile(*given: object) -> object:
        read = really(*given)  # type: ignore[arg-type]
        if not decided.is_set():
            decided.set()
            other = open_store(heard.database)
            assert teach(heard, other, said, "Hoopoe").films is None
            other.close()
        return read

    monkeypatch.setattr(indexing, "understand", decide_meanwhile)
    assert [one.outcome for one in index(heard, db)] == ["indexed"]
    assert decided.is_set()
    assert "Hoopoe" in texts(db, film)[0]
    assert [one.outcome for one in index(heard, db)] == ["unchanged"]
    db.close()


def test_a_program_killed_while_it_applies_leaves_every_film_whole_and_the_rest_to_the_next(
    shop: Shop, archive: Database
) -> None:
    before = everything_said(archive)["sentences"]
    script = (
        "import os, signal, sys; from pathlib import Path; from diaryidx import teaching;"
        "from diaryidx.shop import load_shop; from diaryidx.store.database import open_store;"
        "from diaryidx.store import writing; shop = load_shop(Path(sys.argv[1])); db = open_store(shop.database);"
        "really = writing._insert_mentions\n"
        "def dies(db, *rest):\n"
        "    (film,) = db.execute('select recording_id from sentences order by id desc limit 1').fetchone()\n"
        "    os.kill(os.getpid(), signal.SIGKILL) if film == 'july' else really(db, *rest)\n"
        "writing._insert_mentions = dies\n"
        "teaching.decide(shop, db, teaching.plan_teaching(shop, db, 'bracket water', 'Brackwater'), None)"
    )
    killed = subprocess.run(
        [sys.executable, "-c", script, str(shop.folder)], cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}
    )
    assert killed.returncode == -signal.SIGKILL
    assert texts(archive, "june")[0] == "this month we begin with the Brackwater"
    july = [row for row in everything_said(archive)["sentences"] if row[0] == "july"]
    assert july == [row for row in before if row[0] == "july"]
    assert [one.meant for one in reading.taught(archive.conn)] == ["Brackwater"]
    assert reading.links_due(archive.conn)
    assert teaching.apply_decisions(shop, archive) == ("july",)
    assert texts(archive, "july")[1] == "we fitted the tank to the Brackwater"


def test_heard_again_by_another_engine_it_still_holds(heard: Shop) -> None:
    """Two real engines. It holds wherever the other one hears the same words, with its capitals and commas."""
    pytest.importorskip("moonshine_voice", reason="the extra [packaged] is not installed")
    db = open_store(heard.database)
    film = reading.recordings(db.conn)[0].id
    teach(heard, db, "brake pads", "Hoopoe shoes")
    by_vosk = " ".join(texts(db, film))
    assert [one.outcome for one in index(heard, db, engine="packaged")] == ["indexed"]
    by_packaged = " ".join(texts(db, film))
    assert (reading.recordings(db.conn)[0].engine or "").startswith("packaged")
    for text in (by_vosk, by_packaged):
        assert "Hoopoe shoes" in text and "brake pads" not in text.lower()
    assert any("brake pads" in one.heard.lower() for one in reading.sentences(db.conn, film))
    undo(heard, db, "1")
    assert not any(one.repairs for one in reading.sentences(db.conn, film))
    assert "Hoopoe shoes" not in " ".join(texts(db, film))
    db.close()


def test_films_being_heard_are_left_to_the_index(shop: Shop, archive: Database) -> None:
    archive.execute("update recordings set state = 'hearing' where id = 'june'")
    archive.conn.commit()
    assert teach(shop, archive, "bracket water", "Brackwater").films == ("july",)
    assert archive.table("recordings").get("june")["state"] == "hearing"


def test_a_shop_from_before_there_was_teaching_needs_nothing_done(shop: Shop, archive: Database) -> None:
    assert (reading.last_decision(archive.conn), reading.films_behind(archive.conn, 0)) == (0, {})
    changes = archive.conn.total_changes
    assert teaching.apply_decisions(shop, archive) == ()
    assert archive.conn.total_changes == changes
