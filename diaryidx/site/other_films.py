"""Other films that a film refers to, as links."""

from __future__ import annotations

from dataclasses import dataclass

from diaryidx.film_records import FilmLink
from diaryidx.site.addresses import film_address
from diaryidx.site.wording import day_words
from diaryidx.wording import doubt


@dataclass(frozen=True, slots=True)
class OtherFilm:
    """A film that is referred to, by its words, with the address of its page."""

    words: str
    title: str
    day: str
    address: str
    doubt: str


def other_film(link: FilmLink) -> OtherFilm:
    """A reference as a link to the film that it means."""
    return OtherFilm(link.text, link.title, day_words(link.date), film_address(link.film), doubt(link.certainty))
