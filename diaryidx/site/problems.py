"""What people see when something is not there or goes wrong: what happened and what to do, never a stack trace."""

from __future__ import annotations

import logging
import sqlite3

from datasette.app import Datasette
from datasette.utils.asgi import Base400, Request, Response
from datasette.views.base import DatasetteError

from diaryidx.errors import DiaryidxError, MediaError, NotFound
from diaryidx.site.forms import TooLarge
from diaryidx.site.page import BadAddress, Page, shown

log = logging.getLogger("diaryidx.site")

TITLES = {
    400: "That address cannot work",
    403: "Not open to you",
    404: "There is nothing here",
    413: "That is too much",
    500: "Something went wrong here",
    503: "That took too long",
}
ADVICE = {
    400: "Go back and try it another way, or search for what you want.",
    403: "Who may do what is set by the owner. The database file, free queries and the server's inner pages are closed "
    "to everybody.",
    413: "What is stored is as before. Go back: what you wrote is still in its field.",
    404: "It may have been renamed, or the address was mistyped. Search for it, or start from one of the lists.",
    500: "Nothing that is stored is lost. Try again; if it stays, run `diaryidx check` in the shop's folder.",
    503: "Try again with fewer words.",
}


def status_and_message(exception: BaseException) -> tuple[int, str]:
    """The HTTP status of an exception and the one line that a person may see of it."""
    if isinstance(exception, NotFound | MediaError):
        return 404, str(exception)
    if isinstance(exception, TooLarge):
        return 413, str(exception)
    if isinstance(exception, BadAddress):
        return 400, str(exception)
    if isinstance(exception, DiaryidxError):
        return 500, str(exception)
    if isinstance(exception, sqlite3.OperationalError) and str(exception) == "interrupted":
        return 503, "The search was stopped because it took too long."
    if isinstance(exception, Base400):
        return exception.status, "" if exception.status == 404 else str(exception.args[0] if exception.args else "")
    if isinstance(exception, DatasetteError):
        return exception.status, str(exception.message)
    return 500, ""


async def problem_shown(datasette: Datasette, request: Request, exception: BaseException) -> Response:
    """The page, or the JSON, for an exception; what is not foreseen is also noted for whoever runs the server."""
    status, message = status_and_message(exception)
    if status == 500:
        log.error("%s %s failed: %s: %s", request.method, request.path, type(exception).__name__, exception)
        log.debug("the whole of it", exc_info=exception)
    title = TITLES.get(status, "That did not work")
    advice = ADVICE.get(status, ADVICE[400])
    if request.method == "POST" and status == 400:
        title, advice = "That was not kept", ADVICE[413]
    data = {"ok": False, "status": status, "error": message or title, "advice": advice}
    page = Page("problem.html", title, {"message": message, "advice": advice}, data, status=status)
    return await shown(datasette, request, page)
