"""Questions answered on film."""

from typing import Any

from diaryidx.site import questions
from diaryidx.site.hooks import hookimpl
from diaryidx.site.page import view_of


@hookimpl
def register_routes() -> list[tuple[str, Any]]:
    """The list of questions and one with its answer, each also as JSON."""
    return [
        (r"/questions(?:\.json)?$", view_of(questions.questions_page)),
        (r"/questions/(?P<entry>[^/]+?)(?:\.json)?$", view_of(questions.question_page)),
    ]
