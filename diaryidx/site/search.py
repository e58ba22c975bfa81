"""One search over everything: bikes of the job book, answers on film, and all that was said."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from diaryidx.builds.finding import find_build
from diaryidx.errors import NotFound
from diaryidx.faq.search import ask, search_films
from diaryidx.records import Answer, Build, Passage
from diaryidx.shapes import Shape, answer_json, build_json, sentence_json
from diaryidx.shop import Shop
from diaryidx.site.addresses import question_address
from diaryidx.site.context import vocabulary_of
from diaryidx.site.moments import Moment
from diaryidx.site.other_films import other_film
from diaryidx.site.overview import BuildCard, build_cards, with_open_lines
from diaryidx.site.page import Asked, BadAddress, Page
from diaryidx.site.wording import sentence_words
from diaryidx.store import reading
from diaryidx.store.reading import SentenceHit
from diaryidx.vocabulary.loader import Vocabulary
from diaryidx.wording import doubt

#: A question longer than this is a pasted e-mail, not a search, in characters.
LONGEST_QUESTION = 500
MOST_BUILDS, MOST_SENTENCES = 6, 30


@dataclass(frozen=True, slots=True)
class FilmHits:
    """What one film has on a search, in the order of the film's best hit."""

    title: str
    moments: tuple[Moment, ...]


def search_page(db: sqlite3.Connection, shop: Shop, asked: Asked) -> Page:
    """What the shop has on ``?q=``.

    :raises BadAddress: the question is far too long.
    """
    question = " ".join(asked.query.get("q", "").split())
    if len(question) > LONGEST_QUESTION:
        raise BadAddress(f"that is too long to search for; keep it under {LONGEST_QUESTION} letters")
    if not question:
        return Page("search.html", "Search", {"question": ""}, {"question": "", "builds": [], "films": []}, "search")
    vocabulary = vocabulary_of(db, shop)
    found = find_builds(db, question, vocabulary, owners=asked.may("customers"))
    answer = ask(db, question, vocabulary)
    hits = search_films(db, question, vocabulary, MOST_SENTENCES)
    numbers = {build.job_number: why for build, why in found}
    values = {
        "question": question,
        "cards": [(card, numbers[card.build.job_number]) for card in _cards(db, list(numbers), vocabulary)],
        "answer": answer,
        "passages": [(_passage_moment(db, one), one.entry and question_address(one.entry)) for one in answer.answers],
        "films": by_film(_not_yet_shown(hits, answer)),
    }
    data = {
        "question": question,
        "builds": [{**build_json(build, private=True), "why": why} for build, why in found],
        **answer_json(answer),
        "films": [_hit_json(hit) for hit in hits],
    }
    return Page("search.html", f"{question}: search", values, data, "search")


def find_builds(
    db: sqlite3.Connection, words: str, vocabulary: Vocabulary | None = None, *, owners: bool = True
) -> list[tuple[Build, str]]:
    """The builds that a person's words may mean, each with the reason; none is no error here.

    :param owners: also by customer, registration and VIN.
    """
    try:
        found = find_build(db, words, vocabulary, owners=owners)
    except NotFound:
        return []
    if isinstance(found, Build):
        return [(found, "")]
    return [(reading.build(db, one.job_number), one.why) for one in found[:MOST_BUILDS]]


def by_film(hits: Sequence[SentenceHit]) -> list[FilmHits]:
    """Sentences under their films."""
    films: dict[str, list[SentenceHit]] = {}
    for hit in hits:
        films.setdefault(hit.sentence.recording or "", []).append(hit)
    return [
        FilmHits(
            group[0].title,
            tuple(
                Moment(
                    recording,
                    hit.title,
                    hit.said_on,
                    hit.sentence.start,
                    sentence_words(hit.sentence.text),
                    repairs=hit.sentence.repairs,
                )
                for hit in group
            ),
        )
        for recording, group in films.items()
    ]


def _hit_json(hit: SentenceHit) -> Shape:
    return {
        "recording": hit.sentence.recording,
        "title": hit.title,
        "said_on": hit.said_on,
        **sentence_json(hit.sentence),
    }


def _passage_moment(db: sqlite3.Connection, passage: Passage) -> Moment:
    return Moment(
        passage.recording,
        passage.title,
        passage.said_on,
        passage.start,
        sentence_words(passage.text),
        doubt(passage.certainty),
        repairs=tuple(reading.repairs(db, passage.recording, passage.start, passage.end)),
        films=tuple(map(other_film, passage.films)),
    )


def _not_yet_shown(hits: Sequence[SentenceHit], answer: Answer) -> list[SentenceHit]:
    """The sentences that no answer above already quotes."""
    return [
        hit
        for hit in hits
        if not any(
            one.recording == hit.sentence.recording and one.start <= hit.sentence.start < one.end
            for one in answer.answers
        )
    ]


def _cards(db: sqlite3.Connection, job_numbers: Sequence[str], vocabulary: Vocabulary) -> list[BuildCard]:
    """The cards of builds, in the order given."""
    if not job_numbers:
        return []
    cards = {card.build.job_number: card for card in build_cards(db)}
    return with_open_lines(db, [cards[number] for number in job_numbers], vocabulary)
