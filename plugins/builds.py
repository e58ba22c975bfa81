"""The bikes of the job book and what films say of each."""

from typing import Any

from diaryidx.site import builds
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import view_of


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """The list of bikes and a bike's history, each also as JSON."""
    return [
        (r"/builds(?:\.json)?$", view_of(builds.builds_page)),
        (r"/builds/(?P<job>[^/]+?)(?:\.json)?$", view_of(builds.build_page)),
    ]
