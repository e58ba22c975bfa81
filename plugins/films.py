"""The films, a film with its words, and its captions."""

from typing import Any

from datasette import Response
from datasette.app import Datasette
from datasette.utils.asgi import Request

from diaryidx.site import films
from diaryidx.site.addresses import name_in_address
from diaryidx.site.context import read
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import hidden_from, view_of


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """The list of films and a film's page, each also as JSON, and its captions."""
    return [
        (r"/films(?:\.json)?$", view_of(films.films_page)),
        (r"/films/(?P<film>[^/]+?)(?:\.json)?$", view_of(films.film_page)),
        (r"/films/(?P<film>[^/]+)/captions\.vtt$", captions),
    ]


async def captions(request: Request, datasette: Datasette) -> Response:
    """A film's captions as WebVTT."""
    film = name_in_address(request.url_vars["film"])
    text = await read(datasette, lambda db: films.film_captions(db, film))
    hidden = await hidden_from(datasette, request)
    text = text if hidden is None else hidden.out_of(text)
    return Response(text, headers={"Cache-Control": "private, no-cache"}, content_type="text/vtt; charset=utf-8")
