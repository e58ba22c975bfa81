"""The one search over bikes, answers and films."""

from typing import Any

from diaryidx.site import search
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import view_of


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """The search page and its JSON."""
    return [
        (r"/search(?:\.json)?$", view_of(search.search_page)),
    ]
