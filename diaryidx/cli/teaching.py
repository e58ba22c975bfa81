"""`teach`: what was misheard."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option, signed_in
from diaryidx.errors import WrongUse
from diaryidx.shop import Shop
from diaryidx.terminal.teaching import agreed, reading_again, show_applied, show_plan, show_suggestions, show_taught

if TYPE_CHECKING:
    from sqlite_utils import Database

    from diaryidx.teaching import Plan


@click.command()
@click.argument("words", metavar="[HEARD MEANT]", nargs=-1)
@click.option("--list", "as_list", is_flag=True, help="List what was taught.")
@click.option("--suggest", "as_suggestions", is_flag=True, help="Propose words that were probably misheard.")
@click.option("--limit", type=click.IntRange(1, 500), default=20, show_default=True, help="How many to propose.")
@click.option("--undo", metavar="ID|HEARD", help="Take back a correction, by its number or by what was heard.")
@click.option("--yes", is_flag=True, help="Do it without asking.")
@click.option("--as", "--by", "person", metavar="NAME", help="Who decides; your account's name, if not said.")
@shop_option
@json_option
def teach(
    words: tuple[str, ...],
    as_list: bool,
    as_suggestions: bool,
    limit: int,
    undo: str | None,
    yes: bool,
    person: str | None,
    shop_folder: Path,
    as_json: bool,
) -> None:
    """Teach what was misheard.

    Shows every sentence that would change and asks; then HEARD is written as MEANT in all films, those to come too,
    without listening again. What was heard stays beside it.
    """
    from diaryidx.shapes import taught_json
    from diaryidx.store import reading
    from diaryidx.teaching import plan_teaching, plan_undoing

    if (as_list, as_suggestions, undo is not None, bool(words)).count(True) != 1 or len(words) not in (0, 2):
        raise WrongUse('say what was heard and what is meant: diaryidx teach "HEARD" "MEANT", or --list, --undo ID')
    with opened(shop_folder) as (shop, db):
        if as_suggestions:
            _suggest(shop, db, limit, as_json=as_json)
            return
        if as_list:
            taught = reading.taught(db.conn)
            behind = len(reading.films_behind(db.conn, reading.last_decision(db.conn)))
            if as_json:
                print_json({"taught": [taught_json(one) for one in taught], "films_behind": behind})
            else:
                show_taught(taught, behind)
            return
        plan = plan_teaching(shop, db, *words) if undo is None else plan_undoing(shop, db, undo)
        _decide(shop, db, plan, person, yes=yes, as_json=as_json)


def _suggest(shop: Shop, db: Database, limit: int, *, as_json: bool) -> None:
    """Propose words to teach."""
    from diaryidx.shapes import suggestion_json
    from diaryidx.store import reading
    from diaryidx.suggesting import suggest

    found = suggest(shop, db, limit)
    if as_json:
        print_json({"suggestions": [suggestion_json(one) for one in found]})
    else:
        show_suggestions(found, {film.id: film for film in reading.recordings(db.conn)})


def _decide(shop: Shop, db: Database, plan: Plan, person: str | None, *, yes: bool, as_json: bool) -> None:
    """Show what a decision changes, ask, do it and say so."""
    from diaryidx.shapes import plan_json
    from diaryidx.store import reading
    from diaryidx.teaching import decide

    films = {film.id: film for film in reading.recordings(db.conn)}
    if not as_json:
        show_plan(plan, films)
    elif not yes:
        print_json(plan_json(plan, None, films))
        raise WrongUse("nothing was changed; add --yes to do it")
    if not yes and not agreed("Take it back?" if plan.undoes else f"Write “{plan.meant}” for “{plan.heard}”?"):
        click.echo("Nothing was changed.")
        return
    with reading_again(quiet=as_json) as on_film:
        applied = decide(shop, db, plan, person or signed_in(), on_film)
    print_json(plan_json(plan, applied, films)) if as_json else show_applied(plan, applied)
