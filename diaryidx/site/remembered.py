"""What outlives one run of the site: the key that signs sign-ins, and which of them were ended.

It lies in the shop folder in a file that only its owner may read. Without it, or where others could read it, a new key
is made, which signs everybody out; a file that cannot be written leaves the site with a key in its memory, as safe and
forgotten when it ends.
"""

from __future__ import annotations

import json
import logging
import os
import secrets
import stat
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from filelock import FileLock

from diaryidx.whole_files import write_whole

log = logging.getLogger("diaryidx.site")

#: The file, and the lock under which it is changed, in the shop folder; hidden, so that no copy of a shop holds it.
FILE, LOCK = ".sign-in.json", ".sign-in.lock"
_KEY_BYTES = 32
_OWNER_ONLY = 0o600
_LOCK_SECONDS = 5.0


@dataclass(frozen=True)
class Kept:
    """The key, and the sign-ins that were ended with the second until which they would have held."""

    key: str = field(repr=False)
    ended: Mapping[str, float] = field(default_factory=dict)


def signing_key(folder: Path) -> str:
    """The key that signs this shop's sign-ins; made when there is none that nobody else could have read."""
    try:
        with FileLock(folder / LOCK, timeout=_LOCK_SECONDS):
            kept = _read(folder)
            if kept is None:
                kept = Kept(secrets.token_hex(_KEY_BYTES))
                _write(folder, kept)
            return kept.key
    except OSError as error:
        log.warning("%s cannot be kept (%s): a new start of the site signs everybody out", folder / FILE, error)
        return secrets.token_hex(_KEY_BYTES)


def end_sign_in(folder: Path, session: str, until: float) -> None:
    """Remember that a sign-in was ended, as long as it could hold.

    :param until: the second of the clock at which it ends by itself.
    """
    try:
        with FileLock(folder / LOCK, timeout=_LOCK_SECONDS):
            kept = _read(folder)
            if kept is not None:
                now = time.time()
                ended = {one: end for one, end in kept.ended.items() if end > now}
                _write(folder, Kept(kept.key, {**ended, session: until}))
    except OSError as error:
        log.warning("%s cannot be written (%s): what was signed out may hold after a new start", folder / FILE, error)


def was_ended(folder: Path, session: str) -> bool:
    """Whether a sign-in was ended, also by another program that serves the same shop."""
    try:
        found = (folder / FILE).stat()
    except OSError:
        return False
    return session in _ended(folder, (found.st_mtime_ns, found.st_size, found.st_ino))


@lru_cache(maxsize=8)
def _ended(folder: Path, _changed: tuple[int, int, int]) -> frozenset[str]:
    kept = _read(folder)
    return frozenset() if kept is None else frozenset(kept.ended)


def _read(folder: Path) -> Kept | None:
    """What is kept; None where there is nothing, it is damaged, or somebody else could have read or written it."""
    file = folder / FILE
    try:
        found = file.lstat()
        if not stat.S_ISREG(found.st_mode) or not _is_ours_alone(found):
            return None
        raw = json.loads(file.read_text(encoding="utf-8"))
        key, ended = raw["key"], {str(one): float(end) for one, end in raw["ended"].items()}
        return Kept(key, ended) if isinstance(key, str) and len(key) == 2 * _KEY_BYTES else None
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None


def _is_ours_alone(found: os.stat_result) -> bool:
    """Whether a file belongs to who runs this, and nobody else may read it; Windows has no such bits."""
    if os.name == "nt":
        return True
    return found.st_uid == os.getuid() and not found.st_mode & 0o077


def _write(folder: Path, kept: Kept) -> None:
    raw = json.dumps({"key": kept.key, "ended": dict(kept.ended)}).encode()
    write_whole(folder / FILE, raw, _OWNER_ONLY)
