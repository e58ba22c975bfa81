"""`note`: what staff write about a bike."""

from __future__ import annotations

from pathlib import Path

import click

from diaryidx.cli.common import json_option, one_build, opened, print_json, shop_option
from diaryidx.terminal.notes import show_added_note, show_notes


class Notes(click.Group):
    """The group of `note`: what is no verb of it is a build to write about."""

    def parse_args(self, context: click.Context, args: list[str]) -> list[str]:
        """Take `note BUILD TEXT` for `note add BUILD TEXT`."""
        if args and args[0] not in self.commands and args[0] not in ("-h", "--help"):
            args = ["add", *args]
        return super().parse_args(context, args)


@click.group(cls=Notes)
def note() -> None:
    """Write a note about a bike, list notes, undo one.

    `diaryidx note BUILD "TEXT"` is short for `diaryidx note add BUILD "TEXT"`.
    """


@note.command("add")
@click.argument("words", metavar="BUILD")
@click.argument("text", metavar="[TEXT]", default="")
@click.option("--visit", is_flag=True, help="The customer came by and saw the bike; TEXT may be left out then.")
@click.option("--photo", "photos", multiple=True, type=click.Path(path_type=Path), help="A photo to keep with it.")
@click.option("--date", help="The day it is of; today, if not said.")
@click.option("--as", "author", metavar="NAME", help="Who writes it; your account's name, if not said.")
@shop_option
@json_option
def note_add(
    words: str,
    text: str,
    visit: bool,
    photos: tuple[Path, ...],
    date: str | None,
    author: str | None,
    shop_folder: Path,
    as_json: bool,
) -> None:
    """Write down what was done to BUILD; it shows in its history beside what films say.

    BUILD is found as in `history`. Photos are JPEG, PNG or WebP and are copied into the shop folder. The history tells
    what is new since the last `--visit`.
    """
    from diaryidx.noting import add_note
    from diaryidx.shapes import note_json, statement_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        build = one_build(shop, db, words)
        added = add_note(shop, db, build, text, photos=photos, date=date, author=author, visit=visit)
        stated = [one for one in reading.note_statements(db.conn, build=build.job_number) if one.note == added.id]
        if as_json:
            print_json({"note": note_json(added), "statements": [statement_json(one) for one in stated]})
        else:
            show_added_note(added, build, stated)


@note.command("list")
@click.argument("words", metavar="[BUILD]", required=False)
@shop_option
@json_option
def note_list(words: str | None, shop_folder: Path, as_json: bool) -> None:
    """List notes, of one BUILD if named; undone ones are marked."""
    from diaryidx.shapes import note_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        notes = reading.notes(db.conn, build=one_build(shop, db, words).job_number if words else None)
        if as_json:
            print_json({"notes": [note_json(one) for one in notes]})
        else:
            show_notes(notes)


@note.command("undo")
@click.argument("note_id", metavar="ID", type=int)
@click.option("--as", "author", metavar="NAME", help="Who undoes it; your account's name, if not said.")
@shop_option
def note_undo(note_id: int, author: str | None, shop_folder: Path) -> None:
    """Take note ID back: it is kept and marked as undone, and counts no more."""
    from diaryidx.noting import undo_note
    from diaryidx.store import reading

    with opened(shop_folder) as (_shop, db):
        before = reading.note(db.conn, note_id)
        undone = undo_note(db, note_id, author)
        if before.undone_at is not None:
            day = before.undone_at[:10]
            click.echo(f"Note {undone.id} was undone by {undone.undone_by} on {day} already; nothing was changed.")
        else:
            click.echo(f"Note {undone.id} is undone by {undone.undone_by}; its words are kept.")
