"""Keeping it sound: `check`, and a copy of the shop made by `backup` and put back by `restore`."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option
from diaryidx.shop import load_shop
from diaryidx.terminal.care import show_copy, show_findings, show_put_back


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
    """Copy the shop into one file, without its films.

    In it are the database, photos, voice notes, settings, words and the job book. FILE may be made while an index runs;
    it is a zip, which is checked, and an existing file is never overwritten. It holds customers' names: keep it where
    you keep the shop. Copy the films in `recordings/` as you copy any files.
    """
    from diaryidx.copies import make_copy

    shop = load_shop(shop_folder)
    show_copy(file, make_copy(shop, file), shop)


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--overwrite", is_flag=True, help="Also where files of the shop would be replaced; they are kept beside.")
@shop_option
def restore(file: Path, overwrite: bool, shop_folder: Path) -> None:
    """Put a copy of the shop back.

    FILE was made by `backup`, by an earlier version too. All of it is checked first, and what it replaces is kept under
    another name. Files that the copy does not have stay as they are. The shop folder may be new.
    """
    from diaryidx.copies import put_back

    show_put_back(file, put_back(file, shop_folder, overwrite=overwrite))
