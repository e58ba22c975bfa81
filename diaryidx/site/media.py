"""Serving films so that a player can seek: HTTP semantics by RFC 9110, files only from where the shop keeps them.

`decide` is the whole protocol as a pure function (sections 13 and 14 of https://www.rfc-editor.org/rfc/rfc9110);
`send_film` opens the file safely and streams what was decided.
"""

from __future__ import annotations

import asyncio
import os
import re
import secrets
import stat
import time
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from contextlib import suppress
from dataclasses import dataclass
from email.utils import formatdate, parsedate_to_datetime
from pathlib import Path
from typing import IO, Any

from diaryidx.errors import NotFound

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]

#: Bytes read and sent at a time: large enough for speed, small enough that a hundred players cost little memory.
CHUNK_BYTES = 256 * 1024
#: A player asks for one range, a download program for a few; anything above is a broken or hostile client
#: (RFC 9110, 14.2 and 17.15; the numbers are our own).
MOST_RANGES = 10
LONGEST_RANGE_HEADER = 1000
#: Content types by suffix: WebM, Ogg, MP3, MP4, QuickTime as registered with IANA; Matroska's by RFC 9559.
CONTENT_TYPES = {
    ".webm": "video/webm",
    ".mp4": "video/mp4",
    ".m4v": "video/mp4",
    ".mov": "video/quicktime",
    ".mkv": "video/matroska",
    ".mka": "audio/matroska",
    ".avi": "video/vnd.avi",
    ".ogv": "video/ogg",
    ".ogg": "audio/ogg",
    ".oga": "audio/ogg",
    ".opus": "audio/ogg",
    ".m4a": "audio/mp4",
    ".aac": "audio/aac",
    ".mp3": "audio/mpeg",
    ".flac": "audio/flac",
    ".wav": "audio/wav",
}


@dataclass(frozen=True, slots=True)
class Span:
    """``length`` bytes of a file from byte ``start``."""

    start: int
    length: int

    @property
    def last(self) -> int:
        """The last byte's place, as ``Content-Range`` counts."""
        return self.start + self.length - 1


@dataclass(frozen=True, slots=True)
class FilmFile:
    """What HTTP needs to know of a file: its size in bytes, its time in nanoseconds since 1970, its type."""

    size: int
    modified_ns: int
    content_type: str

    @property
    def etag(self) -> str:
        """A strong entity tag (RFC 9110, 8.8.3): a film that is written anew gets another size or time."""
        return f'"{self.size:x}-{self.modified_ns:x}"'

    @property
    def last_modified(self) -> str:
        """The time as an HTTP date, whole seconds."""
        return formatdate(self.modified_ns // 1_000_000_000, usegmt=True)


@dataclass(frozen=True, slots=True)
class Reply:
    """A response: the status, the headers, and the body as literal bytes and spans of the file."""

    status: int
    headers: tuple[tuple[str, str], ...]
    body: tuple[bytes | Span, ...] = ()


def content_type_of(path: str) -> str:
    """The media type to serve a film with, by its file name; unknown suffixes are served as plain bytes."""
    return CONTENT_TYPES.get(Path(path).suffix.lower(), "application/octet-stream")


def parse_ranges(header: str, size: int) -> list[Span] | None:
    """The parts of a representation that a ``Range`` header asks for (RFC 9110, 14.1.2 and 14.2).

    :param header: the field's value; ``size``: the representation's length in bytes.
    :returns: the satisfiable parts in the order asked for, overlapping ones merged; an empty list when none can be
        satisfied or so many are asked for that the request is refused; None when the header must be ignored, because
        its unit is unknown or it is malformed.
    """
    unit, equals, listed = header.partition("=")
    if not equals or unit.strip().lower() != "bytes":
        return None
    if len(header) > LONGEST_RANGE_HEADER:
        return []
    specs = [spec.strip(" \t") for spec in listed.split(",")]
    specs = [spec for spec in specs if spec]
    if not specs or not all(re.fullmatch(r"[0-9]+-[0-9]*|-[0-9]+", spec) for spec in specs):
        return None
    if len(specs) > MOST_RANGES:
        return []
    spans: list[Span] = []
    for spec in specs:
        first, _, last = spec.partition("-")
        if first and last and int(last) < int(first):
            return None
        start = int(first) if first else max(0, size - int(last))
        end = min(size, int(last) + 1) if first and last else size
        if start < end:
            spans.append(Span(start, end - start))
    return _merged(spans)


def decide(method: str, headers: Mapping[str, str], film: FilmFile, now: float) -> Reply:
    """What to answer to a request for a film: conditions first, then ranges (RFC 9110, 13.2.2).

    :param headers: request headers, names in lower case; ``now``: seconds since 1970.
    """
    validators = (("etag", film.etag), ("last-modified", film.last_modified), ("accept-ranges", "bytes"))
    refused = _precondition(headers, film)
    if refused is not None:
        return Reply(refused, (*validators, ("cache-control", "private, no-cache")))
    common = (*validators, ("cache-control", "private, no-cache"))
    spans: list[Span] | None = None
    if method == "GET" and "range" in headers and _range_applies(headers.get("if-range"), film, now):
        spans = parse_ranges(headers["range"], film.size)
    if spans is None:
        whole = (Span(0, film.size),) if film.size else ()
        return Reply(200, (*common, ("content-type", film.content_type), ("content-length", str(film.size))), whole)
    if not spans:
        return Reply(416, (*common, ("content-range", f"bytes */{film.size}"), ("content-length", "0")))
    if len(spans) == 1:
        span = spans[0]
        described = (
            ("content-type", film.content_type),
            ("content-range", _content_range(span, film.size)),
            ("content-length", str(span.length)),
        )
        return Reply(206, (*common, *described), (span,))
    return _multipart(spans, film, common)


def find_film(recordings: Path, stored: str) -> Path:
    """Where a stored film is on disk, refusing everything that is not plainly that file.

    :param recordings: the shop's folder of films; ``stored``: the path as the database has it, relative to that folder,
        or absolute for a film that a person indexed from elsewhere.
    :raises NotFound: it is gone, it leads out of the folder (by ``..`` or by a link), or an absolute path names a link.
    """
    named = Path(stored)
    try:
        resolved = (recordings / named).resolve(strict=True)
    except (OSError, RuntimeError, ValueError) as error:
        raise NotFound(f"the film's file {stored} is not there any more") from error
    inside = resolved.is_relative_to(recordings.resolve())
    chosen = named.is_absolute() and named.parent.resolve() / named.name == resolved
    if not (inside or chosen):
        raise NotFound(f"the film's file {stored} leads out of the recordings folder; it is not served")
    return resolved


def open_film(path: Path) -> tuple[IO[bytes], FilmFile]:
    """Open a film for reading, and what HTTP needs to know of it.

    :raises NotFound: it is gone, may not be read, or is no regular file.
    """
    # Not blocking, so that a pipe put in a film's place cannot hang the server; not following, so that a link put there
    # after `find_film` looked is refused.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0)
    try:
        descriptor = os.open(path, flags)
    except OSError as error:
        raise NotFound(f"the film's file {path.name} cannot be opened: {error.strerror}") from error
    facts = os.fstat(descriptor)
    if not stat.S_ISREG(facts.st_mode):
        os.close(descriptor)
        raise NotFound(f"{path.name} is no file")
    film = FilmFile(facts.st_size, facts.st_mtime_ns, content_type_of(path.name))
    return os.fdopen(descriptor, "rb", buffering=0), film


async def send_film(scope: Scope, receive: Receive, send: Send, path: Path) -> None:
    """Answer one request for a film.

    A film that shrinks or fails while it plays ends the response short of its length, so that the server closes the
    connection and the player knows; a player that goes away ends the reading.

    :raises NotFound: the file cannot be served; nothing was sent.
    """
    file, film = await asyncio.to_thread(open_film, path)
    try:
        headers = {name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]}
        reply = decide(scope["method"], headers, film, time.time())
        raw = [(name.encode("latin-1"), value.encode("latin-1")) for name, value in reply.headers]
        await send({"type": "http.response.start", "status": reply.status, "headers": raw})
        if scope["method"] == "HEAD" or await _sent_whole(file, reply.body, receive, send):
            await send({"type": "http.response.body", "body": b""})
    finally:
        file.close()


async def _sent_whole(file: IO[bytes], body: tuple[bytes | Span, ...], receive: Receive, send: Send) -> bool:
    """Stream a body; False when the file gave less than promised or the player went away."""
    gone = asyncio.create_task(_until_gone(receive))
    try:
        for piece in body:
            if isinstance(piece, bytes):
                await send({"type": "http.response.body", "body": piece, "more_body": True})
                continue
            place, left = piece.start, piece.length
            while left:
                if gone.done():
                    return False
                chunk = await asyncio.to_thread(_read_at, file, place, min(CHUNK_BYTES, left))
                if not chunk:
                    return False
                await send({"type": "http.response.body", "body": chunk, "more_body": True})
                place, left = place + len(chunk), left - len(chunk)
        return True
    finally:
        gone.cancel()
        with suppress(asyncio.CancelledError):
            await gone


async def _until_gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


def _read_at(file: IO[bytes], place: int, length: int) -> bytes:
    try:
        file.seek(place)
        return file.read(length)
    except OSError:  # the disk or network share went away
        return b""


def _precondition(headers: Mapping[str, str], film: FilmFile) -> int | None:
    """412 or 304 where a condition says so, in the order of RFC 9110, 13.2.2."""
    modified = film.modified_ns // 1_000_000_000
    if "if-match" in headers:
        if not _names(headers["if-match"], film.etag, weak=False):
            return 412
    elif (before := _seconds(headers.get("if-unmodified-since"))) is not None and modified > before:
        return 412
    if "if-none-match" in headers:
        if _names(headers["if-none-match"], film.etag, weak=True):
            return 304
    elif (since := _seconds(headers.get("if-modified-since"))) is not None and modified <= since:
        return 304
    return None


def _names(listed: str, etag: str, *, weak: bool) -> bool:
    """Whether a list of entity tags names this one, by weak or strong comparison (RFC 9110, 8.8.3.2)."""
    if listed.strip() == "*":
        return True
    tags = re.findall(r'(?:W/)?"[^"]*"', listed)
    return any((tag.removeprefix("W/") if weak else tag) == etag for tag in tags)


def _range_applies(condition: str | None, film: FilmFile, now: float) -> bool:
    """``If-Range`` (RFC 9110, 13.1.5): the same strong tag, or exactly the same date where that date is strong.

    A date is strong once the file has rested for a second (8.8.2.2).
    """
    if condition is None:
        return True
    if condition.strip().startswith(('"', "W/")):
        return condition.strip() == film.etag
    return _seconds(condition) == film.modified_ns // 1_000_000_000 and now - film.modified_ns / 1e9 >= 1.0


def _seconds(date: str | None) -> int | None:
    """An HTTP date in seconds since 1970; None where there is none or it is no date, which means: ignore it."""
    if date is None:
        return None
    try:
        return int(parsedate_to_datetime(date).timestamp())
    except (ValueError, OverflowError, OSError, TypeError):
        return None


def _merged(spans: list[Span]) -> list[Span]:
    """Merge overlapping and touching spans (RFC 9110, 15.3.7.2 allows it); apart, they keep the order asked for."""
    ordered = sorted(spans, key=lambda span: span.start)
    merged: list[Span] = []
    for span in ordered:
        if merged and span.start <= merged[-1].last + 1:
            start, last = merged[-1].start, max(merged[-1].last, span.last)
            merged[-1] = Span(start, last - start + 1)
        else:
            merged.append(span)
    return spans if len(merged) == len(spans) else merged


def _content_range(span: Span, size: int) -> str:
    return f"bytes {span.start}-{span.last}/{size}"


def _multipart(spans: list[Span], film: FilmFile, common: tuple[tuple[str, str], ...]) -> Reply:
    """Several parts as ``multipart/byteranges`` (RFC 9110, 14.6)."""
    boundary = secrets.token_hex(16)
    body: list[bytes | Span] = []
    for span in spans:
        described = (
            f"--{boundary}\r\nContent-Type: {film.content_type}\r\n"
            f"Content-Range: {_content_range(span, film.size)}\r\n\r\n"
        )
        body += [described.encode("ascii"), span, b"\r\n"]
    body.append(f"--{boundary}--\r\n".encode("ascii"))
    length = sum(len(piece) if isinstance(piece, bytes) else piece.length for piece in body)
    own = (("content-type", f"multipart/byteranges; boundary={boundary}"), ("content-length", str(length)))
    return Reply(206, (*common, *own), tuple(body))
