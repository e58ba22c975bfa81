"""Where the files that travel with the program are: beside the package in a checkout, inside it in a wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_CHECKOUT = _PACKAGE.parent


def plugins_folder() -> Path:
    """The folder of the site's Datasette plugins, templates and static files."""
    return _first_folder(_PACKAGE / "_plugins", _CHECKOUT / "plugins")


def demo_shop_folder() -> Path:
    """The demo shop as it is shipped; ``diaryidx demo`` copies it."""
    return _first_folder(_PACKAGE / "_demo" / "demo-shop", _CHECKOUT / "fixtures" / "demo-shop")


def mini_model_folder() -> Path:
    """The small English model for demo and tests; a shop of one's own uses it only if its settings say so."""
    return _first_folder(
        _PACKAGE / "_demo" / "vosk-mini-en" / "model", _CHECKOUT / "fixtures" / "vosk-mini-en" / "model"
    )


def _first_folder(*folders: Path) -> Path:
    for folder in folders:
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"this installation is incomplete: {folders[-1].name} is missing; install diaryidx again")
