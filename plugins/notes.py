"""Notes from the bench: sent through a bike's page, with photos or as a recording, and the photos themselves."""

import asyncio
from typing import Any
from urllib.parse import quote

from datasette import Response
from datasette.app import Datasette
from datasette.utils.asgi import Request

from diaryidx.site import notes
from diaryidx.site.context import read, shop_of
from diaryidx.site.deeds import deed_of
from diaryidx.site.hooks import hookimpl
from diaryidx.store import reading


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """Where notes and recordings are sent to, and a photo by its name."""
    return [
        (r"/builds/(?P<job>[^/]+)/notes$", deed_of(notes.add_note, "write")),
        (r"/builds/(?P<job>[^/]+)/voice-notes$", deed_of(notes.send_voice_note, "write")),
        (r"/notes/(?P<note>[0-9]{1,12})/undo$", deed_of(notes.take_back_note, "write")),
        (r"/photos/(?P<photo>[0-9a-f]{40}\.[a-z]{3,4})$", photo),
    ]


async def photo(request: Request, datasette: Datasette) -> Response:
    """Send a photo of a note in force, under the name that it had (RFC 6266, RFC 8187)."""
    shop = shop_of(datasette)
    assert shop is not None, "the site's plugins need a shop; serve it by diaryidx.site.server"
    known = await read(datasette, lambda db: reading.photo(db, request.url_vars["photo"]))
    raw, content_type = await asyncio.to_thread(notes.photo_of, shop, known.file)
    named = {"Content-Disposition": f"inline; filename*=UTF-8''{quote(known.name, safe='')}"}
    return Response(raw, headers={"Cache-Control": "private, max-age=3600", **named}, content_type=content_type)
