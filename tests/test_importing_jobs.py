"""`jobs import` as a person meets it: at a terminal, in a script, again, and with rows that cannot be taken."""

from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result
from sqlite_utils import Database

from diaryidx.cli import main
from diaryidx.shop import Shop
from diaryidx.store import reading

DOUBTFUL = "Our number;Whose it is;Reg\n31;R. Frost;AB12 CDE\n;P. Stone;\n32;T. Weir;\n"


def call(shop: Shop, *arguments: str | Path) -> Result:
    return CliRunner().invoke(main, ["jobs", *map(str, arguments), "--shop", str(shop.folder)])


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "bikes.csv"
    path.write_text(DOUBTFUL)
    return path


def test_in_a_script_a_doubtful_guess_is_not_taken_until_it_is_confirmed_and_then_for_good(
    shop: Shop, db: Database, book: Path
) -> None:
    refused = call(shop, "import", book)
    assert (refused.exit_code, len(refused.stderr.splitlines())) == (2, 1)
    assert "--yes" in refused.stderr and "job_number=Our number" in refused.stderr
    assert reading.builds(db.conn) == []
    taken = call(shop, "import", book, "--map", "customer=Whose it is")
    assert taken.exit_code == 1
    assert "line 3: no job number" in taken.stderr
    assert [build.customer for build in reading.builds(db.conn)] == ["R. Frost", "T. Weir"]
    book.write_text(DOUBTFUL.replace("AB12 CDE", "AB12 CDF"))
    again = call(shop, "import", book)
    assert again.exit_code == 1
    assert "“AB12 CDE” -> “AB12 CDF”" in again.stdout


def test_a_dry_run_shows_the_differences_and_writes_nothing(shop: Shop, db: Database, book: Path) -> None:
    call(shop, "import", book, "--map", "customer=Whose it is")
    stored = reading.builds(db.conn)
    book.write_text(DOUBTFUL.replace("T. Weir", "T. Moor") + "40;;\n")
    shown = call(shop, "import", book, "--dry-run", "--json")
    assert shown.exit_code == 1, "a row could not be taken"
    told = json.loads(shown.stdout)
    assert (told["written"], told["unchanged"], [one["job_number"] for one in told["new"]]) == (False, 1, ["40"])
    assert told["changed"] == [
        {"job_number": "32", "line": 4, "fields": {"customer": {"old": "T. Weir", "new": "T. Moor"}}}
    ]
    assert told["problems"] == ["line 3: no job number"]
    assert reading.builds(db.conn) == stored


def test_a_wrong_vin_is_told_of_and_is_no_failure(shop: Shop, tmp_path: Path) -> None:
    path = tmp_path / "vins.csv"
    path.write_text("Job,VIN\n1,1M8GDM9A0KP042788\n")
    result = call(shop, "import", path)
    assert result.exit_code == 0
    assert "line 2" in result.stderr and "check digit" in result.stderr


def test_the_watched_file_is_read_with_the_confirmed_columns_and_erases_nothing(
    shop: Shop, db: Database, book: Path
) -> None:
    call(shop, "import", book, "--map", "nickname=Whose it is", "--map", "customer=")
    shop.job_book.write_text("Our number,Whose it is,Reg\n31,,ZZ99 ZZZ\n")
    assert CliRunner().invoke(main, ["index", "--shop", str(shop.folder)]).exit_code == 0
    build = reading.build(db.conn, "31")
    assert (build.nickname, build.customer, build.registration) == ("R. Frost", None, "ZZ99 ZZZ")


def at_a_terminal(shop: Shop, book: Path, typed: str) -> tuple[int, str]:
    """Run `jobs import` on a real terminal and type."""
    master, slave = pty.openpty()
    command = [sys.executable, "-m", "diaryidx.cli", "jobs", "import", str(book), "--shop", str(shop.folder)]
    running = subprocess.Popen(command, stdin=slave, stdout=slave, stderr=slave, close_fds=True)
    os.close(slave)
    os.write(master, typed.encode())
    shown = b""
    while True:
        try:
            piece = os.read(master, 4096)
        except OSError:  # Linux says so when the other side has closed
            break
        if not piece:
            break
        shown += piece
    os.close(master)
    return running.wait(timeout=60), shown.decode()


def test_at_a_terminal_the_guess_is_shown_changed_and_asked_about_once(shop: Shop, db: Database, book: Path) -> None:
    book.write_text(DOUBTFUL.replace("\n;P. Stone;", ""))
    status, shown = at_a_terminal(shop, book, "customer=Whose it is\nvin=\n\n")
    assert status == 0, shown
    assert "from column “Our number”" in shown
    assert [build.customer for build in reading.builds(db.conn)] == ["R. Frost", "T. Weir"]
    status, shown = at_a_terminal(shop, book, "")
    assert status == 0
    assert "Enter takes them" not in shown and "2 unchanged" in shown


def test_at_a_terminal_one_may_stop(shop: Shop, db: Database, book: Path) -> None:
    status, shown = at_a_terminal(shop, book, "q\n")
    assert (status, reading.builds(db.conn)) == (2, [])
    assert "nothing was written" in shown


def test_the_watched_workbook_is_read_from_the_sheet_that_the_settings_name(shop: Shop, db: Database) -> None:
    workbook = openpyxl.Workbook()
    for place, (name, owner) in enumerate((("2024", "R. Frost"), ("2025", "T. Weir"))):
        sheet = workbook.create_sheet(name, place)
        sheet.append(["Job", "Owner"])
        sheet.append([31, owner])
    workbook.save(shop.folder / "bikes.xlsx")
    settings = shop.folder / "shop.toml"
    settings.write_text(settings.read_text() + '[jobs]\nfile = "bikes.xlsx"\nsheet = "2025"\n')
    assert CliRunner().invoke(main, ["index", "--shop", str(shop.folder)]).exit_code == 0
    assert reading.build(db.conn, "31").customer == "T. Weir"
    assert call(shop, "import", shop.folder / "bikes.xlsx", "--sheet", "2024", "--yes").exit_code == 0
    assert reading.build(db.conn, "31").customer == "R. Frost"
