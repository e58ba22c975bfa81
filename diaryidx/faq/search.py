"""A customer's question, in the customer's words, to the stretches of film that answer it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean

from diaryidx.builds.wishes import stems
from diaryidx.builds.word_lists import word_list
from diaryidx.builds.wording import said_date
from diaryidx.faq.matching import Concept, concepts, match_all, match_any, plain_words, printable, question_phrases
from diaryidx.records import Answer, Passage, Recording, Segment, Sentence
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
#: What a passage gains, in shares of the question, from where it was said (our own choice).
_ENTRY_BONUS, _TEACHING_BONUS, _TOPIC_BONUS = 0.25, 0.15, 0.05


@dataclass(frozen=True, slots=True)
class _Found:
    """A stretch that may answer, with the share of the question that it says and what makes it better than another."""

    passage: Passage
    covered: float
    score: float
    terms: tuple[str, ...]


def ask(db: sqlite3.Connection, question: str, vocabulary: Vocabulary) -> Answer:
    """Answer a question from film.

    The full-text search finds stretches that say anything of it in any of its variants; they are judged by how much of
    the question they say, where they were said (a tutorial before a remark in a diary), and how well they were heard.

    :returns: the best passages, each from another stretch; none, and ``answered`` False, when no film says enough. The
        cautions of every part and task in question and answers are there either way.
    """
    asked = concepts(question, vocabulary)
    how_to = any(start in " ".join(printable(question).lower().split()) for start in word_list("how_to"))
    found = [one for one in _candidates(db, asked, how_to) if one.covered >= LEAST_COVERED] if asked else []
    best = _apart(sorted(found, key=lambda one: -one.score))[:MOST_PASSAGES]
    said = " . ".join(one.passage.text for one in best[:1])
    terms: list[Term | str] = [concept.term for concept in asked if concept.term]
    terms += [term for one in best[:1] for term in one.terms]
    terms += [term for _, _, term in find_terms(vocabulary, said)]
    return Answer(bool(best), tuple(one.passage for one in best), tuple(cautions_for(terms, vocabulary)))


def search_films(db: sqlite3.Connection, words: str, vocabulary: Vocabulary, limit: int = 20) -> list[SentenceHit]:
    """Sentences of all films that fit what was typed into the search box: those with all words first, best first."""
    typed = plain_words(words)
    if not typed:
        return []
    hits = reading.search_sentences(db, match_all(typed), limit)
    if len(hits) < limit:
        seen = {hit.sentence.id for hit in hits}
        phrases = [*typed, *question_phrases(concepts(words, vocabulary))]
        more = reading.search_sentences(db, match_any(phrases), limit + len(hits))
        hits += [hit for hit in more if hit.sentence.id not in seen]
    return hits[:limit]


def _candidates(db: sqlite3.Connection, asked: Sequence[Concept], how_to: bool) -> Iterable[_Found]:
    match = match_any(question_phrases(asked))
    films = {film.id: film for film in reading.recordings(db)}
    for hit in reading.search_entries(db, match, _LOOKED_AT):
        yield _from_entry(hit, films, asked, how_to)
    stretches = _Stretches(db)
    for sentence_hit in reading.search_sentences(db, match, _LOOKED_AT):
        yield _from_sentence(sentence_hit, stretches, asked, how_to)


def _from_entry(hit: EntryHit, films: dict[str, Recording], asked: Sequence[Concept], how_to: bool) -> _Found:
    entry = hit.entry
    assert entry.recording is not None
    film = films[entry.recording]
    question_covers = _covered(asked, entry.question, ())
    covered = max(question_covers, _covered(asked, f"{entry.question} . {entry.answer}", entry.terms))
    quality = entry.certainty
    passage = Passage(
        recording=entry.recording,
        title=hit.title,
        start=entry.start,
        end=entry.end,
        text=entry.answer,
        said_on=hit.said_on,
        certainty=round(min(1.0, covered) * quality, 3),
        why=f"answers “{entry.question}”, {_where(film.kind, hit.said_on)}",
        entry=entry.id,
    )
    score = covered + _ENTRY_BONUS * question_covers + _kind_bonus(film.kind, how_to) + 0.1 * quality
    return _Found(passage, covered, score, entry.terms)


def _from_sentence(hit: SentenceHit, stretches: _Stretches, asked: Sequence[Concept], how_to: bool) -> _Found:
    first, last, spoken, segment = stretches.around(hit)
    text = " ".join(sentence.text for sentence in spoken[first : last + 1])
    covered = _covered(asked, text, ())
    in_title = _covered(asked, segment.title, ()) if segment else 0.0
    quality = _heard(spoken[first : last + 1])
    said = ", ".join(f"“{concept.name}”" for concept in asked if _says(concept, _padded(text)))
    assert hit.sentence.recording is not None
    passage = Passage(
        recording=hit.sentence.recording,
        title=hit.title,
        start=spoken[first].start,
        end=spoken[last].end,
        text=text,
        said_on=hit.said_on,
        certainty=round(covered * quality, 3),
        why=f"speaks of {said}, {_where(hit.kind, hit.said_on)}",
    )
    at_once = _covered(asked, hit.sentence.text, ())
    score = 0.6 * covered + 0.4 * at_once + _kind_bonus(hit.kind, how_to) + _TOPIC_BONUS * in_title + 0.1 * quality
    return _Found(passage, covered, score, ())


class _Stretches:
    """The sentences around a match, until the topic ends; a film is read once however many matches it has."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._films: dict[str, tuple[list[Sentence], list[Segment]]] = {}

    def around(self, hit: SentenceHit) -> tuple[int, int, list[Sentence], Segment | None]:
        """First and last sentence of the stretch by their places, the film's sentences, and the topic it is part of."""
        film = hit.sentence.recording
        assert film is not None
        if film not in self._films:
            self._films[film] = reading.sentences(self._db, film), reading.segments(self._db, recording_id=film)
        spoken, segments = self._films[film]
        segment = next((one for one in segments if one.first <= hit.place <= one.last), None)
        low, high = (segment.first, segment.last) if segment else (hit.place - 1, hit.place + 2)
        low, high = max(low, hit.place - 1), min(high, len(spoken) - 1)
        first = low
        while first < hit.place and spoken[hit.place].end - spoken[first].start > LONGEST_PASSAGE / 2:
            first += 1
        last = hit.place
        while last < high and spoken[last + 1].end - spoken[first].start <= LONGEST_PASSAGE:
            last += 1
        return first, last, spoken, segment


def _covered(asked: Sequence[Concept], text: str, terms: Iterable[str]) -> float:
    """The share of a question that a text says, by weight; none at all unless it says what the question is about."""
    padded, named = _padded(text), {term.lower() for term in terms}
    said = [concept for concept in asked if _says(concept, padded) or concept.name.lower() in named]
    if any(concept.main and concept not in said for concept in asked if concept.term):
        return 0.0
    return sum(concept.weight for concept in said) / sum(concept.weight for concept in asked)


def _says(concept: Concept, padded: str) -> bool:
    return any(f" {' '.join(way)} " in padded for way in concept.ways)


def _padded(text: str) -> str:
    return f" {' '.join(stems(text))} "


def _kind_bonus(kind: str, how_to: bool) -> float:
    return (_TEACHING_BONUS if how_to else _TEACHING_BONUS / 3) if kind in _TEACHING_KINDS else 0.0


def _heard(sentences: Sequence[Sentence]) -> float:
    """How well a stretch was heard, 0.7 where the engine does not say."""
    return fmean(0.7 if sentence.certainty is None else sentence.certainty for sentence in sentences)


def _where(kind: str, said_on: str | None) -> str:
    place = "in a recording" if kind == "other" else "in product news" if kind == "product news" else f"in a {kind}"
    if kind == "questions":
        place = "in a film of questions and answers"
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
