"""The films themselves, for players, and small pictures out of them."""

from typing import Any

from datasette import Response
from datasette.app import Datasette
from datasette.utils.asgi import Request

from diaryidx.site.addresses import name_in_address
from diaryidx.site.context import read, shop_of
from diaryidx.site.hooks import hookimpl
from diaryidx.site.media import Receive, Scope, Send, find_film, send_film
from diaryidx.site.stills import small_still
from diaryidx.store import reading


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """A film by its id, and a picture of it at a second, to the hundredth if asked for."""
    return [
        (r"/media/(?P<film>[^/]+)$", film),
        (r"/stills/(?P<film>[^/]+)/(?P<seconds>[0-9]{1,6}(?:\.[0-9]{1,2})?)\.jpg$", picture),
    ]


async def film(scope: Scope, receive: Receive, send: Send, request: Request, datasette: Datasette) -> None:
    """Send a film, or the part of it that a player asks for."""
    await send_film(scope, receive, send, await _path(request, datasette))


async def picture(request: Request, datasette: Datasette) -> Response:
    """Send one picture as a JPEG."""
    jpeg = await small_still(await _path(request, datasette), float(request.url_vars["seconds"]))
    return Response(jpeg, headers={"Cache-Control": "private, max-age=3600"}, content_type="image/jpeg")


async def _path(request: Request, datasette: Datasette) -> Any:
    """Where the film that the address names is on disk; only films that the database knows have one."""
    shop = shop_of(datasette)
    assert shop is not None, "the site's plugins need a shop; serve it by diaryidx.site.server"
    known = await read(datasette, lambda db: reading.recording(db, name_in_address(request.url_vars["film"])))
    return find_film(shop.recordings, known.path)
