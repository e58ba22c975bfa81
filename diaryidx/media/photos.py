"""Take a photo into the shop folder: only pictures that really open, under the hash of their bytes."""

from __future__ import annotations

import hashlib
import io
from pathlib import Path

import av

from diaryidx.errors import MediaError
from diaryidx.media.files import reason, require_file, shown
from diaryidx.media.opening import LIBAV_ERRORS
from diaryidx.records import Photo
from diaryidx.whole_files import write_whole

#: The largest photo that is taken, in bytes and in pixels; telephones of 2026 stay below both (our own choice).
LARGEST_BYTES = 40_000_000
LARGEST_PIXELS = 110_000_000
#: What browsers show as pictures and cannot run: how it begins, libav's reader for it, the suffix it is kept under.
#: JPEG: ITU-T T.81 annex B; PNG: ISO/IEC 15948, 5.2; WebP: RFC 9649, 2.4.
_KINDS = (
    (lambda raw: raw.startswith(b"\xff\xd8\xff"), "jpeg_pipe", ".jpg"),
    (lambda raw: raw.startswith(b"\x89PNG\r\n\x1a\n"), "png_pipe", ".png"),
    (lambda raw: raw.startswith(b"RIFF") and raw[8:12] == b"WEBP", "webp_pipe", ".webp"),
)
_HASH_DIGITS = 40


def keep_photo(path: Path, folder: Path) -> Photo:
    """Copy a photo into a folder, named by the SHA-256 of its bytes; the same photo is kept once.

    What is checked is what is written: the file is read once, and decoded from memory.

    :param path: a JPEG, PNG or WebP of at most `LARGEST_BYTES`.
    :param folder: made if it is not there.
    :raises MediaError: there is no such file, it is too large, or no picture that opens.
    """
    require_file(path)
    if path.stat().st_size > LARGEST_BYTES:
        raise MediaError(f"{shown(path)}: is larger than {LARGEST_BYTES // 1_000_000} MB; send a smaller photo")
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise MediaError(f"{shown(path)}: cannot be read ({reason(error)})") from None
    suffix, width, height = _opened(raw, path)
    file = hashlib.sha256(raw).hexdigest()[:_HASH_DIGITS] + suffix
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if not (folder / file).is_file():
            write_whole(folder / file, raw)
    except OSError as error:
        raise MediaError(f"{shown(path)}: cannot be copied to {folder} ({reason(error)})") from None
    return Photo(file, shown(path.name)[:200], width, height)


def _opened(raw: bytes, path: Path) -> tuple[str, int, int]:
    """The suffix and size of a picture, once its pixels have been decoded."""
    kind = next((kind for kind in _KINDS if kind[0](raw)), None)
    if kind is None:
        raise MediaError(f"{shown(path)}: is no JPEG, PNG or WebP picture; save it as one and add that")
    try:
        with av.open(io.BytesIO(raw), "r", format=kind[1], options={"max_pixels": str(LARGEST_PIXELS)}) as container:
            frame = next(container.decode(video=0))
            return kind[2], frame.width, frame.height
    except (*LIBAV_ERRORS, OSError, StopIteration) as error:
        raise MediaError(
            f"{shown(path)}: the picture cannot be opened ({reason(error)}); save it again and add that"
        ) from None
