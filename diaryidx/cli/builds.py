"""What was done: `history` of a bike, `developments` of the shop's own."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option, vocabulary_of
from diaryidx.errors import WrongUse
from diaryidx.records import Build
from diaryidx.shop import Shop
from diaryidx.terminal.builds import show_candidates, show_developments

if TYPE_CHECKING:
    from sqlite_utils import Database


@click.command()
@click.argument("words", metavar="BUILD", nargs=-1, required=True)
@click.option("--since", metavar="DATE", help="Tell what is new since a day; without it, since the last visit.")
@click.option("--sheet", type=click.Path(dir_okay=False, path_type=Path), help="Write a handover sheet to print.")
@shop_option
@json_option
def history(words: tuple[str, ...], since: str | None, sheet: Path | None, shop_folder: Path, as_json: bool) -> None:
    """Show what was done to a bike.

    BUILD is a job number, a registration, a VIN or its end, a nickname, or words that describe it, such as
    "the bronze one with the quilted seat". `diaryidx note BUILD --visit` remembers a customer's visit.
    """
    from diaryidx.builds.finding import find_build
    from diaryidx.builds.history import history as history_of
    from diaryidx.builds.telling import describe_history
    from diaryidx.shapes import candidates_json, history_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        day = _day(shop, since) if since else None
        known = vocabulary_of(shop, db)
        found = find_build(db.conn, " ".join(words), known)
        if not isinstance(found, Build):
            print_json(candidates_json(found)) if as_json else show_candidates(found)
            return
        if sheet:
            _write_sheet(shop, db, found, sheet)
            return
        told = history_of(db.conn, found, known)
        if as_json:
            print_json(history_json(told, private=True, since=day))
        else:
            click.echo("\n".join(describe_history(told, reading.recordings(db.conn), day)))


@click.command()
@click.argument("words", metavar="[NAME]", nargs=-1)
@shop_option
@json_option
def developments(words: tuple[str, ...], shop_folder: Path, as_json: bool) -> None:
    """Show what the shop develops itself.

    With its thread through the films.

    NAME shows one of them alone.
    """
    from diaryidx.builds.developments import development
    from diaryidx.builds.developments import developments as all_developments
    from diaryidx.shapes import development_json

    with opened(shop_folder) as (_shop, db):
        found = [development(db.conn, " ".join(words))] if words else all_developments(db.conn)
        if as_json:
            print_json({"developments": [development_json(one) for one in found]})
        else:
            show_developments(found)


def _day(shop: Shop, date: str) -> str:
    """A day as a person types it, as ISO 8601."""
    from diaryidx.builds.dates import iso_date

    day = iso_date(date, month_first=shop.settings.month_first)
    if day is None:
        raise WrongUse(f"{date!r} is no day; write it as year, month and day, such as 2026-10-31")
    return day


def _write_sheet(shop: Shop, db: Database, build: Build, file: Path) -> None:
    from diaryidx.site.handover import handover_html

    try:
        file.write_text(handover_html(db.conn, shop, build), encoding="utf-8")
    except OSError as error:
        raise WrongUse(f"{file}: cannot be written ({error.strerror}); name a file in a folder that is there") from None
    click.echo(f"Wrote {file}: the handover sheet of job {build.job_number}; open it in a browser and print it.")
