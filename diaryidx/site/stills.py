"""Small pictures of films for the pages: taken when asked for, kept in memory for a while."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from pathlib import Path

from diaryidx.errors import NotFound
from diaryidx.media.stills import still

#: Pixels across: sharp on a phone held in one hand, about 20 kB a picture.
STILL_WIDTH = 480
#: About 10 MB at most.
STILLS_KEPT = 400
#: Decoding is the dearest thing the site does; it must never take every core from the player and the index.
_workers = ThreadPoolExecutor(max_workers=1, thread_name_prefix="stills")


async def small_still(path: Path, seconds: float) -> bytes:
    """The picture of a film at a second, as a JPEG `STILL_WIDTH` pixels wide or less.

    :raises NotFound: the file is gone.
    :raises MediaError: there is no picture, or none can be decoded.
    """
    try:
        modified_ns = path.stat().st_mtime_ns
    except OSError as error:
        raise NotFound(f"the film's file {path.name} is not there any more") from error
    return await asyncio.get_running_loop().run_in_executor(_workers, _still, path, modified_ns, seconds)


@lru_cache(maxsize=STILLS_KEPT)
def _still(path: Path, _modified_ns: int, seconds: float) -> bytes:
    return still(path, seconds, STILL_WIDTH)
