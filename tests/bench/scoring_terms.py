"""Terms: the truth's plain words and the product's canonical terms brought to one form, and how many terms are found.

The truth names parts, tasks and finishes "as plainly as a workshop would"; the product says its own canonical terms.
Both go through the vocabulary's table of phrases: the term of the same label that the whole phrase stands for, else
one of any label, else the last such term inside the phrase ("front brake hose" is a brake hose), else the words
themselves. A phrase that is unknown as it stands is looked up in the plural too.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from num2words import num2words  # type: ignore[import-untyped]

from diaryidx.records import Mention, Sentence
from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms
from diaryidx.vocabulary.spoken_words import spoken_key
from tests.bench.scoring_measures import Sheet
from tests.bench.scoring_truth import Thing, TrueFilm

#: The label of the terms that fill a slot; a slot that is not here holds plain text (a date, a number).
LABEL_OF = {
    "part": "PART", "task": "TASK", "finish": "FINISH", "side": "SIDE", "product": "PRODUCT", "supplier": "SUPPLIER",
    "who": "PERSON",
}  # fmt: skip
#: A mention counts for a topic if its sentence reaches into it by more than this, in seconds.
SLACK = 1.0
_NUMBERS = {num2words(number): str(number) for number in range(1, 21)}


def one_form(value: object, slot: str, vocabulary: Vocabulary) -> str | None:
    """A slot's value in the form in which the truth's and the product's are compared; None stays None."""
    if value is None:
        return None
    key = spoken_key(str(value))
    if slot not in LABEL_OF:
        return _NUMBERS.get(key, key)
    term = _term_of(key, str(value), LABEL_OF[slot], vocabulary)
    return term.canonical.lower() if term else key


def _term_of(key: str, text: str, label: str, vocabulary: Vocabulary) -> Term | None:
    tables = (vocabulary.phrases, vocabulary.other_readings)
    named = [table[one] for one in (key, f"{key}s") for table in tables if one in table]
    named += vocabulary.by_canonical.get(text.lower(), ())
    inside = [term for _, _, term in find_terms(vocabulary, text) if term.label == label]
    same_label = [term for term in named if term.label == label]
    return next(iter([*same_label, *named, *inside[::-1]]), None)


def score_terms(
    film: TrueFilm, sentences: Sequence[Sentence], mentions: Sequence[Mention], vocabulary: Vocabulary, sheet: Sheet
) -> None:
    """Recall of terms: those of the truth's statements and products that are said in a topic and mentioned there.

    A term is one of the truth if one of a slot's right values is said in its topic, in any of its variants (in the
    value's own words where the vocabulary doesn't know it); each counts once a topic.
    """
    recall = sheet.measure("terms", "terms said that are found")
    wanted = dict.fromkeys((one.topic, term) for one in _named(film) for term in _terms_said(one, vocabulary))
    for topic, (slot, values, said) in wanted:
        found = [
            one
            for one in mentions
            if sentences[one.sentence].end > topic.start + SLACK and sentences[one.sentence].start < topic.end - SLACK
        ]
        hit = any(one_form(one.canonical, slot, vocabulary) in values for one in found)
        recall.add(topic.name, hit)
        if not hit:
            sheet.errors["terms missed"].append(f"{topic.name}: {slot} {said!r}")


def _named(film: TrueFilm) -> Iterator[Thing]:
    yield from film.statements
    yield from film.things["products"]


def _terms_said(thing: Thing, vocabulary: Vocabulary) -> Iterator[tuple[str, frozenset[str], str]]:
    """Each term of a statement that is said in its topic: slot, right values in one form, the words said."""
    spoken = f" {spoken_key(thing.topic.text)} "
    for slot in LABEL_OF:
        if slot not in thing.fields:
            continue
        said = {
            form: words
            for value in thing.right(slot)
            if (form := one_form(value, slot, vocabulary)) is not None
            and (words := _said_as(str(value), slot, spoken, vocabulary))
        }
        if said:
            yield slot, frozenset(said), next(iter(said.values()))


def _said_as(value: str, slot: str, spoken: str, vocabulary: Vocabulary) -> str | None:
    """The words in which a value is said, or None."""
    term = _term_of(spoken_key(value), value, LABEL_OF[slot], vocabulary)
    variants: Iterable[str] = (spoken_key(value), *(term.variants if term else ()))
    return next((words for one in variants for words in (one, f"{one}s") if _within(words, spoken)), None)


def _within(words: str, spoken: str) -> bool:
    return re.search(rf"(?<!\S){re.escape(words)}(?!\S)", spoken) is not None
