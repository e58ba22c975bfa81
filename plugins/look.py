"""What the templates can call: the addresses of pages and the plain words for things."""

from jinja2 import Environment

from diaryidx.builds.wording import said_date
from diaryidx.site import addresses, wording
from diaryidx.site.hooks import hookimpl
from diaryidx.wording import clock, doubt


@hookimpl
def prepare_jinja2_environment(env: Environment) -> None:
    """Give the templates our addresses and our wording."""
    env.globals.update(
        film_address=addresses.film_address,
        build_address=addresses.build_address,
        question_address=addresses.question_address,
        month_address=addresses.month_address,
        status_words=lambda status: wording.STATUS_WORDS[status].lower(),
    )
    env.filters.update(
        clock=clock,
        day_words=wording.day_words,
        said_date=said_date,
        build_words=wording.build_words,
        doubt_words=doubt,
        sentence_words=wording.sentence_words,
    )
