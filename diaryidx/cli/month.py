"""`roundup`: what a month brought."""

from __future__ import annotations

from pathlib import Path

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option


@click.command()
@click.argument("month", metavar="YYYY-MM")
@click.option("--as", "form", type=click.Choice(["md", "json"]), default="md", show_default=True, help="The form.")
@shop_option
@json_option
def roundup(month: str, form: str, shop_folder: Path, as_json: bool) -> None:
    """Write the round-up of a month.

    Builds that moved and finished, new products and prices, tutorials, dates, promises, stretches to cut.
    """
    from diaryidx.roundup.month import round_up
    from diaryidx.roundup.render import as_markdown
    from diaryidx.shapes import roundup_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        told = round_up(db.conn, month)
        if as_json or form == "json":
            print_json(roundup_json(told, private=True))
        else:
            click.echo(as_markdown(told, shop.settings.name, reading.recordings(db.conn), reading.builds(db.conn)))
