"""Making shop folders: a new one of one's own, and the demo's."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

from diaryidx.errors import WrongUse
from diaryidx.resources import demo_shop_folder
from diaryidx.shop import Shop, load_shop, starter_settings
from diaryidx.vocabulary.loader import STARTER_WORDS

#: The job book's headings for a new shop; any others will do as well.
STARTER_JOBS = (
    "job number,customer,make,model,year,registration,VIN,colour,nickname,"
    "date in,promised,date out,state,asked for,public\n"
)


def make_shop(folder: Path, name: str | None = None) -> Shop:
    """Make a shop folder with commented settings, starter words, an empty job book and the folders for films and mail.

    Files that are there already are left as they are.

    :raises WrongUse: the folder is a shop already, or cannot be made.
    """
    if (folder / "shop.toml").exists():
        raise WrongUse(f"{folder}: this is a shop already; nothing was changed")
    try:
        for inner in ("recordings", "questions"):
            (folder / inner).mkdir(parents=True, exist_ok=True)
        for file_name, text in (
            ("words.yaml", STARTER_WORDS),
            ("jobs.csv", STARTER_JOBS),
            ("shop.toml", starter_settings(name or folder.resolve().name)),
        ):
            if not (folder / file_name).exists():
                (folder / file_name).write_text(text, encoding="utf-8")
    except OSError as error:
        raise WrongUse(f"{folder}: the shop folder cannot be made ({error.strerror})") from error
    return load_shop(folder)


def make_demo(folder: Path) -> Shop:
    """Copy the demo shop; one that is already there is used as it is, so that its index is kept.

    :raises WrongUse: the folder holds something else, or cannot be made.
    """
    source = demo_shop_folder()
    if (folder / "shop.toml").is_file():
        shop = load_shop(folder)
        if replace(shop.settings, staff=()) == load_shop(source).settings:
            return shop
    if folder.exists() and any(folder.iterdir()):
        raise WrongUse(f"{folder}: this folder is not empty and no demo shop; name another one: diaryidx demo DIR")
    try:
        shutil.copytree(source, folder, dirs_exist_ok=True)
    except OSError as error:
        raise WrongUse(f"{folder}: the demo shop cannot be copied there ({error})") from error
    return load_shop(folder)
