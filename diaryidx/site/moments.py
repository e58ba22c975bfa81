"""A moment of a film as a page shows it: the words, where they are from, and the address that plays them."""

from __future__ import annotations

from dataclasses import dataclass

from diaryidx.records import Statement
from diaryidx.site.addresses import film_address
from diaryidx.site.wording import day_words, detail_words, doubt_words, sentence_words, what_words
from diaryidx.wording import clock


@dataclass(frozen=True, slots=True)
class Moment:
    """Words said on film. ``start`` in seconds; ``doubt`` is empty or says in words how unsure it is."""

    recording: str | None
    title: str
    date: str | None
    start: float | None
    words: str
    doubt: str = ""
    what: str = ""
    details: tuple[str, ...] = ()
    status: str = ""

    @property
    def address(self) -> str | None:
        """The film's page, playing from here; None for what is not from a film."""
        return None if self.recording is None else film_address(self.recording, self.start or 0.0)

    @property
    def at(self) -> str:
        """The time on the player's clock."""
        return clock(self.start or 0.0)

    @property
    def day(self) -> str:
        """The date in words."""
        return day_words(self.date)


def moment_of(statement: Statement, titles: dict[str, tuple[str, str | None]]) -> Moment:
    """A statement as a line of a page; ``titles`` as `overview.film_titles` gives them."""
    title, date = titles.get(statement.recording or "", ("the job book", None))
    return Moment(
        statement.recording,
        title,
        date,
        statement.start,
        sentence_words(statement.text),
        doubt_words(statement.certainty),
        what_words(statement),
        tuple(detail_words(statement)),
        statement.status,
    )
