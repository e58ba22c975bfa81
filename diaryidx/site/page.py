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

from diaryidx.builds.private import HiddenWords, hidden_words
from diaryidx.shapes import Shape
from diaryidx.shop import Person, Shop
from diaryidx.site.addresses import name_in_address
from diaryidx.site.context import read, shop_of
from diaryidx.site.signin import person_in, require
from diaryidx.staff import Ability, may
from diaryidx.store import reading

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
    """What a request asks for: the names in its path, decoded, and its query; the first value of each key.

    ``person`` is who asks; None where nobody need be signed in.
    """

    names: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)
    person: Person | None = None

    def may(self, ability: Ability) -> bool:
        """Whether who asks may do something."""
        return self.person is not None and may(self.person, ability)


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
View = Callable[[Request, Datasette], Awaitable[Response]]


def by_method(reading: View, sending: View) -> View:
    """One address that shows a page and takes its form."""

    async def view(request: Request, datasette: Datasette) -> Response:
        return await (sending if request.method == "POST" else reading)(request, datasette)

    return view


def view_of(make_page: PageMaker, ability: Ability = "look up") -> View:
    """A Datasette view that makes a page in one read of the database and shows it as HTML or JSON.

    :param ability: what somebody must be allowed to do to see it.
    """

    async def view(request: Request, datasette: Datasette) -> Response:
        require(request, ability)
        shop = shop_of(datasette)
        assert shop is not None, "the site's plugins need a shop; serve it by diaryidx.site.server"
        asked = asked_by(request)
        page = await read(datasette, lambda db: make_page(db, shop, asked))
        return await shown(datasette, request, page)

    return view


def asked_by(request: Request) -> Asked:
    """What a request asks for."""
    return Asked(
        {name: name_in_address(part) for name, part in request.url_vars.items() if part is not None},
        {key: request.args[key] for key in request.args},
        person_in(request),
    )


async def shown(datasette: Datasette, request: Request, page: Page) -> Response:
    """A page as JSON where the address ends with ``.json``, else as HTML; without what its reader may not see."""
    hidden = await hidden_from(datasette, request)
    if request.path.endswith(".json"):
        data = page.data if hidden is None else hidden.out_of_data(page.data)
        return Response.json(data, status=page.status, headers=HEADERS)
    template = _strict(datasette.jinja_env).get_template(f"site/{page.template}")
    frame = frame_values(datasette, request)
    as_data = _json_address(request) if page.status == 200 else None
    html = await template.render_async(
        **{**frame, **page.values, "title": page.title, "area": page.area, "as_data": as_data}
    )
    html = html if hidden is None else hidden.out_of_page(html)
    return Response.html(html, status=page.status, headers=HEADERS)


async def hidden_from(datasette: Datasette, request: Request) -> HiddenWords | None:
    """What must be taken out of whatever this request gets: whose bikes are whose; None where its person may know."""
    person = person_in(request)
    if person is not None and may(person, "customers"):
        return None
    shop = shop_of(datasette)
    staff = () if shop is None else tuple(one.name for one in shop.settings.staff)
    return hidden_words(tuple(await read(datasette, reading.builds)), staff)


def frame_values(datasette: Datasette, request: Request) -> dict[str, Any]:
    """What the frame around every page needs."""
    shop, person = shop_of(datasette), person_in(request)
    return {
        "title": "",
        "area": "",
        "as_data": None,
        "shop": None if shop is None else shop.settings,
        "mini_model": shop is not None and shop.listens_with_mini_model,
        "asked_for": request.args.get("q") or "",
        "person": person,
        "may_decide": person is not None and may(person, "decide"),
        "may_see_tables": person is not None and may(person, "tables"),
        "messages": datasette._show_messages(request) if person is not None else [],
        "csrftoken": request.scope.get("csrftoken", lambda: ""),
    }


@lru_cache(maxsize=8)
def _strict(environment: Environment) -> Environment:
    """The same templates, but a name that a template gets wrong is an error and no empty place on a page."""
    return environment.overlay(undefined=StrictUndefined)


def _json_address(request: Request) -> str:
    """Where the same is as JSON."""
    return f"{request.path}.json" + (f"?{request.query_string}" if request.query_string else "")
