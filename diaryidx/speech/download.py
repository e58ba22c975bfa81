"""Fetch the small English model from its publisher: the only code of this program that uses the network."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

from diaryidx.errors import SpeechError
from diaryidx.media.files import reason
from diaryidx.speech.home import home_folder, models_folder, remember
from diaryidx.speech.model_folder import missing, prove
from diaryidx.speech.unpacking import beside, unpack_model

PUBLISHER_LIST = "https://alphacephei.com/vosk/models/model-list.json"
MODEL_NAME = "vosk-model-small-en-us-0.15"  # Apache-2.0, about 40 MB

Progress = Callable[[int, int], None]  # bytes so far, bytes in all

# Own choices.
TIMEOUT = httpx.Timeout(30.0, connect=15.0)  # seconds without any byte
MOST_LIST = 5_000_000  # bytes; the publisher's list has about 60,000
MOST_MODEL = 6_000_000_000  # bytes
MOST_REDIRECTS = 5
OTHERWISE = "try again, or fetch the model elsewhere and name it with `diaryidx model use PATH`"


@dataclass(frozen=True)
class Offer:
    """What the publisher's list says of a model: address, size in bytes and MD5 (the only checksum that it gives)."""

    name: str
    url: httpx.URL
    size: int
    md5: str


def publisher_list() -> str:
    """Return the address of the publisher's list; ``DIARYIDX_MODEL_LIST`` names another, a mirror of one's own."""
    return os.environ.get("DIARYIDX_MODEL_LIST") or PUBLISHER_LIST


def get(list_url: str | None = None, name: str = MODEL_NAME, progress: Progress | None = None) -> Path:
    """Fetch a model, check size and checksum against the publisher's list, install and choose it; return its folder.

    A model that is already installed and loads is not fetched again. Whatever goes wrong, also Ctrl-C, nothing
    half-written is left, and a model installed before stays.

    Args:
        list_url: the publisher's list; see ``publisher_list`` if not given.
        name: the model's name in the list.
        progress: called with the bytes so far and in all, as they come.

    Raises SpeechError: no network, no such model, or a reply that is not what the list promised; one line.
    """
    target, proofs = models_folder() / name, home_folder() / "proofs.json"
    if not _is_whole(target, proofs):
        address = list_url or publisher_list()
        with _client(address) as client, beside(models_folder()) as folder:
            offer = find_offer(_fetch_list(client, address), name, address)
            file = folder / f"{name}.zip"
            _fetch_model(client, offer, file, progress or (lambda done, total: None))
            target = unpack_model(file, models_folder(), proofs, name=name)
    remember(target)
    return target


def find_offer(content: bytes, name: str, address: str) -> Offer:
    """Return what the publisher's list offers under ``name``.

    Raises SpeechError: no list, no such model in it, or an entry that can't be meant.
    """
    try:
        models = json.loads(content)
        found = next((model for model in models if model.get("name") == name), None)
    except (ValueError, AttributeError, TypeError):
        raise SpeechError(f"{address}: is not the publisher's list of models; {OTHERWISE}") from None
    if found is None:
        raise SpeechError(f"{address}: offers no model named {name}; {OTHERWISE}")
    url, size, md5 = found.get("url"), found.get("size"), found.get("md5")
    if not isinstance(url, str) or not isinstance(size, int) or not 0 < size <= MOST_MODEL or not _is_md5(md5):
        raise SpeechError(f"{address}: says no usable address, size and checksum of {name}; {OTHERWISE}")
    try:
        return Offer(name, httpx.URL(address).join(url), size, str(md5).lower())
    except httpx.InvalidURL:
        raise SpeechError(f"{address}: gives an address for {name} that is none; {OTHERWISE}") from None


def _is_whole(folder: Path, proofs: Path) -> bool:
    if not folder.is_dir() or missing(folder) is not None:
        return False
    try:
        prove(folder, proofs)
    except SpeechError:
        return False
    return True


def _is_md5(text: Any) -> bool:
    return isinstance(text, str) and len(text) == 32 and all(c in "0123456789abcdefABCDEF" for c in text)


def _client(list_address: str) -> httpx.Client:
    """Return a client that goes where it is sent by http(s) only, and never from https back to http."""
    secure = list_address.lower().startswith("https:")

    def check(request: httpx.Request) -> None:
        if request.url.scheme not in (("https",) if secure else ("http", "https")):
            raise SpeechError(f"{request.url}: the publisher's reply leads to an unsafe address; {OTHERWISE}")

    return httpx.Client(
        timeout=TIMEOUT,
        follow_redirects=True,
        max_redirects=MOST_REDIRECTS,
        event_hooks={"request": [check]},
        headers={"Accept-Encoding": "identity", "User-Agent": "diaryidx"},
    )


def _fetch_list(client: httpx.Client, address: str) -> bytes:
    content = bytearray()
    with _reply(client, address) as reply:
        for piece in reply.iter_raw():
            content += piece
            if len(content) > MOST_LIST:
                raise SpeechError(f"{address}: is too long for a list of models; {OTHERWISE}")
    return bytes(content)


def _fetch_model(client: httpx.Client, offer: Offer, file: Path, progress: Progress) -> None:
    """Write the model's zip to ``file`` and check it against the offer, while it comes and at its end."""
    digest = hashlib.md5(usedforsecurity=False)
    done = 0
    with _reply(client, str(offer.url)) as reply, file.open("wb") as out:
        stated = reply.headers.get("Content-Length", str(offer.size))
        if stated != str(offer.size):
            raise SpeechError(f"{offer.url}: is {stated} bytes long, not {offer.size} as the list says; {OTHERWISE}")
        for piece in reply.iter_raw():
            done += len(piece)
            if done > offer.size:
                raise SpeechError(f"{offer.url}: is longer than the {offer.size} bytes of the list; {OTHERWISE}")
            digest.update(piece)
            out.write(piece)
            progress(done, offer.size)
    if done < offer.size:
        raise SpeechError(f"{offer.url}: broke off after {done} of {offer.size} bytes; {OTHERWISE}")
    if digest.hexdigest() != offer.md5:
        raise SpeechError(f"{offer.url}: has not the MD5 checksum of the publisher's list; {OTHERWISE}")


@contextmanager
def _reply(client: httpx.Client, address: str) -> Iterator[httpx.Response]:
    """Give a streamed reply; its every failure, from the name's resolution to a broken body, is one SpeechError."""
    try:
        with client.stream("GET", address) as reply:
            if reply.status_code != 200:
                raise SpeechError(f"{address}: the server answers {reply.status_code}; {OTHERWISE}")
            yield reply
    except httpx.ConnectError as error:
        raise SpeechError(f"{address}: cannot be reached, is there a network? ({_told(error)}); {OTHERWISE}") from None
    except httpx.TimeoutException:
        raise SpeechError(f"{address}: does not answer in time; {OTHERWISE}") from None
    except (httpx.HTTPError, httpx.InvalidURL, httpx.StreamError) as error:
        raise SpeechError(f"{address}: cannot be fetched ({_told(error)}); {OTHERWISE}") from None


def _told(error: Exception) -> str:
    return " ".join(reason(error).split())
