"""Making a shop: `demo` an invented one with films, `init` an empty one."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from diaryidx.cli.films import index_films
from diaryidx.cli.site import open_site
from diaryidx.terminal.starting import MINI_MODEL_NOTE, say_what_next


@click.command()
@click.argument("folder", metavar="[DIR]", type=click.Path(file_okay=False, path_type=Path), default=Path("demo-shop"))
@click.option("--no-serve", is_flag=True, help="Stop when the shop is indexed, without opening the site.")
@click.option("--port", type=click.IntRange(0, 65535), default=8001, show_default=True, help="The site's port.")
def demo(folder: Path, no_serve: bool, port: int) -> None:
    """Make an invented shop, index its films, open the site.

    The films in DIR are really listened to, with the small model that comes along.

    DIR is ./demo-shop unless named; a demo shop that is already there is used as it is.
    """
    from diaryidx.starting import make_demo

    shop = make_demo(folder)
    click.echo(f"The demo shop is in {shop.folder}. Everyone and everything in it is made up.")
    click.echo(MINI_MODEL_NOTE)
    index_films(shop, (), None, None, as_json=False)
    say_what_next(shop)
    if not no_serve:
        open_site(shop, port, open_browser=sys.stdout.isatty())


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(file_okay=False, path_type=Path))
@click.option("--name", help="The shop's name; without it, the folder's name.")
def init(folder: Path, name: str | None) -> None:
    """Make a new shop folder.

    DIR gets commented settings, starter words, an empty job book and a folder for films.
    """
    from diaryidx.starting import make_shop

    shop = make_shop(folder, name)
    click.echo(f"Made {shop.folder}.")
    click.echo("Next: put films into its recordings folder and your job book into jobs.csv (any columns),")
    click.echo(f"then `diaryidx model get` once and `diaryidx index --shop {folder}`.")
