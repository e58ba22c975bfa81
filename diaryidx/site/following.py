"""What follows from a deed, done behind it: notes are read, taught words written, other stretches find their bikes.

Nobody waits for it. What a site that ends leaves undone, the next index does.
"""

from __future__ import annotations

import asyncio
import logging
from contextlib import closing
from dataclasses import dataclass
from weakref import WeakKeyDictionary

from datasette.app import Datasette

from diaryidx.errors import DiaryidxError
from diaryidx.shop import Shop
from diaryidx.store.database import open_store

log = logging.getLogger("diaryidx.site")


@dataclass(slots=True)
class _Following:
    """``due`` says that something was done since the work in hand began."""

    due: bool = False
    work: asyncio.Task[None] | None = None


_followings: WeakKeyDictionary[Datasette, _Following] = WeakKeyDictionary()


def follow_soon(datasette: Datasette, shop: Shop) -> None:
    """Have done what follows from what a person just did; deeds in quick succession are followed once."""
    following = _followings.setdefault(datasette, _Following())
    following.due = True
    if following.work is None or following.work.done():
        following.work = asyncio.create_task(_follow(following, shop))


async def _follow(following: _Following, shop: Shop) -> None:
    while following.due:
        following.due = False
        try:
            await asyncio.to_thread(follow, shop)
        except DiaryidxError as error:
            log.error("what follows from it is left to the next index: %s", error)


def follow(shop: Shop) -> None:
    """Read new notes, put taught words right in all films, and tie all films to their builds again."""
    from diaryidx.builds.relinking import relink
    from diaryidx.noting import read_notes
    from diaryidx.store import reading
    from diaryidx.teaching import apply_decisions

    with closing(open_store(shop.database)) as db:
        if any(note.undone_at is None and note.reading_key is None for note in reading.notes(db.conn)):
            read_notes(shop, db)
        if reading.films_behind(db.conn, reading.last_decision(db.conn)):
            apply_decisions(shop, db)
        if reading.links_due(db.conn):
            relink(db, shop.words)
