"""Review: what is in doubt, one stretch of film at a time, and the trail of what people decided."""

from typing import Any

from diaryidx.site import audit, review
from diaryidx.site.deeds import deed_of
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import by_method, view_of


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """The review page, where deciding is a form sent to the same address, and the decisions with their undoing."""
    return [
        (
            r"/review(?:\.json)?$",
            by_method(view_of(review.review_page, "decide"), deed_of(review.told_on_the_page, "decide")),
        ),
        (r"/decisions(?:\.json)?$", view_of(audit.decisions_page, "decide")),
        (r"/decisions/(?P<decision>[0-9]{1,12})/undo$", deed_of(audit.undo_decision, "decide")),
    ]
