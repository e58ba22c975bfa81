"""What the commands share: their options, the opened shop, JSON, and who and what a person means."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from diaryidx.errors import WrongUse
from diaryidx.records import Build
from diaryidx.shop import Shop, load_shop

if TYPE_CHECKING:
    from sqlite_utils import Database

    from diaryidx.vocabulary.loader import Vocabulary


Command = TypeVar("Command", bound=Callable[..., Any])


def shop_option(command: Command) -> Command:
    """Every command's ``--shop DIR``."""
    return click.option(
        "--shop",
        "shop_folder",
        type=click.Path(file_okay=False, path_type=Path),
        default=Path(),
        help="The shop folder; without it, the current folder.",
    )(command)


def json_option(command: Command) -> Command:
    """Every reading command's ``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON for other programs.")(command)


def actor_option(command: Command) -> Command:
    """Who decides: ``--as NAME``."""
    return click.option("--as", "actor", metavar="NAME", help="Who decides; your account's name, if not said.")(command)


def over_option(command: Command) -> Command:
    """Deciding otherwise than another person: ``--over``."""
    return click.option("--over", is_flag=True, help="Also over what somebody else decided; both stay.")(command)


@contextmanager
def opened(shop_folder: Path) -> Iterator[tuple[Shop, Database]]:
    """A shop and its database, which is closed behind the command."""
    from diaryidx.store.database import open_store, said_plainly

    shop = load_shop(shop_folder)
    db = open_store(shop.database)
    try:
        with said_plainly(shop.database):
            yield shop, db
    finally:
        db.close()


def print_json(shape: object) -> None:
    """Print plain data as JSON."""
    click.echo(json.dumps(shape, ensure_ascii=False, indent=2))


def one_build(shop: Shop, db: Database, words: str) -> Build:
    """The build that a person means.

    :raises WrongUse: several fit; they are named.
    """
    from diaryidx.builds.finding import find_build

    found = find_build(db.conn, words, vocabulary_of(shop, db))
    if isinstance(found, Build):
        return found
    several = "; ".join(f"{one.job_number} {one.why}" for one in found)
    raise WrongUse(f"{words!r} fits several bikes; name one by its job number: {several}")


def signed_in() -> str | None:
    """The name of whoever runs this; None where the system knows none."""
    import getpass

    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return None


def vocabulary_of(shop: Shop, db: Database) -> Vocabulary:
    """Trade words, the shop's own, the names in its job book and what was taught."""
    from diaryidx.builds.shop_words import vocabulary_of as words_of

    return words_of(db.conn, shop)
