"""A moment of a film as a page shows it: the words, what was noted from them, and the address that plays them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from diaryidx.records import Repair, Statement
from diaryidx.site.addresses import film_address
from diaryidx.site.other_films import OtherFilm
from diaryidx.site.repairs import Stretch, marked, told
from diaryidx.site.wording import day_words, detail_words, sentence_words, what_words
from diaryidx.wording import clock, doubt

#: A quotation of up to this many words is shown whole, a longer one by its opening until it is asked for (our choice).
WHOLE_WORDS, OPENING_WORDS = 30, 22


@dataclass(frozen=True, slots=True)
class Note:
    """What was noted from words: of which part, and what; ``doubt`` is empty or says in words how unsure it is."""

    what: str
    details: tuple[str, ...] = ()
    doubt: str = ""
    status: str = ""


@dataclass(frozen=True, slots=True)
class Moment:
    """Words said on film, or standing in the job book where ``recording`` is None. ``start`` in seconds.

    ``repairs`` were made in these words; ``also`` are the titles, addresses and times of other films that hold them.
    """

    recording: str | None
    title: str
    date: str | None
    start: float | None
    words: str
    doubt: str = ""
    notes: tuple[Note, ...] = ()
    repairs: tuple[Repair, ...] = ()
    also: tuple[tuple[str, str, str], ...] = ()
    films: tuple[OtherFilm, ...] = ()

    @property
    def stretches(self) -> tuple[Stretch, ...]:
        """The words, cut where they were put right."""
        return marked(self.words, self.repairs)

    @property
    def put_right(self) -> list[str]:
        """What was put right in these words, in words."""
        return told(repair for repair in self.repairs if repair.meant.lower() in self.words.lower())

    @property
    def address(self) -> str | None:
        """The film's page, playing from here; None for what is not from a film."""
        return None if self.recording is None else film_address(self.recording, self.start or 0.0)

    @property
    def opening(self) -> str:
        """The first words of a long quotation; empty where it is short enough to stand whole."""
        said = self.words.split()
        return " ".join(said[:OPENING_WORDS]) if len(said) > WHOLE_WORDS else ""

    @property
    def at(self) -> str:
        """The time on the player's clock."""
        return clock(self.start or 0.0)

    @property
    def day(self) -> str:
        """The date in words."""
        return day_words(self.date)


def _unfilmed(one: Statement) -> tuple[str, str | None]:
    """Title and date of what is from no film."""
    return (f"note {one.note}", one.said_on) if one.note is not None else ("the job book", one.when)


def also_in(
    moments: Iterable[tuple[str, float]], titles: Mapping[str, tuple[str, str | None]]
) -> tuple[tuple[str, str, str], ...]:
    """Moments of other films that hold the same words, each by its title, address and time."""
    return tuple(
        (titles.get(film, (film, None))[0], film_address(film, start), clock(start)) for film, start in moments
    )


def moments_of(
    statements: Iterable[Statement],
    titles: dict[str, tuple[str, str | None]],
    repairs: Mapping[tuple[str | None, float | None], tuple[Repair, ...]] | None = None,
    more: Mapping[Statement, str] | None = None,
) -> list[Moment]:
    """Statements as moments: those from the same words as one, and those of the same part side by side.

    :param titles: title and date of films, as `overview.film_titles` gives them.
    :param repairs: what was put right, as `reading.repairs_by_moment` gives it.
    :param more: what else to say of a statement.
    """
    gathered: dict[tuple[str | None, float | None, str], Moment] = {}
    for one in statements:
        title, date = titles.get(one.recording or "", _unfilmed(one))
        details = [*detail_words(one), *((more[one],) if more and one in more else ())]
        if one.decided:
            details.append("checked by a person")
        note = Note(what_words(one), tuple(details), doubt(one.certainty), one.status)
        moment = gathered.setdefault(
            (one.recording or title, one.start, one.text),
            Moment(
                one.recording,
                title,
                date,
                one.start,
                sentence_words(one.text),
                repairs=(repairs or {}).get((one.recording, one.start), ()),
                also=also_in(one.also, titles),
            ),
        )
        if note not in moment.notes:
            gathered[(one.recording or title, one.start, one.text)] = replace(moment, notes=(*moment.notes, note))
    first_named: dict[str, int] = {}
    for place, moment in enumerate(gathered.values()):
        first_named.setdefault(moment.notes[0].what, place)
    return sorted(gathered.values(), key=lambda moment: first_named[moment.notes[0].what])
