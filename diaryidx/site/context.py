"""How a page gets at its shop: the settings, a read of the database in one piece, and the shop's words."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from datasette.app import Datasette
from datasette.utils import sqlite_timelimit

from diaryidx.builds.shop_words import vocabulary_of
from diaryidx.shop import Shop, load_shop

__all__ = ["DATABASE", "PLUGIN", "config_of", "read", "shop_of", "vocabulary_of"]

#: The plugins' section of Datasette's metadata; its one key, ``shop``, is the shop's folder.
PLUGIN = "diaryidx"
#: Datasette names a database after its file: ``shop.db``.
DATABASE = "shop"
#: The longest that the reads of one page may take, in milliseconds. An archive of years answers in well under one
#: second; what takes longer is a runaway query (common practice, no source).
READ_LIMIT_MS = 8000

Result = TypeVar("Result")


def shop_of(datasette: Datasette) -> Shop | None:
    """The shop that a Datasette instance serves, as ``shop.toml`` is now; None for an instance that is not ours.

    :raises WrongUse: somebody broke ``shop.toml`` meanwhile.
    """
    folder = config_of(datasette).get("shop")
    if folder is None:
        return None
    settings = Path(folder) / "shop.toml"
    found = settings.stat() if settings.is_file() else None
    return _loaded(Path(folder), found and (found.st_mtime_ns, found.st_size, found.st_ino))


def config_of(datasette: Datasette) -> dict[str, Any]:
    """What `site.server` told our plugins; empty for an instance that is not ours.

    Read past Datasette's own way, which asks our hooks for what the shop says of its staff.
    """
    plugins = (datasette._metadata_local or {}).get("plugins") or {}
    config: dict[str, Any] = plugins.get(PLUGIN) or {}
    return config


async def read(datasette: Datasette, question: Callable[[sqlite3.Connection], Result]) -> Result:
    """Answer a question to the shop's database, on Datasette's own read-only connection and in one of its threads.

    Everything the question reads is of one moment, also while an index is being written.

    :raises sqlite3.OperationalError: ``interrupted`` when it takes longer than `READ_LIMIT_MS`.
    """

    def in_one_piece(connection: sqlite3.Connection) -> Result:
        with sqlite_timelimit(connection, READ_LIMIT_MS):
            connection.execute("begin")
            try:
                return question(connection)
            finally:
                connection.rollback()

    answer: Result = await datasette.get_database(DATABASE).execute_fn(in_one_piece)
    return answer


@lru_cache(maxsize=8)
def _loaded(folder: Path, _changed: tuple[int, int, int] | None) -> Shop:
    return load_shop(folder)
