"""A customer's question, in the customer's words, to the stretches of film that answer it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from statistics import fmean

from diaryidx.builds.word_lists import word_set
from diaryidx.builds.wording import DOUBTFUL_BELOW, said_date
from diaryidx.faq.matching import (
    Concept,
    Content,
    asks_how,
    asks_price,
    concepts,
    content,
    match_all,
    match_any,
    plain_words,
    question_phrases,
    spelled_right,
)
from diaryidx.records import Answer, Passage, ProductLine, Recording, Segment, Sentence
from diaryidx.store import reading
from diaryidx.store.reading import EntryHit, SentenceHit
from diaryidx.vocabulary.cautions import cautions_for
from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms

#: A passage must say this share of what is asked, by weight, besides all that the question is mainly about (our own
#: choice; `tests/faq` holds it against questions that must and must not be answered).
LEAST_COVERED = 0.55
MOST_PASSAGES = 5
#: How many matches of the full-text search are looked at; more than any question has good ones.
_LOOKED_AT = 60
#: A passage made of sentences is not longer than this, in seconds: what a person watches to get an answer.
LONGEST_PASSAGE = 60.0
_TEACHING_KINDS = ("tutorial", "questions")
#: What a passage gains, in shares of the question, from where and when it was said and how well it matches (our own
#: choice): an entry's question, a teaching film, a price where one is asked for, the newest film, the best BM25 rank.
_QUESTION_BONUS, _TEACHING_BONUS, _PRICE_BONUS, _NEW_BONUS, _RANK_BONUS = 0.25, 0.15, 0.3, 0.05, 0.05
#: What only speaks of the same thing is no answer; its certainty is held below what is shown as sure.
_MENTIONED_CERTAINTY = DOUBTFUL_BELOW - 0.05


@dataclass(frozen=True, slots=True)
class _Asked:
    """A question, taken apart."""

    concepts: Sequence[Concept]
    how_to: bool
    price: bool
    vocabulary: Vocabulary

    def covered(self, text: str, terms: Iterable[str] = ()) -> float:
        """The share of the question that a text says, by weight; 0 unless it says what the question is about."""
        says = content(text, self.vocabulary, terms)
        said = [concept for concept in self.concepts if says.says(concept)]
        if any(concept.main and concept.terms and concept not in said for concept in self.concepts):
            return 0.0
        return sum(concept.weight for concept in said) / sum(concept.weight for concept in self.concepts)

    def is_met_by(self, text: str, terms: Iterable[str] = ()) -> bool:
        """Whether a text says more than what the question is about: all that is to be done, or any of the rest.

        "Pads" alone is no answer to how they are changed, nor to why they squeal.
        """
        says = content(text, self.vocabulary, terms)
        tasks = [concept for concept in self.concepts if concept.has_label("TASK")]
        if self.how_to and not all(says.says(task) or _shown_together(task, says) for task in tasks):
            return False
        rest = [one for one in self.concepts if not one.main and not one.has_label("SIDE", "PERSON")]
        return not rest or any(says.says(concept) or _shown_together(concept, says) for concept in rest)


def _shown_together(task: Concept, says: Content) -> bool:
    """Whether a text speaks of a task that is shown in the same film as the one asked for."""
    together = word_set("shown_together")
    return bool(together & task.names) and bool(together & says.names)


@dataclass(frozen=True, slots=True)
class _Found:
    """A stretch that may answer: the share of the question that it says, its worth, and whether it really answers."""

    passage: Passage
    covered: float
    score: float
    answers: bool
    terms: tuple[str, ...] = ()


def ask(db: sqlite3.Connection, question: str, vocabulary: Vocabulary) -> Answer:
    """Answer a question from film.

    The full-text search finds stretches that say anything of it in any of its variants; they are judged by how much of
    the question they say, where they were said (a tutorial before a remark in a diary), how well they were heard and
    how new they are. A way of doing something is only answered by an entry or a teaching film that speaks of doing it.

    :returns: the best passages, each from another stretch. With ``answered`` False they are only the nearest, if there
        are any. The cautions of every part and task in question and answers are there either way.
    """
    right = spelled_right(question, vocabulary, lambda word: bool(reading.search_sentences(db, match_any([word]), 1)))
    asked = _Asked(concepts(right, vocabulary), asks_how(right), asks_price(right), vocabulary)
    found = [one for one in _candidates(db, asked) if one.covered >= LEAST_COVERED] if asked.concepts else []
    best = _apart(sorted(found, key=lambda one: (-one.answers, -one.score)))[:MOST_PASSAGES]
    terms: list[Term | str] = [term for concept in asked.concepts for term in concept.terms]
    for one in best[:1]:
        terms += [*one.terms, *(term for _, _, term in find_terms(vocabulary, one.passage.text))]
    answered = any(one.answers for one in best)
    return Answer(answered, tuple(one.passage for one in best), tuple(cautions_for(terms, vocabulary)))


def search_films(db: sqlite3.Connection, words: str, vocabulary: Vocabulary, limit: int = 20) -> list[SentenceHit]:
    """Sentences of all films that fit what was typed into the search box: those with all words first, best first."""
    typed = plain_words(words)
    if not typed or limit < 1:
        return []
    hits = reading.search_sentences(db, match_all(typed), limit)
    if len(hits) < limit:
        seen = {hit.sentence.id for hit in hits}
        phrases = [*typed, *question_phrases(concepts(words, vocabulary))]
        more = reading.search_sentences(db, match_any(phrases), limit + len(hits))
        hits += [hit for hit in more if hit.sentence.id not in seen]
    return hits[:limit]


# --- candidates ------------------------------------------------------------------------------------------------------


def _candidates(db: sqlite3.Connection, asked: _Asked) -> Iterator[_Found]:
    match = match_any(question_phrases(asked.concepts))
    films = {film.id: film for film in reading.recordings(db)}
    newness = {film.id: 1 - place / len(films) for place, film in enumerate(films.values())}
    entries = reading.search_entries(db, match, _LOOKED_AT)
    for hit in entries:
        yield _raised(_from_entry(hit, films, asked), hit.rank / entries[0].rank, newness)
    stretches = _Stretches(db)
    sentences = reading.search_sentences(db, match, _LOOKED_AT)
    for sentence_hit in sentences:
        yield _raised(_from_sentence(sentence_hit, stretches, asked), sentence_hit.rank / sentences[0].rank, newness)
    if asked.price:
        for line in reading.products(db):
            if line.price is not None and line.recording is not None:
                yield _raised(_from_product(line, films[line.recording], asked), 1.0, newness)


def _raised(found: _Found, rank: float, newness: dict[str, float]) -> _Found:
    return replace(found, score=found.score + _RANK_BONUS * rank + _NEW_BONUS * newness[found.passage.recording])


def _from_entry(hit: EntryHit, films: dict[str, Recording], asked: _Asked) -> _Found:
    entry = hit.entry
    assert entry.recording is not None
    film = films[entry.recording]
    whole = f"{entry.question} . {entry.answer}"
    in_question = asked.covered(entry.question)
    covered = max(in_question, asked.covered(whole, entry.terms))
    answers = asked.is_met_by(whole, entry.terms)
    certainty = covered * entry.certainty
    passage = Passage(
        recording=entry.recording,
        title=hit.title,
        start=entry.start,
        end=entry.end,
        text=entry.answer,
        said_on=hit.said_on,
        certainty=round(certainty if answers else min(certainty, _MENTIONED_CERTAINTY), 3),
        why=f"answers{'' if answers else ' another question,'} “{entry.question}”, {_where(film.kind, hit.said_on)}",
        entry=entry.id,
    )
    score = 0.5 * covered + 0.5 * in_question + _QUESTION_BONUS * in_question + _kind_bonus(film.kind, asked)
    return _Found(passage, covered, score + 0.1 * entry.certainty, answers, entry.terms)


def _from_sentence(hit: SentenceHit, stretches: _Stretches, asked: _Asked) -> _Found:
    first, last, spoken = stretches.around(hit)
    near = " . ".join(sentence.text for sentence in spoken[max(first, hit.place - 1) : min(last, hit.place + 2) + 1])
    covered = asked.covered(near)
    heard = _heard(spoken[first : last + 1])
    answers = (not asked.how_to or hit.kind in _TEACHING_KINDS) and asked.is_met_by(near)
    says = content(near, asked.vocabulary)
    said = ", ".join(f"“{concept.said}”" for concept in asked.concepts if says.says(concept))
    certainty = covered * heard
    assert hit.sentence.recording is not None
    passage = Passage(
        recording=hit.sentence.recording,
        title=hit.title,
        start=spoken[first].start,
        end=spoken[last].end,
        text=" ".join(sentence.text for sentence in spoken[first : last + 1]),
        said_on=hit.said_on,
        certainty=round(certainty if answers else min(certainty, _MENTIONED_CERTAINTY), 3),
        why=f"speaks of {said}, {_where(hit.kind, hit.said_on)}",
    )
    score = 0.6 * covered + 0.4 * asked.covered(hit.sentence.text) + _kind_bonus(hit.kind, asked) + 0.1 * heard
    return _Found(passage, covered, score, answers)


def _from_product(line: ProductLine, film: Recording, asked: _Asked) -> _Found:
    """A product with its price, for who asks what something costs."""
    covered = asked.covered(f"{line.product} . {line.text}")
    assert line.recording is not None
    passage = Passage(
        recording=line.recording,
        title=film.title,
        start=line.start,
        end=line.end,
        text=line.text,
        said_on=film.date,
        certainty=round(max(covered, LEAST_COVERED if covered else 0.0) * line.certainty, 3),
        why=f"gives the price of {line.product}, {_where(film.kind, film.date)}",
    )
    return _Found(passage, covered, covered + _PRICE_BONUS, answers=True)


class _Stretches:
    """The sentences around a match, until the topic ends; a film is read once however many matches it has."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._films: dict[str, tuple[list[Sentence], list[Segment]]] = {}

    def around(self, hit: SentenceHit) -> tuple[int, int, list[Sentence]]:
        """First and last sentence of the stretch by their places, and the film's sentences."""
        film = hit.sentence.recording
        assert film is not None
        if film not in self._films:
            self._films[film] = reading.sentences(self._db, film), reading.segments(self._db, recording_id=film)
        spoken, segments = self._films[film]
        topic = next((one for one in segments if one.first <= hit.place <= one.last), None)
        low, high = (topic.first, topic.last) if topic else (hit.place - 1, hit.place + 2)
        first, last = max(low, hit.place - 1, 0), hit.place
        if spoken[hit.place].end - spoken[first].start > LONGEST_PASSAGE / 2:
            first = hit.place
        while last < min(high, len(spoken) - 1) and spoken[last + 1].end - spoken[first].start <= LONGEST_PASSAGE:
            last += 1
        return first, last, spoken


def _kind_bonus(kind: str, asked: _Asked) -> float:
    if kind in _TEACHING_KINDS:
        return _TEACHING_BONUS if asked.how_to else _TEACHING_BONUS / 3
    return _PRICE_BONUS / 3 if asked.price and kind == "product news" else 0.0


def _heard(sentences: Sequence[Sentence]) -> float:
    """How well a stretch was heard, 0.7 where the engine does not say."""
    return fmean(0.7 if sentence.certainty is None else sentence.certainty for sentence in sentences)


def _where(kind: str, said_on: str | None) -> str:
    places = {
        "other": "in a recording",
        "product news": "in product news",
        "questions": "in a film of questions and answers",
    }
    place = places.get(kind, f"in a {kind}")
    return f"{place} of {said_date(said_on)}" if said_on else place


def _apart(found: Sequence[_Found]) -> list[_Found]:
    """Only the best of stretches that overlap."""
    kept: list[_Found] = []
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
