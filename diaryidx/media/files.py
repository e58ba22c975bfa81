"""Files before anything is known of their content: whether they can be read, and how they are named in messages."""

from __future__ import annotations

import stat
from pathlib import Path

from diaryidx.errors import MediaError


def shown(path: Path | str) -> str:
    """Return a path as one printable line: line breaks, control characters and undecodable bytes are escaped."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape", "surrogatepass").decode() for c in str(path))


def reason(error: BaseException) -> str:
    """Return libav's own words for an error, without its number and the file's name."""
    return str(getattr(error, "strerror", None) or error).strip().rstrip(".") or type(error).__name__


def require_file(path: Path) -> None:
    """Check that ``path`` is a regular file with something in it and may be read.

    Raises MediaError otherwise; a pipe or device is refused too, as reading it might never end.
    """
    try:
        found = path.stat()
        if not stat.S_ISREG(found.st_mode):
            raise MediaError(f"{shown(path)}: is not a file; name a video or audio file")
        if found.st_size == 0:
            raise MediaError(f"{shown(path)}: is empty (0 bytes); copy it again from the camera or phone")
        with path.open("rb"):
            pass
    except FileNotFoundError:
        raise MediaError(f"{shown(path)}: there is no such file; check the name") from None
    except PermissionError:
        raise MediaError(f"{shown(path)}: may not be read; change its permissions") from None
    except (OSError, ValueError) as error:
        raise MediaError(f"{shown(path)}: cannot be read ({reason(error)})") from None
