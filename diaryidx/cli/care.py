"""Keeping it sound: `check`, and a copy of the database made by `backup` and put back by `restore`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option
from diaryidx.shop import load_shop
from diaryidx.terminal.care import show_findings


@click.command()
@shop_option
@json_option
def check(shop_folder: Path, as_json: bool) -> None:
    """Is everything sound?

    Looks at the database, the films' files, the job book, the words, the model and the links.
    """
    from dataclasses import asdict

    from diaryidx.checking import check as look

    with opened(shop_folder) as (shop, db):
        findings = look(shop, db)
    if as_json:
        print_json({"findings": [asdict(finding) for finding in findings]})
    else:
        show_findings(findings)
    if not all(finding.sound for finding in findings):
        sys.exit(1)


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@shop_option
def backup(file: Path, shop_folder: Path) -> None:
    """Copy the database to a file.

    FILE may be made while an index runs. The copy is checked; an existing file is never overwritten. Films, photos,
    words and settings are files of the shop folder: copy those as you copy any file.
    """
    from diaryidx.store.backup import backup as copy

    shop = load_shop(shop_folder)
    copy(shop.database, file)
    click.echo(f"{file} holds all that was found and decided, and is sound. Films, photos and settings are not in it.")


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@shop_option
def restore(file: Path, shop_folder: Path) -> None:
    """Put a copy of the database back.

    FILE was made by `backup`. The copy is checked first, and the database as it was is kept beside it under another
    name.
    """
    from diaryidx.alone import alone_in
    from diaryidx.store.backup import restore as put_back

    shop = load_shop(shop_folder)
    with alone_in(shop):
        kept = put_back(file, shop.database)
    click.echo(f"{shop.database} is now what {file} was.")
    if kept is not None:
        click.echo(f"The database as it was before is kept as {kept}.")
    click.echo("Run `diaryidx index` to take in what changed since.")
