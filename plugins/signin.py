"""Signing in and out: who may come in, by password or by the link from the terminal."""

from typing import Any

from datasette import Response
from datasette.app import Datasette
from datasette.utils.asgi import NotFound, Request

from diaryidx.site import signin
from diaryidx.site.context import shop_of
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import frame_values


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """The link from the terminal, and the way out; the page that asks for a password is the checking plugin's."""
    return [(signin.ENTER + "$", enter), (signin.SIGN_OUT + "$", leave)]


@hookimpl
def get_metadata(datasette: Datasette, key: str) -> dict[str, Any]:
    """Tell the plugin that checks passwords who may sign in, as shop.toml has them now."""
    return {"plugins": {signin.CHECKER: signin.accounts_of(datasette)}} if key == "plugins" else {}


@hookimpl(tryfirst=True)
def actor_from_request(request: Request) -> dict[str, str] | None:
    """Who the guard found a request to come from, for Datasette's own pages, where nobody may be called root."""
    person = signin.person_in(request)
    return None if person is None else {"id": f"person {person.name}", "role": person.role}


@hookimpl
def extra_template_vars(template: str, request: Request, datasette: Datasette) -> dict[str, Any]:
    """Dress the sign-in page like the rest of the site."""
    shop = shop_of(datasette)
    if template != "password_login.html" or shop is None:
        return {}
    back = signin.way_back(request.args.get("next") or "/")
    return {
        **frame_values(datasette, request),
        "title": "Sign in",
        "nobody": not shop.settings.staff,
        "action": signin.sign_in_address(back),
        "wait": request.scope.get("sign_in_wait", 0),
    }


async def enter(request: Request, datasette: Datasette) -> Response:
    """Sign in by the link from the terminal."""
    return signin.enter(datasette, request.args.get("token") or "")


async def leave(request: Request, datasette: Datasette) -> Response:
    """Sign out."""
    if request.method != "POST":
        raise NotFound("Sign out by the button at the top of every page.")
    return signin.leave(datasette, request.cookies.get(signin.COOKIE, ""))
