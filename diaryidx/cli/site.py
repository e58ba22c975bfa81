"""The shop in a browser: `serve` opens it, `staff` says who may sign in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from diaryidx.cli.common import json_option, print_json, shop_option
from diaryidx.shop import ROLES, Role, Shop, load_shop
from diaryidx.terminal.lines import complain
from diaryidx.terminal.site import say_where_the_site_is, show_staff

if TYPE_CHECKING:
    from diaryidx.site.server import Reach


@click.command()
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8001, show_default=True, help="The port; 0 takes a free one."
)
@click.option("--open/--no-open", "open_browser", default=False, help="Open the page in your browser.")
@click.option("--host", help="Let others in the network reach it at this address of the machine; 0.0.0.0 for all.")
@click.option("--certificate", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="For HTTPS, a PEM.")
@click.option("--key", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="The certificate's key.")
@shop_option
def serve(
    port: int, open_browser: bool, host: str | None, certificate: Path | None, key: Path | None, shop_folder: Path
) -> None:
    """Open the shop's site until Ctrl-C.

    It answers at 127.0.0.1 only, unless --host lets phones and other machines of the shop reach it; that needs people
    who sign in.
    """
    from diaryidx.site.server import HOST, Reach

    reach = Reach(host or HOST, certificate, key)
    shop = load_shop(shop_folder)
    if not reach.own_machine_only and certificate is None:
        complain("without --certificate, passwords and pages cross your network readable; only in your own")
    open_site(shop, port, open_browser=open_browser, reach=reach)


@click.group()
def staff() -> None:
    """Who may sign in on the site, and as what."""


@staff.command("add")
@click.argument("name")
@click.option("--role", type=click.Choice(ROLES), required=True, help="What they may do.")
@shop_option
def staff_add(name: str, role: Role, shop_folder: Path) -> None:
    """Let NAME sign in on the site.

    Asks for a password, which is not shown; shop.toml gets its hash. An owner may do everything; staff look up, decide
    and write notes; marketing look up. NAME again with another role or password changes them.
    """
    from diaryidx.staff import add_person, checked_name

    shop = load_shop(shop_folder)
    password = click.prompt(f"Password for {checked_name(name)}", hide_input=True, confirmation_prompt="Once more")
    added = add_person(shop, name, role, password)
    click.echo(f"{added.name} can sign in as {added.role}; a site that is open knows it at once.")


@staff.command("list")
@shop_option
@json_option
def staff_list(shop_folder: Path, as_json: bool) -> None:
    """List who may sign in."""
    people = load_shop(shop_folder).settings.staff
    if as_json:
        print_json({"staff": [{"name": one.name, "role": one.role} for one in people]})
    else:
        show_staff(people)


@staff.command("remove")
@click.argument("name")
@shop_option
def staff_remove(name: str, shop_folder: Path) -> None:
    """Let NAME sign in no more; what they decided and wrote stays."""
    from diaryidx.staff import remove_person

    removed = remove_person(load_shop(shop_folder), name)
    click.echo(f"{removed.name} can sign in no more, and is signed out where they were signed in.")


def open_site(shop: Shop, port: int, *, open_browser: bool, reach: Reach | None = None) -> None:
    """Serve the shop's pages until Ctrl-C, and say where they are."""
    from diaryidx.site.server import serve as run

    run(shop, port, open_browser, say_where_the_site_is, reach)
