"""Files that are at every moment there whole, old or new, or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_whole(target: Path, raw: bytes, mode: int = 0o644) -> None:
    """Write a file beside its place and put it there in one step, on the disk before it is seen.

    :param mode: its permissions; never executable unless said.
    :raises OSError: it cannot be written; what was there before is untouched.
    """
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".", suffix=".part")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(raw)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(mode)
        temporary.replace(target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
