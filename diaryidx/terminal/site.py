"""Where the site is, and who may sign in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from diaryidx.shop import Person


def say_where_the_site_is(address: str, link: str | None) -> None:
    """The site's address; where nobody is set up, the link that signs in whoever started it."""
    click.echo(f"The site is open at {address}  (Ctrl-C ends it)")
    if link is not None:
        click.echo(f"Sign in as the owner by this link, good once: {link}")
        click.echo("For passwords of your own, run `diaryidx staff add NAME --role owner` in the shop's folder.")


def show_staff(people: Sequence[Person]) -> None:
    """Who may sign in on the site."""
    if not people:
        click.echo("Nobody is set up: whoever starts the site signs in by the link that `diaryidx serve` prints.")
        click.echo("`diaryidx staff add NAME --role owner` sets the first one up.")
    for person in people:
        click.echo(f"{person.name}: {person.role}")
