"""Review as a person meets it: commands, keys, the trail of decisions, copies of the database."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from sqlite_utils import Database

from diaryidx import review_session
from diaryidx.builds.relinking import relink
from diaryidx.builds.review import Item
from diaryidx.cli import main
from diaryidx.records import Build, Reading, Segment, Sentence, Statement, Subject
from diaryidx.shop import Shop
from diaryidx.store import reading, writing

BOOK = [
    Build("201", "Ada Quill", "Tarnbeck", "Otter 500", asked_for="tan seat"),
    Build("202", "Bram Thistle", "Orrin", "Heron 900", nickname="Bramble"),
    Build("203", "Cleo Wainfleet", "Fell & Moss", "Stoat"),
]
LINES = ("this one here has new carbs", "they are rebuilt", "and this one too", "the forks are polished", "wet month")


@pytest.fixture
def doubtful(shop: Shop, db: Database) -> Shop:
    """A film in which two bikes are only pointed at."""
    writing.save_builds(db, BOOK)
    writing.save_recording(
        db, writing.RecordingRow("nov", "nov.mp4", 1, 1, "h", "November diary", "diary", "2025-11-03", "file name",
                                 "2025-11", 25.0, True)
    )  # fmt: skip
    sentences = [Sentence(5.0 * place, 5.0 * place + 4.5, text, text) for place, text in enumerate(LINES)]
    bike = Subject("build")
    segments = (
        Segment(0.0, 9.5, 0, 1, "A build", bike),
        Segment(10.0, 19.5, 2, 3, "A build", bike),
        Segment(20.0, 24.5, 4, 4, "the month", Subject("shop")),
    )
    stated = [
        Statement(
            "done", LINES[1], "carburettor", task="rebuild", subject=bike, sentence=1, segment=0, start=5.0, end=9.5
        ),
        Statement("done", LINES[1], "float", subject=bike, sentence=1, segment=0, start=5.0, end=9.5),
        Statement("done", LINES[3], "forks", task="polish", subject=bike, sentence=3, segment=1, start=15.0, end=19.5),
    ]
    writing.save_reading(db, "nov", sentences, Reading("diary", (), segments, tuple(stated)), reading_key="k")
    relink(db)
    return shop


def call(shop: Shop, *arguments: str, keys: str = "") -> Result:
    return CliRunner().invoke(main, [*arguments, "--shop", str(shop.folder)], input=keys)


def call_json(shop: Shop, *arguments: str) -> Any:
    result = call(shop, *arguments, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def builds_of(db: Database) -> list[str | None]:
    return [one.build if one.subject.kind == "build" else one.subject.kind for one in reading.segments(db.conn)]


def test_the_list_has_what_is_in_doubt_most_valuable_first(doubtful: Shop) -> None:
    listed = call_json(doubtful, "review", "list")
    assert [item["id"] for item in listed["items"]] == ["nov@0.0", "nov@10.0"]
    assert (listed["in_doubt"], listed["items"][0]["statements"]) == (2, 2)
    assert "nov@0.0" in call(doubtful, "review", "list").stdout
    assert "1 more" in call(doubtful, "review", "list", "--most", "1").stdout


def test_each_verb_decides_says_so_and_can_be_undone(doubtful: Shop, db: Database) -> None:
    said = call(doubtful, "review", "assign", "nov@0.0", "bramble", "--as", "Ada")
    assert said.exit_code == 0 and "Ada: job 202, November diary, 0:00 to 0:09" in said.stdout
    assert builds_of(db) == ["202", None, "shop"]
    made = call_json(doubtful, "review", "not-a-build", "nov@10.0", "--as", "Ada")
    assert (made["kind"], made["recording"], made["actor"], made["undone_at"]) == ("not a build", "nov", "Ada", None)
    assert builds_of(db) == ["202", "shop", "shop"]
    assert call(doubtful, "review", "undo", "--as", "Ada").exit_code == 0
    assert builds_of(db) == ["202", None, "shop"]
    assert call(doubtful, "review", "refuse", "nov@0.0", "--as", "Bram", "--over").exit_code == 0
    assert builds_of(db)[0] is None
    assert call(doubtful, "review", "undo", "2", "--as", "Bram").exit_code == 2
    assert call(doubtful, "review", "split", "nov@12", "0:15").exit_code == 0
    assert len(builds_of(db)) == 4
    assert call(doubtful, "review", "join", "nov@10").exit_code == 0
    assert call(doubtful, "review", "accept", "nov@20").exit_code == 2
    assert len(builds_of(db)) == 3


def test_the_trail_says_who_decided_what_when_and_what_was_undone(doubtful: Shop) -> None:
    assert "Nothing has been decided" in call(doubtful, "decisions").stdout
    call(doubtful, "review", "assign", "nov@0.0", "203", "--as", "Ada")
    call(doubtful, "review", "undo", "1", "--as", "Bram")
    (made,) = call_json(doubtful, "decisions")["decisions"]
    assert (made["actor"], made["undone_by"], made["what"], made["start"]) == ("Ada", "Bram", {"build": "203"}, 0.0)
    assert made["evidence"]["text"] == "this one here has new carbs they are rebuilt"
    assert made["made_at"].endswith("+00:00")
    assert "Ada: job 203, November diary, 0:00 to 0:09; undone by Bram" in call(doubtful, "decisions").stdout


def test_a_shop_named_before_the_verb_is_that_shop(doubtful: Shop) -> None:
    result = CliRunner().invoke(main, ["review", "--shop", str(doubtful.folder), "list"])
    assert "nov@0.0" in result.stdout


def test_keys_decide_one_stretch_after_the_other(doubtful: Shop, db: Database) -> None:
    said = call(doubtful, "review", "--as", "Ada", keys="b202\nn")
    assert said.exit_code == 0, said.output
    assert builds_of(db) == ["202", "shop", "shop"]
    assert "Nothing more is in doubt." in said.stdout and "2 decided" in said.stdout


class Pressed:
    """A screen at which these keys are pressed; a text in brackets answers a question."""

    def __init__(self, *keys: str) -> None:
        self._keys: Iterator[str] = iter(keys)
        self.shown: list[tuple[str, int]] = []
        self.said: list[str] = []

    def item(self, one: Item, left: int) -> None:
        self.shown.append((one.id, left))

    def key(self) -> str:
        return next(self._keys)

    def ask(self, question: str) -> str:
        return next(self._keys)

    def say(self, text: str) -> None:
        self.said.append(text)


def test_over_somebody_elses_decision_takes_a_flag_or_a_yes_and_the_trail_shows_both(
    doubtful: Shop, db: Database
) -> None:
    call(doubtful, "review", "assign", "nov@0.0", "201", "--as", "Ruth")
    refused = call(doubtful, "review", "assign", "nov@0.0", "203", "--as", "Wes")
    assert refused.exit_code == 2 and "Ruth decided on" in refused.stderr and "--over" in refused.stderr
    assert builds_of(db)[0] == "201"
    done = call(doubtful, "review", "assign", "nov@0.0", "203", "--as", "Wes", "--over")
    assert done.exit_code == 0 and "job 203 (over number 1)" in done.stdout
    trail = call(doubtful, "decisions").stdout
    assert "Ruth: job 201" in trail and "Wes: job 203 (over number 1)" in trail
    call(doubtful, "review", "undo", "--as", "Wes")
    assert builds_of(db)[0] == "201"


def test_skipped_stretches_stay_in_doubt_and_unknown_keys_do_nothing(doubtful: Shop, db: Database) -> None:
    screen = Pressed("x", "k", "?", "k")
    assert review_session.run(doubtful, db, "Ada", screen) == 0
    assert screen.shown == [("nov@0.0", 2), ("nov@10.0", 2)]
    assert screen.said == ["Only what you skipped is left."]


def test_undo_brings_the_stretch_back_and_a_wrong_answer_asks_again(doubtful: Shop, db: Database) -> None:
    screen = Pressed("b", "the purple one", "b", "203", "u", "n", "q")
    assert review_session.run(doubtful, db, "Ada", screen) == 1
    assert [item_id for item_id, _ in screen.shown] == ["nov@0.0", "nov@10.0", "nov@0.0", "nov@10.0"]
    assert builds_of(db) == ["shop", None, "shop"]


def test_a_number_takes_the_candidate_beside_it(doubtful: Shop, db: Database) -> None:
    wanted = reading.segments(db.conn)[0].candidates[1].job_number
    review_session.run(doubtful, db, "Ada", Pressed("2", "q"))
    assert builds_of(db)[0] == wanted


def test_a_split_shows_the_first_half_next_and_join_takes_it_back(doubtful: Shop, db: Database) -> None:
    screen = Pressed("s", "5", "q")
    review_session.run(doubtful, db, "Ada", screen)
    assert builds_of(db) == [None, None, None, "shop"]
    review_session.run(doubtful, db, "Ada", Pressed("k", "k", "j", "q"))
    assert len(builds_of(db)) == 3


def test_ten_items_take_a_small_part_of_a_minute(doubtful: Shop, db: Database) -> None:
    """What the program needs beside the person's own time, at a shop of this size."""
    import time

    started = time.perf_counter()
    review_session.run(doubtful, db, "Ada", Pressed(*"nununununu", "q"))
    assert time.perf_counter() - started < 10


def test_a_corrected_word_is_taught_for_all_films_and_undone_with_its_decision(doubtful: Shop, db: Database) -> None:
    screen = Pressed("w", "forks", "yokes", "q")
    review_session.run(doubtful, db, "Ada", screen)
    assert [sentence.text for sentence in reading.sentences(db.conn, "nov")][3] == "the yokes are polished"
    (made,) = call_json(doubtful, "decisions")["decisions"]
    assert (made["kind"], made["what"]) == ("word", {"heard": "forks", "meant": "yokes", "taught": 1})
    call(doubtful, "review", "undo", "--as", "Ada")
    assert [sentence.text for sentence in reading.sentences(db.conn, "nov")][3] == LINES[3]


def test_off_a_terminal_the_keys_are_refused_in_one_line(doubtful: Shop) -> None:
    command = [sys.executable, "-m", "diaryidx.cli", "review", "--as", "Ada", "--shop", str(doubtful.folder)]
    done = subprocess.run(
        command, stdin=subprocess.DEVNULL, capture_output=True, text=True, start_new_session=True, timeout=60
    )
    assert (done.returncode, len(done.stderr.splitlines())) == (2, 1), done.stderr
    assert "review list" in done.stderr


def test_a_copy_of_the_database_is_made_and_put_back(doubtful: Shop, db: Database, tmp_path: Path) -> None:
    copy = tmp_path / "copy.db"
    assert call(doubtful, "backup", str(copy)).exit_code == 0
    again = call(doubtful, "backup", str(copy))
    assert (again.exit_code, len(again.stderr.splitlines())) == (2, 1)
    call(doubtful, "review", "not-a-build", "nov@0.0")
    refused = call(doubtful, "restore", str(copy))
    assert refused.exit_code == 2 and "--overwrite" in refused.stderr
    open_elsewhere = call(doubtful, "restore", str(copy), "--overwrite")
    assert open_elsewhere.exit_code == 1 and "has it open" in open_elsewhere.stderr
    db.close()
    done = call(doubtful, "restore", str(copy), "--overwrite")
    assert done.exit_code == 0 and "is kept as" in done.stdout
    assert call_json(doubtful, "decisions")["decisions"] == []


def test_check_tells_of_decisions_about_films_that_are_not_here(doubtful: Shop, db: Database) -> None:
    call(doubtful, "review", "assign", "nov@0.0", "203", "--as", "Ada")
    about = {finding["about"]: finding for finding in json.loads(call(doubtful, "check", "--json").stdout)["findings"]}
    assert about["decisions"]["sound"]
    db.execute("delete from recordings")
    db.conn.commit()
    about = {finding["about"]: finding for finding in json.loads(call(doubtful, "check", "--json").stdout)["findings"]}
    assert not about["decisions"]["sound"] and about["decisions"]["text"].startswith("1 are about films")
    assert "not here now" in call(doubtful, "decisions").stdout
