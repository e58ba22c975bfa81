"""Which film a reference means: "the film we made on fork seals", "as we said last month", held against all films.

Only earlier films count, or later ones where a film to come is meant; the kind of film, the month and the title that
were said must fit, and what it is about tells between those that do. What stays in doubt is kept without a film, with
those that it may be; it is settled anew whenever films were added or corrected.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from sqlite_utils import Database

from diaryidx.builds.wishes import stem
from diaryidx.builds.word_lists import word_set
from diaryidx.film_records import FilmReference
from diaryidx.language.dates import resolve as resolve_date
from diaryidx.store import reading
from diaryidx.store.remarks import save_references
from diaryidx.vocabulary.spoken_words import split_words

#: Days that a day may be off which nobody looked up: "two weeks ago" (own choice).
DAYS_OFF = 5
#: One sentence in so many names a thing in a film that is about it (own estimate).
ONE_IN = 6.0
#: What a film must have of the words said of it, and how much more than the next one (own choice).
LEAST_SCORE, LEAST_LEAD = 0.5, 0.15
#: How sure the film is (own estimates): its month and kind leave one; the last one was said; one of its kind is there.
BY_MONTH, BY_LAST, BY_KIND = 0.9, 0.75, 0.6
#: Below this a reference stays without a film.
LEAST_CERTAINTY = 0.5
MOST_LIKELY = 3
_NO_FILM = "bench note"


@dataclass(frozen=True, slots=True)
class FilmFacts:
    """What is known of a film: ``words`` are stems of its title and topics, ``shares`` how often terms are named in it.

    ``shares`` are mentions for each sentence, by canonical term.
    """

    id: str
    kind: str
    date: str | None
    month: str | None
    words: frozenset[str] = frozenset()
    shares: Mapping[str, float] = field(default_factory=dict)


def resolve(reference: FilmReference, said_in: FilmFacts, films: Iterable[FilmFacts]) -> FilmReference:
    """Settle which film a reference means.

    Arguments:
        reference: as the language step found it; what was settled before counts for nothing.
        said_in: the film in which it was said.
        films: all films.
    Returns: the reference with its film, or without one and with those that it may mean, likeliest first.
    """
    meant = _meant_time(reference, said_in) if reference.when is not None else None
    fitting = [film for film in films if _fits(film, reference, said_in, meant)]
    wanted, terms = _wanted(reference)
    scores = {film.id: _score(film, wanted, terms) for film in fitting}
    ranked = sorted(fitting, key=lambda film: (scores[film.id], film.date or "", film.id), reverse=True)
    chosen, certainty = _chosen(reference, said_in, ranked, scores)
    certainty = round(certainty * reference.certainty, 3)
    if chosen is None or certainty < LEAST_CERTAINTY:
        likely = [film.id for film in ranked if scores[film.id] > 0 or reference.when is not None]
        return replace(reference, film=None, likely=tuple(likely[:MOST_LIKELY]), film_certainty=0.0)
    return replace(reference, film=chosen.id, likely=(), film_certainty=certainty)


def _fits(film: FilmFacts, reference: FilmReference, said_in: FilmFacts, meant: str | None) -> bool:
    """Whether a film may be the one: another one of the kind and the time that were said, which is ``meant``."""
    if film.id == said_in.id or film.kind == _NO_FILM or not film.date or not said_in.date:
        return False
    if reference.kind is not None and film.kind != reference.kind:
        return False
    if not (film.date > said_in.date if reference.coming else film.date < said_in.date):
        return False
    return reference.when is None or _of_that_time(film, meant)


def _meant_time(reference: FilmReference, said_in: FilmFacts) -> str | None:
    """The day, month or year that was said, as ISO 8601; reckoned within the month that the film belongs to."""
    base = said_in.date or ""
    if said_in.month and base[:7] != said_in.month:
        base = f"{said_in.month}-28"
    return resolve_date({**(reference.when or {}), "past": not reference.coming}, base)


def _of_that_time(film: FilmFacts, meant: str | None) -> bool:
    if meant is None:
        return False
    if len(meant) < len("YYYY-MM-DD"):
        return (film.month or film.date or "").startswith(meant)
    try:
        off = date.fromisoformat((film.date or "")[:10]) - date.fromisoformat(meant)
    except ValueError:
        return False
    return abs(off.days) <= DAYS_OFF


def _wanted(reference: FilmReference) -> tuple[frozenset[str], Sequence[str]]:
    """The stems and the terms of what was said of a film.

    Where nothing was said of it ("a tutorial on that"), of what the talk around is of.
    """
    topical = bool(reference.about or reference.terms)
    terms = reference.terms if topical else reference.around
    told = reference.about if reference.about else tuple(word for term in terms for word in term.split())
    return frozenset(stem(word) for word in told if word not in word_set("empty")), terms


def _score(film: FilmFacts, wanted: frozenset[str], terms: Sequence[str]) -> float:
    """How much of what was said a film is about, 0 to 1: by its title and topics, and by how often terms are named."""
    if wanted.isdisjoint(film.words) and film.shares.keys().isdisjoint(terms):
        return 0.0
    by_words = len(wanted & film.words) / len(wanted) if wanted else 0.0
    shares = [min(1.0, film.shares.get(term, 0.0) * ONE_IN) for term in terms]
    by_terms = sum(shares) / len(shares) if shares else 0.0
    return max(by_words, (by_words + by_terms) / 2, 0.9 * by_terms)


def _chosen(
    reference: FilmReference, said_in: FilmFacts, ranked: Sequence[FilmFacts], scores: Mapping[str, float]
) -> tuple[FilmFacts | None, float]:
    """The film that is meant and how sure, or none."""
    if not ranked:
        return None, 0.0
    if (reference.about or reference.terms) and (found := _by_topic(ranked, scores)):
        return found
    if reference.coming:
        next_one = "next" in reference.text.lower().split() or len(ranked) == 1
        first = min(ranked, key=lambda film: film.date or "")
        return (first, BY_LAST) if next_one and (reference.kind or reference.when) else (None, 0.0)
    if reference.nth == "last" and reference.when is None:
        alike = [film for film in ranked if reference.kind or film.kind == said_in.kind] or ranked
        return max(alike, key=lambda film: film.date or ""), BY_LAST
    if reference.when is not None:
        return _by_time(reference, said_in, ranked, scores)
    if reference.about or reference.terms:
        return None, 0.0
    if len(ranked) == 1 and reference.kind is not None:
        return ranked[0], BY_KIND
    found = _by_topic(ranked, scores)
    return (found[0], found[1] * BY_LAST) if found else (None, 0.0)


def _by_topic(ranked: Sequence[FilmFacts], scores: Mapping[str, float]) -> tuple[FilmFacts, float] | None:
    """The film that is clearly most about what was said; of several as much so the only tutorial."""
    best = scores[ranked[0].id]
    if best < LEAST_SCORE:
        return None
    near = [film for film in ranked if scores[film.id] > best - LEAST_LEAD]
    teaching = [film for film in near if film.kind == "tutorial"]
    if len(near) == 1:
        return near[0], 0.5 + best / 2
    return (teaching[0], BY_KIND) if len(teaching) == 1 else None


def _by_time(
    reference: FilmReference, said_in: FilmFacts, ranked: Sequence[FilmFacts], scores: Mapping[str, float]
) -> tuple[FilmFacts | None, float]:
    """The film of that time: the only one, or, where its kind was not said, the only one of the kind that speaks."""
    if len(ranked) == 1:
        return ranked[0], BY_MONTH
    if found := _by_topic(ranked, scores):
        return found[0], found[1] * BY_MONTH
    alike = [film for film in ranked if reference.kind is None and film.kind == said_in.kind]
    return (alike[0], BY_LAST) if len(alike) == 1 else (None, 0.0)


# --- the whole archive -----------------------------------------------------------------------------------------------


def refresh_references(db: Database) -> None:
    """Settle all references in an archive anew; only those that come out otherwise are written."""
    references = reading.film_references(db.conn)
    if not references:
        return
    films = film_facts(db, {term for one in references for term in (*one.terms, *one.around)})
    known = {film.id: film for film in films}
    by_kind: dict[str | None, list[FilmFacts]] = {None: sorted(films, key=lambda film: film.date or "")}
    for film in by_kind[None]:
        by_kind.setdefault(film.kind, []).append(film)
    settled = [
        resolve(one, said_in, _before_or_after(by_kind.get(one.kind, []), said_in.date or "", after=one.coming))
        for one in references
        if (said_in := known.get(one.recording or "")) is not None
    ]
    before = {one.id: one for one in references}
    changed = [one for one in settled if one != before[one.id]]
    if changed:
        save_references(db, changed)


def _before_or_after(films: Sequence[FilmFacts], day: str, *, after: bool) -> Sequence[FilmFacts]:
    """Of films by date those after a day, or those before it."""
    if after:
        return films[bisect_right(films, day, key=lambda film: film.date or "") :]
    return films[: bisect_left(films, day, key=lambda film: film.date or "")]


def film_facts(db: Database, terms: Collection[str]) -> list[FilmFacts]:
    """What is known of every film that can be meant.

    Arguments:
        terms: canonical terms of which it is to be known how often films name them.
    """
    titles = reading.film_titles(db.conn)
    shares = reading.term_shares(db.conn, terms)
    return [
        FilmFacts(film.id, film.kind, film.date, film.month, _stems((film.title, *titles.get(film.id, ()))),
                  shares.get(film.id, {}))
        for film in reading.recordings(db.conn)
    ]  # fmt: skip


def _stems(texts: Iterable[str]) -> frozenset[str]:
    words = (word.word for text in texts for word in split_words(text))
    return frozenset(stem(word) for word in words if word.isalpha() and word not in word_set("empty"))
