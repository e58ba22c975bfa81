"""Deeds: what signed-in people do through forms. Each reads its form, is done in one go in a thread, and leads on.

The guard has let in only forms of this site's own pages; who sent one must also be allowed to do what it asks.
"""

from __future__ import annotations

import asyncio
import re
import tempfile
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any
from urllib.parse import parse_qsl

from datasette.app import Datasette
from datasette.utils.asgi import Request, Response
from python_multipart.exceptions import FormParserError
from python_multipart.multipart import FormParser
from sqlite_utils import Database

from diaryidx.errors import NotFound, WrongUse
from diaryidx.shop import Person, Shop
from diaryidx.site.context import shop_of
from diaryidx.site.following import follow_soon
from diaryidx.site.forms import MULTIPART, boundary_of
from diaryidx.site.page import BadAddress, Page, View, asked_by, shown
from diaryidx.site.signin import require
from diaryidx.staff import Ability
from diaryidx.store.database import open_store

LONGEST_FILE_NAME = 100


@dataclass(frozen=True, slots=True)
class Form:
    """What was sent: who sent it, the names in its address, its fields, and its files as they lie on this disk."""

    person: Person
    names: Mapping[str, str]
    fields: Mapping[str, str]
    files: Mapping[str, tuple[Path, ...]] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """A field without the space around it; empty where it was left out."""
        return self.fields.get(name, "").strip()


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a deed: where to go on, what to say there, and whether other links follow from it."""

    address: str
    says: str = ""
    follow: bool = False
    went_wrong: bool = False


Deed = Callable[[Database, Shop, Form], Done | Page]


def deed_of(deed: Deed, ability: Ability) -> View:
    """A Datasette view that does a deed and leads on to its page; a deed that asks back shows that page itself."""

    async def view(request: Request, datasette: Datasette) -> Response:
        person = require(request, ability)
        shop = shop_of(datasette)
        assert shop is not None, "the site's plugins need a shop; serve it by diaryidx.site.server"
        if request.method != "POST":
            raise NotFound("This is done by a button on one of the pages.")
        with tempfile.TemporaryDirectory(dir=shop.folder, prefix=".sent-") as folder:
            form = await read_form(request, person, Path(folder))
            try:
                done = await asyncio.to_thread(_do, deed, shop, form)
            except (NotFound, BadAddress):
                raise
            except WrongUse as error:
                raise BadAddress(str(error)) from error
        if isinstance(done, Page):
            return await shown(datasette, request, done)
        if done.follow:
            follow_soon(datasette, shop)
        if done.says:
            datasette.add_message(request, done.says, datasette.ERROR if done.went_wrong else datasette.INFO)
        return Response.redirect(done.address, status=303)

    return view


def _do(deed: Deed, shop: Shop, form: Form) -> Done | Page:
    with closing(open_store(shop.database)) as db:
        return deed(db, shop, form)


async def read_form(request: Request, person: Person, folder: Path) -> Form:
    """Read what was sent; files are written into ``folder`` under names that can do no harm.

    :raises BadAddress: it cannot be read.
    :raises TooLarge: it is larger than this form may be.
    """
    names = asked_by(request).names
    boundary = boundary_of(request.scope)
    if boundary is None:
        body: bytes = await request.post_body()
        return Form(person, names, dict(parse_qsl(body.decode(), keep_blank_values=True)))
    fields, files = await _read_parts(request, boundary, folder)
    return Form(person, names, fields, files)


async def _read_parts(
    request: Request, boundary: str, folder: Path
) -> tuple[dict[str, str], dict[str, tuple[Path, ...]]]:
    """The fields and files of a form with files (RFC 7578)."""
    fields: dict[str, str] = {}
    files: dict[str, tuple[Path, ...]] = {}

    def keep_field(part: Any) -> None:
        fields[part.field_name.decode("utf-8", "replace")] = (part.value or b"").decode("utf-8", "replace")

    def keep_file(part: Any) -> None:
        if not part.size:  # a field for files in which none was chosen
            return
        if part.in_memory:  # larger ones are on the disk already
            part.flush_to_disk()
        part.file_object.flush()
        name = part.field_name.decode("utf-8", "replace")
        place = folder / str(sum(map(len, files.values())))
        place.mkdir()
        kept = Path(_text(part.actual_file_name)).rename(place / safe_file_name(_text(part.file_name)))
        files[name] = (*files.get(name, ()), kept)

    config = {"UPLOAD_DIR": str(folder), "UPLOAD_DELETE_TMP": False, "MAX_MEMORY_FILE_SIZE": 64 * 1024}
    parser = FormParser(MULTIPART, keep_field, keep_file, boundary=boundary, config=config)
    more = True
    try:
        while more:
            message = await request.receive()
            if message["type"] != "http.request":
                raise BadAddress("The sending was broken off; nothing was kept.")
            parser.write(message.get("body", b""))
            more = bool(message.get("more_body"))
        parser.finalize()
    except FormParserError as error:
        raise BadAddress("This form cannot be read; load the page again and try once more.") from error
    finally:
        parser.close()
    return fields, files


def safe_file_name(name: str) -> str:
    """A file's name as a person would know it again, without folders, leading dots and signs that mean something."""
    last = PurePosixPath(name.replace("\\", "/")).name
    kept = re.sub(r"[^\w .()'-]", "_", last).strip(" .")
    return kept[-LONGEST_FILE_NAME:].strip(" .") or "file"


def _text(name: bytes | str | None) -> str:
    return name.decode("utf-8", "replace") if isinstance(name, bytes) else name or ""
