"""One program at a time works on what a shop's films say: an index, or a correction being applied."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from filelock import FileLock, Timeout

from diaryidx.errors import DiaryidxError
from diaryidx.shop import Shop


class AtWork(DiaryidxError):
    """Another program works in the shop."""


@contextmanager
def alone_in(shop: Shop, wait: float = 0.0) -> Iterator[None]:
    """Hold the shop's lock; the operating system lets go of it even after a crash.

    :param wait: how long to wait for another program, in seconds.
    :raises AtWork: another program holds it.
    :raises DiaryidxError: the shop's folder cannot be written to.
    """
    lock = FileLock(shop.folder / ".index.lock")
    try:
        lock.acquire(timeout=wait)
    except Timeout:
        raise AtWork(f"{shop.folder}: another index is running in this shop; wait until it is done") from None
    except OSError as error:
        raise DiaryidxError(f"{shop.folder}: cannot be written to ({error.strerror}); check its permissions") from error
    try:
        yield
    finally:
        lock.release()
