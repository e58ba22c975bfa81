"""What a page is: a template with its values, and the same as JSON at the same address with ``.json``."""

from __future__ import annotations

import sqlite3
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from datasette.app import Datasette
from datasette.utils.asgi import Request, Response
from jinja2 import Environment, StrictUndefined

from diaryidx.shapes import Shape
from diaryidx.shop import Shop
from diaryidx.site.addresses import name_in_address
from diaryidx.site.context import read, shop_of

#: Our pages need nothing from anywhere else, and no script or style inside the page itself.
CONTENT_SECURITY_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; media-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {"Content-Security-Policy": CONTENT_SECURITY_POLICY, "Cache-Control": "private, no-cache"}


class BadAddress(Exception):
    """The address asks for something that cannot be: the message says what, and what to write instead."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a request asks for: the names in its path, decoded, and its query; the first value of each key."""

    names: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Page:
    """A page that is ready to be shown. ``area`` is the part of the site it belongs to, marked in the navigation."""

    template: str
    title: str
    values: Mapping[str, Any]
    data: Shape
    area: str = ""
    status: int = 200


PageMaker = Callable[[sqlite3.Connection, Shop, Asked], Page]


def view_of(make_page: PageMaker) -> Callable[[Request, Datasette], Awaitable[Response]]:
    """A Datasette view that makes a page in one read of the database and shows it as HTML or JSON."""

    async def view(request: Request, datasette: Datasette) -> Response:
        shop = shop_of(datasette)
        assert shop is not None, "the site's plugins need a shop; serve it by diaryidx.site.server"
        asked = Asked(
            {name: name_in_address(part) for name, part in request.url_vars.items() if part is not None},
            {key: request.args[key] for key in request.args},
        )
        page = await read(datasette, lambda db: make_page(db, shop, asked))
        return await shown(datasette, request, page)

    return view


async def shown(datasette: Datasette, request: Request, page: Page) -> Response:
    """A page as JSON where the address ends with ``.json``, else as HTML."""
    if request.path.endswith(".json"):
        return Response.json(page.data, status=page.status, headers=HEADERS)
    shop = shop_of(datasette)
    template = _strict(datasette.jinja_env).get_template(f"site/{page.template}")
    html = await template.render_async(
        **page.values,
        title=page.title,
        area=page.area,
        shop=None if shop is None else shop.settings,
        mini_model=shop is not None and shop.listens_with_mini_model,
        asked_for=request.args.get("q") or "",
        as_data=_json_address(request) if page.status == 200 else None,
    )
    return Response.html(html, status=page.status, headers=HEADERS)


@lru_cache(maxsize=8)
def _strict(environment: Environment) -> Environment:
    """The same templates, but a name that a template gets wrong is an error and no empty place on a page."""
    return environment.overlay(undefined=StrictUndefined)


def _json_address(request: Request) -> str:
    """Where the same is as JSON."""
    return f"{request.path}.json" + (f"?{request.query_string}" if request.query_string else "")
