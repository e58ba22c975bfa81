"""A customer's question, in the customer's words, to the stretches of film that answer it."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import replace

from diaryidx.faq.archive import Archive
from diaryidx.faq.asking import concepts, kinds_of, take_apart, weighed
from diaryidx.faq.extracts import answer_of, first_instruction, quoted, readable
from diaryidx.faq.matching import match_all, match_any, plain_phrases, plain_words, printable, spelled_right
from diaryidx.faq.meanings import Reader
from diaryidx.faq.ranking import LEAST_NEAR, Found, Judge, candidates
from diaryidx.records import Answer, Entry, Passage
from diaryidx.store import reading
from diaryidx.store.reading import SentenceHit
from diaryidx.transcript.numbers import write_quantities
from diaryidx.vocabulary.cautions import cautions_for_answer
from diaryidx.vocabulary.loader import Vocabulary

MOST_PASSAGES = 5


def ask(db: sqlite3.Connection, question: str, vocabulary: Vocabulary) -> Answer:
    """Answer a question from film.

    The full-text search finds stretches that say anything of it in any of its variants; `ranking` judges them by how
    much of the question they say, where they were said, and whether they say the sort of thing that was asked for.

    :returns: the best passages, each from another stretch. With ``answered`` False they are only the nearest, if there
        are any. The cautions of what the question is about and of what the best passage does are there either way.
    """
    archive = Archive.of(db)
    in_figures = write_quantities(printable(question), currency=vocabulary.currency)
    right = spelled_right(in_figures, vocabulary, lambda word: archive.count([word]) > 0)
    reader = Reader(vocabulary)
    asked = take_apart(right, reader)
    best: list[Found] = []
    if asked.concepts and archive.films:
        judge = Judge(weighed(asked, archive.count, archive.sentences()), reader, archive)
        found = [one for one in candidates(judge) if one.covered >= LEAST_NEAR]
        best = _apart(sorted(found, key=lambda one: (-one.answers, -one.score)))[:MOST_PASSAGES]
    answered = any(one.answers for one in best)
    is_work = not answered and "how_to" in asked.kinds and bool(asked.main)
    shown = best[0].passage.text if answered else ""
    cautions = cautions_for_answer(printable(question), shown, vocabulary, is_work=is_work)
    return Answer(answered, tuple(with_films(db, one.passage) for one in best), tuple(cautions))


def with_films(db: sqlite3.Connection, passage: Passage) -> Passage:
    """A passage with the films that it refers to."""
    return replace(passage, films=tuple(reading.film_links(db, passage.recording, passage.start, passage.end)))


def answer_in_short(db: sqlite3.Connection, entry: Entry, vocabulary: Vocabulary) -> str:
    """The first sentences of an entry's answer that say what to do, else its first ones, as a reply quotes them."""
    said = answer_of(entry, Archive.of(db).said_in(entry))
    first = first_instruction(said, vocabulary) if "how_to" in kinds_of(entry.question) else 0
    return readable([text for _, text in quoted(said[first:])])


def search_films(db: sqlite3.Connection, words: str, vocabulary: Vocabulary, limit: int = 20) -> list[SentenceHit]:
    """Sentences of all films that fit what was typed into the search box: those with all words first, best first.

    Numbers are found however they are typed and however they were said: "one twenty seventy seventeen" is "120/70-17".
    """
    typed = plain_words(words)
    if not typed or limit < 1:
        return []
    hits = reading.search_sentences(db, match_all(typed), limit)
    in_figures = plain_phrases(write_quantities(printable(words), currency=vocabulary.currency))
    if in_figures != typed:
        first = reading.search_sentences(db, match_all(in_figures), limit)
        seen = {hit.sentence.id for hit in first}
        hits = [*first, *(hit for hit in hits if hit.sentence.id not in seen)]
    if len(hits) < limit:
        seen = {hit.sentence.id for hit in hits}
        other = [phrase for one in concepts(printable(words), vocabulary) if one.label for phrase in one.look_for]
        more = reading.search_sentences(db, match_any([*typed, *other]), limit + len(hits))
        hits += [hit for hit in more if hit.sentence.id not in seen]
    return hits[:limit]


def _apart(found: Sequence[Found]) -> list[Found]:
    """Only the best of stretches that overlap."""
    kept: list[Found] = []
    for one in found:
        mine = one.passage
        if not any(
            other.passage.recording == mine.recording
            and mine.start < other.passage.end
            and other.passage.start < mine.end
            for other in kept
        ):
            kept.append(one)
    return kept
