"""The months and their round-ups."""

from typing import Any

from diaryidx.site import months
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import view_of


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """The list of months and a round-up, each also as JSON."""
    return [
        (r"/months(?:\.json)?$", view_of(months.months_page)),
        (r"/months/(?P<month>[^/]+?)(?:\.json)?$", view_of(months.month_page)),
    ]
