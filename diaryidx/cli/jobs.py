"""`jobs`: the job book brought in and listed, and what it needs that no film said."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option, vocabulary_of
from diaryidx.errors import DiaryidxError, WrongUse
from diaryidx.shop import Shop
from diaryidx.terminal.jobs import ask_columns, show_builds, show_gaps, show_import
from diaryidx.terminal.lines import complain

if TYPE_CHECKING:
    from sqlite_utils import Database

    from diaryidx.builds.job_book import JobBook


@click.group()
def jobs() -> None:
    """The job book: bring it in, list it."""


@jobs.command("import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--map", "pairs", multiple=True, metavar="FIELD=COLUMN", help="Which column fills a field; none, if empty."
)
@click.option("--sheet", help="The sheet of a workbook; without it, the one with most columns of a job book.")
@click.option("--dry-run", is_flag=True, help="Show what would change and write nothing.")
@click.option("--yes", is_flag=True, help="Take the columns as guessed.")
@click.option("--clear", is_flag=True, help="Let empty cells empty what is stored.")
@shop_option
@json_option
def jobs_import(
    file: Path,
    pairs: tuple[str, ...],
    sheet: str | None,
    dry_run: bool,
    yes: bool,
    clear: bool,
    shop_folder: Path,
    as_json: bool,
) -> None:
    """Bring in a job book from FILE, a .csv or .xlsx with any columns.

    Columns are guessed from their headings and asked about once; the answer is kept for this shop. Jobs are added or
    updated by job number and never removed; an empty cell changes nothing unless --clear is given.
    """
    from diaryidx.builds.job_import import apply_import, parse_columns, plan_import, read_shops_job_book
    from diaryidx.shapes import import_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        columns = parse_columns(pairs)
        book = read_shops_job_book(shop, db, file, columns, sheet)
        confirmed = yes or bool(pairs)
        if not (dry_run or confirmed):
            book, confirmed = _settled_columns(shop, db, file, sheet, book)
        plan = plan_import(book, reading.builds(db.conn), clear=clear)
        if not dry_run:
            apply_import(db, plan, remember=confirmed, words=shop.words)
        if as_json:
            print_json(import_json(plan, written=not dry_run))
        else:
            show_import(plan, file, written=not dry_run)
    if book.problems:
        sys.exit(1)


@jobs.command("list")
@shop_option
@json_option
def jobs_list(shop_folder: Path, as_json: bool) -> None:
    """List the builds of the job book."""
    from diaryidx.shapes import build_json
    from diaryidx.store import reading

    with opened(shop_folder) as (_shop, db):
        builds = reading.builds(db.conn)
        if as_json:
            print_json({"builds": [build_json(build, private=True) for build in builds]})
        else:
            show_builds(builds)


@jobs.command("gaps")
@shop_option
@json_option
def jobs_gaps(shop_folder: Path, as_json: bool) -> None:
    """Show what the job needs that no film said.

    Bikes left out of two diaries or more, what waits longest and on whom, bikes that are not in the job book, and where
    the job book and the films disagree on what is finished; each with its evidence.
    """
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from diaryidx.builds.gaps import gaps
    from diaryidx.shapes import gaps_json

    with opened(shop_folder) as (shop, db):
        today = datetime.now(ZoneInfo(shop.settings.timezone)).date()
        found = gaps(db.conn, today, vocabulary_of(shop, db))
        if as_json:
            print_json(gaps_json(found))
        else:
            show_gaps(found)


def _settled_columns(shop: Shop, db: Database, file: Path, sheet: str | None, book: JobBook) -> tuple[JobBook, bool]:
    """A job book whose columns are settled: confirmed before, asked about now, or beyond doubt.

    :returns: the book, and whether a person has confirmed its columns.
    :raises WrongUse: nobody can be asked and a guess is doubtful, or the person stopped.
    """
    from diaryidx.builds.job_book import is_certain
    from diaryidx.builds.job_import import all_confirmed, parse_columns, read_shops_job_book

    columns: dict[str, str | None] = {}
    while not all_confirmed(db, book):
        if not sys.stdin.isatty():
            if is_certain(book.columns):
                return book, False
            guessed = ", ".join(f"{field}={heading}" for field, heading in book.columns.items())
            raise WrongUse(
                f"{file}: the columns were guessed ({guessed}); say --yes, or --map FIELD=COLUMN to change one"
            )
        changes = ask_columns(book)
        if changes is None:
            raise WrongUse("stopped; nothing was written")
        if not changes:
            return book, True
        try:
            settled = columns | parse_columns(changes)
            book = read_shops_job_book(shop, db, file, settled, sheet)
            columns = settled
        except DiaryidxError as error:
            complain(str(error))
    return book, False
