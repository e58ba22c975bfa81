"""The front page."""

from typing import Any

from diaryidx.site import home
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import view_of


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """The front page and its JSON."""
    return [
        (r"/$", view_of(home.home_page)),
        (r"/(?:index)?\.json$", view_of(home.home_page)),
    ]
