"""`model`: the speech model, which is used, fetching one, using one's own."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from diaryidx.cli.common import json_option, print_json, shop_option
from diaryidx.shop import load_shop
from diaryidx.terminal.model import download_progress, model_status_json, show_model_status


@click.group(invoke_without_command=True)
@click.pass_context
def model(context: click.Context) -> None:
    """The speech model: which is used, get one, use yours."""
    if context.invoked_subcommand is None:
        context.invoke(model_status, shop_folder=Path(), as_json=False)


@model.command("status")
@shop_option
@json_option
def model_status(shop_folder: Path, as_json: bool) -> None:
    """Say which engine and model would be used, and why."""
    from diaryidx.speech.home import proven, status

    if (shop_folder / "shop.toml").is_file() or shop_folder != Path():
        shop = load_shop(shop_folder)
        found = proven(status(shop.settings.engine, shop.model))
    else:
        found = proven(status("auto", None))
    if as_json:
        print_json(model_status_json(found))
    else:
        show_model_status(found)
    if found.problem:
        sys.exit(1)


@model.command("get")
def model_get() -> None:
    """Fetch the publisher's small English model, about 40 MB. The only command that uses the network."""
    from diaryidx.speech import download

    click.echo(
        f"Fetching {download.MODEL_NAME} from its publisher ({download.publisher_list()}); nothing else is sent."
    )
    with download_progress() as progress:
        folder = download.get(progress=progress)
    click.echo(f"Installed in {folder}; it is used from now on.")


@model.command("use")
@click.argument("path", type=click.Path(exists=True, path_type=Path))
def model_use(path: Path) -> None:
    """Use the Vosk model in PATH, a folder or a zip, for every shop that names no other."""
    from diaryidx.speech.home import use

    click.echo(f"Using the model in {use(path)} from now on.")
