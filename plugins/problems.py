"""The pages for what is not there, not allowed or broken."""

from collections.abc import Generator
from typing import Any

from datasette.app import Datasette
from datasette.utils.asgi import Forbidden, Request

from diaryidx.site.context import shop_of
from diaryidx.site.hooks import hookimpl
from diaryidx.site.problems import problem_shown


@hookimpl(wrapper=True)
def handle_exception(
    datasette: Datasette, request: Request, exception: Exception
) -> Generator[None, list[Any], list[Any]]:
    """Our page in place of Datasette's own, which would print a stack trace to the terminal for every lost address."""
    answers = yield
    return answers if shop_of(datasette) is None else [problem_shown(datasette, request, exception)]


@hookimpl(wrapper=True)
def forbidden(datasette: Datasette, request: Request, message: str) -> Generator[None, list[Any], list[Any]]:
    """Our page for what is closed."""
    answers = yield
    return answers if shop_of(datasette) is None else [problem_shown(datasette, request, Forbidden(message))]
