"""The bikes of the job book and what films say of each."""

from typing import Any

from diaryidx.site import builds, handover, unsaid
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import view_of


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """Bikes, a bike's history and handover sheet, what no film said, developments; each also as JSON."""
    return [
        (r"/gaps(?:\.json)?$", view_of(unsaid.gaps_page)),
        (r"/developments(?:\.json)?$", view_of(unsaid.developments_page)),
        (r"/builds(?:\.json)?$", view_of(builds.builds_page)),
        (r"/builds/(?P<job>[^/]+?)(?:\.json)?$", view_of(builds.build_page)),
        (r"/builds/(?P<job>[^/]+)/handover(?:\.json)?$", view_of(handover.handover_page)),
    ]
