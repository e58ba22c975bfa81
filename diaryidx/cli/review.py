"""`review`: deciding what is in doubt; `decisions`: who decided what."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from diaryidx.cli.common import (
    actor_option,
    json_option,
    one_build,
    opened,
    over_option,
    print_json,
    shop_option,
    signed_in,
)
from diaryidx.terminal.review import ReviewScreen, show_decision, show_items


@click.group(invoke_without_command=True)
@actor_option
@shop_option
@click.pass_context
def review(context: click.Context, actor: str | None, shop_folder: Path) -> None:
    """Decide what is in doubt.

    Asks about one stretch of film at a time, the most valuable one first, with its clip, its words and the bikes it may
    be about; one key decides. What you decide holds for ever, whatever is indexed again, and can be undone.
    """
    if context.invoked_subcommand is not None:
        given = {"shop_folder": shop_folder, "actor": actor}  # may stand before the verb too
        context.default_map = {context.invoked_subcommand: {key: value for key, value in given.items() if value}}
        return
    from diaryidx.review_session import run
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        builds = {build.job_number: build for build in reading.builds(db.conn)}
        made = run(shop, db, actor or signed_in() or "", ReviewScreen(builds))
        click.echo(f"{made} decided. `diaryidx decisions` lists them, `diaryidx review undo` takes one back.")


@review.command("list")
@click.option("--most", type=click.IntRange(1), default=20, show_default=True, help="How many to list.")
@shop_option
@json_option
def review_list(most: int, shop_folder: Path, as_json: bool) -> None:
    """List what is in doubt, most valuable first: doubt times the statements that depend on it."""
    from diaryidx.builds.review import count_items, item_json, items

    with opened(shop_folder) as (_shop, db):
        found, count = items(db.conn, most), count_items(db.conn)
        if as_json:
            print_json({"items": [item_json(one) for one in found], "in_doubt": count})
        else:
            show_items(found, count)


def _review_command(name: str, text: str, *arguments: Callable[[Any], Any]) -> None:
    """Register a command that makes one decision: ``review accept ID`` and its like."""

    def command(
        item_id: str, actor: str | None, shop_folder: Path, as_json: bool, over: bool, value: Any = None
    ) -> None:
        _decide_item(name, item_id, value, actor, shop_folder, over=over, as_json=as_json)

    command.__doc__ = text
    decorated: Any = json_option(shop_option(over_option(actor_option(command))))
    first: Callable[[Any], Any] = click.argument("item_id", metavar="ID")
    for argument in reversed([first, *arguments]):
        decorated = argument(decorated)
    review.command(name)(decorated)


_review_command(
    "accept",
    """Stretch ID is about the bike that it is tied to, or about the likeliest one.

    ID is a film and a second, such as 2026-11-diary@220.4, as `review list` shows it; any second of the stretch does.
    """,
)
_review_command(
    "refuse",
    "Stretch ID is not about the bike that it is tied to, nor about JOB if that is named.",
    click.argument("value", metavar="[JOB]", required=False),
)
_review_command(
    "assign",
    "Stretch ID is about BUILD, which is found as in `history`.",
    click.argument("value", metavar="BUILD", nargs=-1, required=True),
)
_review_command("not-a-build", "Stretch ID is about no bike.")
_review_command(
    "split",
    "Stretch ID is two: the second begins with the sentence nearest to TIME, in seconds or as m:ss.",
    click.argument("value", metavar="TIME"),
)
_review_command("join", "Stretch ID and the one after it are one.")


@review.command("undo")
@click.argument("decision_id", metavar="[DECISION]", type=int, required=False)
@actor_option
@shop_option
@json_option
def review_undo(decision_id: int | None, actor: str | None, shop_folder: Path, as_json: bool) -> None:
    """Take back a decision, by the number that `decisions` shows; without it, the last one you made."""
    from diaryidx.builds.relinking import relink
    from diaryidx.builds.review import decision_json
    from diaryidx.correcting import undo
    from diaryidx.store.decisions import films

    with opened(shop_folder) as (shop, db):
        undone = undo(shop, db, actor or signed_in() or "", decision_id)
        relink(db, shop.words)
        if as_json:
            print_json(decision_json(undone, films(db.conn)))
        else:
            show_decision(undone, films(db.conn))


@click.command()
@shop_option
@json_option
def decisions(shop_folder: Path, as_json: bool) -> None:
    """Show who decided what and when.

    Undone decisions stay in the list. What was taught with `teach` is listed by `teach --list`.
    """
    from diaryidx.builds.review import decision_json
    from diaryidx.store.decisions import films, trail

    with opened(shop_folder) as (_shop, db):
        made, known = trail(db.conn), films(db.conn)
        if as_json:
            print_json({"decisions": [decision_json(one, known) for one in made]})
            return
        for one in made:
            show_decision(one, known)
        if not made:
            click.echo("Nothing has been decided yet; `diaryidx review` asks what is in doubt.")


def _decide_item(
    name: str, item_id: str, value: Any, actor: str | None, shop_folder: Path, *, over: bool, as_json: bool
) -> None:
    """Make one decision, let other stretches follow from it, and say what holds now."""
    from diaryidx.builds.relinking import relink
    from diaryidx.builds.review import decide, decision_json
    from diaryidx.store.decisions import films

    with opened(shop_folder) as (shop, db):
        if name == "assign":
            value = one_build(shop, db, " ".join(value)).job_number
        made = decide(db, item_id, name, actor or signed_in() or "", value, over=over)  # type: ignore[arg-type]
        relink(db, shop.words)
        if as_json:
            print_json(decision_json(made, films(db.conn)))
        else:
            show_decision(made, films(db.conn))
