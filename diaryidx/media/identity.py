"""Find recordings in a folder and tell whether one has changed."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterator
from pathlib import Path

from diaryidx.errors import MediaError
from diaryidx.media.files import reason, shown

# Suffixes of files that are taken for recordings when a folder is read. A file named on its own needs no such suffix.
MEDIA_SUFFIXES = frozenset(
    # films
    {".3g2", ".3gp", ".asf", ".avi", ".divx", ".dv", ".f4v", ".flv", ".m2ts", ".m4v", ".mkv", ".mov", ".mp4", ".mpeg"}
    | {".mpg", ".mts", ".mxf", ".ogv", ".qt", ".rm", ".rmvb", ".ts", ".vob", ".webm", ".wmv", ".wtv"}
    # sound
    | {".aac", ".ac3", ".aif", ".aifc", ".aiff", ".amr", ".ape", ".au", ".awb", ".caf", ".dss", ".flac", ".m4a", ".m4b"}
    | {".mka", ".mp2", ".mp3", ".oga", ".ogg", ".opus", ".tta", ".wav", ".wave", ".weba", ".wma", ".wv"}
)

# Endings of a stem that mark a file still being written ("film.part.mp4"); "film.mp4.part" has no suffix of ours.
UNFINISHED = (".part", ".partial", ".temp", ".tmp", ".crdownload", ".download", ".filepart", "~")


def stat_key(path: Path) -> tuple[int, int]:
    """Return a file's size in bytes and time of last change in nanoseconds: equal means "unchanged", nothing is read.

    Raises MediaError: there is no such file, or it may not be looked at.
    """
    try:
        found = path.stat()
    except OSError as error:
        raise MediaError(f"{shown(path)}: cannot be read ({reason(error)}); check the name") from None
    return found.st_size, found.st_mtime_ns


def content_hash(path: Path) -> str:
    """Return the SHA-256 of a file's bytes as 64 hexadecimal digits; the file is read once, in pieces.

    Raises MediaError: the file cannot be read to its end.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise MediaError(f"{shown(path)}: cannot be read ({reason(error)}); copy it again") from None


def find_recordings(folder: Path, on_problem: Callable[[str], None] | None = None) -> list[Path]:
    """Return every recording in a folder and its subfolders, sorted by path.

    Hidden files, files still being copied or downloaded, and symbolic links (which may lead out of the folder, or name
    a film twice) are left out. Nothing is opened, so thousands of large files take milliseconds.

    Args:
        folder: where to look; may itself be a link.
        on_problem: called with one line for each subfolder that cannot be read; the rest is still returned.

    Raises MediaError: the folder itself is missing or cannot be read.
    """
    try:
        with os.scandir(folder):
            pass
    except OSError as error:
        raise MediaError(f"{shown(folder)}: cannot be read as a folder ({reason(error)})") from None
    return sorted(_walk(folder, on_problem))


def is_recording_name(name: str) -> bool:
    """Return whether a file of this name is taken for a finished recording."""
    stem, suffix = os.path.splitext(name)  # noqa: PTH122  a Path per file would double the time of a large folder
    return suffix.lower() in MEDIA_SUFFIXES and not name.startswith(".") and not stem.lower().endswith(UNFINISHED)


def _walk(folder: Path, on_problem: Callable[[str], None] | None) -> Iterator[Path]:
    """Yield the recordings below ``folder``, each folder's own before those of its subfolders."""
    waiting = [str(folder)]
    while waiting:
        current = waiting.pop()
        try:
            with os.scandir(current) as entries:
                for entry in entries:
                    if entry.is_dir(follow_symlinks=False) and not entry.name.startswith("."):
                        waiting.append(entry.path)
                    elif is_recording_name(entry.name) and entry.is_file(follow_symlinks=False):
                        yield Path(entry.path)
        except OSError as error:
            if on_problem:
                on_problem(f"{shown(current)}: this folder cannot be read ({reason(error)}); check its permissions")
