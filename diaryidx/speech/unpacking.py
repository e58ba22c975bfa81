"""Unpack a model out of a zip: whole or not at all, and never outside its own folder."""

from __future__ import annotations

import shutil
import stat
import tempfile
import time
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from lzma import LZMAError
from pathlib import Path, PurePosixPath
from zipfile import BadZipFile, ZipFile, ZipInfo

from diaryidx.errors import SpeechError
from diaryidx.media.files import reason, shown
from diaryidx.speech.model_folder import find_model, prove

# Own choices. The largest published Vosk models unpack to about 5 GB (from memory) in some dozens of files.
MOST_BYTES = 12_000_000_000
MOST_FILES = 10_000
STALE = 24 * 3600.0  # seconds after which what a killed run left beside the models is cleared away
# What zipfile raises for damage of one kind or another; a method that it doesn't know is NotImplementedError.
ZIP_DAMAGE = (BadZipFile, EOFError, NotImplementedError, RuntimeError, UnicodeError, ValueError, zlib.error, LZMAError)
BESIDE = ".unfinished-"  # begins the names of folders that are being filled


@contextmanager
def beside(models: Path) -> Iterator[Path]:
    """Give an empty folder beside the models, on the same disk, and remove it afterwards, whatever happens.

    Raises SpeechError: the models' folder cannot be made or written.
    """
    try:
        models.mkdir(parents=True, exist_ok=True)
        for left in models.glob(f"{BESIDE}*"):
            if time.time() - left.stat().st_mtime > STALE:
                shutil.rmtree(left, ignore_errors=True)
        folder = Path(tempfile.mkdtemp(prefix=BESIDE, dir=models))
    except OSError as error:
        raise SpeechError(f"{shown(models)}: cannot be written ({reason(error)}); free the disk or folder") from None
    try:
        yield folder
    except OSError as error:
        raise SpeechError(f"{shown(models)}: cannot be written ({reason(error)}); free the disk or folder") from None
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def unpack_model(file: Path, models: Path, proofs: Path, name: str | None = None) -> Path:
    """Unpack the Vosk model in a zip into a folder of ``models`` and return that folder.

    The zip is unpacked beside and the model loaded once; only then is it renamed, in place of an older one of its name.

    Args:
        file: the zip; the model may lie at its top or in its only folder.
        models: where models live; made if need be.
        proofs: where it is remembered that a model loads (see ``model_folder.prove``).
        name: the new folder's name; that of the zip's only folder, else of the zip, if not given.

    Raises SpeechError: no zip, a damaged or harmful one, no whole model in it, or no room.
    """
    with beside(models) as folder:
        unpacked = folder / "unpacked"
        unpack(file, unpacked)
        found = find_in_zip(unpacked, file)
        target = models / (name or (file.stem if found == unpacked else found.name))
        prove(found, folder / "proofs.json")
        if target.exists():
            target.rename(folder / "old")
        found.rename(target)
    prove(target, proofs)
    return target


def find_in_zip(unpacked: Path, file: Path) -> Path:
    """Return the model's folder among what was unpacked; the error names the zip, not the folder."""
    try:
        return find_model(unpacked)
    except SpeechError as error:
        told = str(error).replace(shown(unpacked), shown(file)).split(";")[0]
        raise SpeechError(f"{told}; fetch it again or name another") from None


def unpack(file: Path, folder: Path) -> None:
    """Unpack a zip into a new folder.

    Raises SpeechError: not a zip, damaged, encrypted, too large, or with names that lead out of the folder.
    """
    try:
        with file.open("rb") as opened, ZipFile(opened) as zipped:
            entries = zipped.infolist()
            _check(file, entries)
            folder.mkdir(parents=True)
            for entry in entries:
                _unpack_entry(zipped, entry, folder)
    except PermissionError as error:
        raise SpeechError(f"{shown(file)}: cannot be read ({reason(error)}); change its permissions") from None
    except ZIP_DAMAGE as error:
        raise SpeechError(f"{shown(file)}: is not a whole zip ({reason(error)}); fetch it again") from None


def _check(file: Path, entries: list[ZipInfo]) -> None:
    """Refuse a zip that would write outside its folder, make links, or fill the disk."""
    for entry in entries:
        path = PurePosixPath(entry.filename)
        outside = path.is_absolute() or ".." in path.parts or "\\" in entry.orig_filename or ":" in entry.filename
        if outside or not path.parts:
            raise SpeechError(f"{shown(file)}: is refused, it would write outside its folder ({shown(entry.filename)})")
        if stat.S_ISLNK(entry.external_attr >> 16):
            raise SpeechError(f"{shown(file)}: is refused, it contains a link ({shown(entry.filename)})")
        if entry.flag_bits & 1:
            raise SpeechError(f"{shown(file)}: is encrypted; unpack it yourself and name the folder")
    size = sum(entry.file_size for entry in entries)
    if len(entries) > MOST_FILES or size > MOST_BYTES:
        raise SpeechError(f"{shown(file)}: is refused, it is too large for a model ({size / 1e9:.1f} GB unpacked)")


def _unpack_entry(zipped: ZipFile, entry: ZipInfo, folder: Path) -> None:
    """Write one entry; zipfile reads no more than the size that was checked, and checks its CRC."""
    target = folder.joinpath(*PurePosixPath(entry.filename).parts)
    if entry.is_dir():
        target.mkdir(parents=True, exist_ok=True)
        return
    target.parent.mkdir(parents=True, exist_ok=True)
    with zipped.open(entry) as source, target.open("wb") as out:
        shutil.copyfileobj(source, out, 1 << 20)
