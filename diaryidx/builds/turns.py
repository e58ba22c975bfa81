"""How likely a film turns to another bike with each sentence, by how it is said; the phrases are data in words.yaml."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np

from diaryidx.builds.clues import bikes_named
from diaryidx.builds.known import Shop, Vector, person_words
from diaryidx.builds.phrases import find_phrases
from diaryidx.builds.said import Said
from diaryidx.builds.word_lists import word_set
from diaryidx.language.discourse import after_fillers
from diaryidx.records import Mention, RecordingKind, Sentence
from diaryidx.vocabulary.spoken_words import SpokenWord, split_words

#: The chance of a turn by what is found at a sentence (our own estimates): the language step begins a topic there, a
#: phrase that turns to the next bike, one that perhaps does, two bikes shown as one; a bike or customer of the job book
#: is named in the first words, or early, or was named just before.
CUT, NEXT, PERHAPS, TWO = 0.6, 0.65, 0.3, 0.7
NAMED_FIRST, NAMED_EARLY, NAMED_AGAIN = 0.5, 0.2, 0.15
#: And where a bike is pointed at ("the one by the door", "the cream one"), early or late in a sentence, and where the
#: sentence names a part as well.
POINTS, POINTS_LATE, POINTS_WITH_PART = 0.5, 0.35, 0.15
#: The chance where nothing says so, and where a sentence goes on ("it", "he") or holds one bike against another.
UNSAID, GOES_ON = 0.03, 0.01
#: What remains of the chance in a note from the bench, which is mostly about one job (our own estimate).
NOTE = 0.2
#: Speakers pause longer between topics (Shriberg et al., "Prosody-based automatic segmentation of speech into
#: sentences and topics", Speech Communication 32, 2000): the odds of a turn rise and fall with the pause before a
#: sentence against the film's median pause, at most by so much (our own choice, far less than pauses tell in the
#: invented archive).
PAUSE_MOST, PAUSE_LEAST, SHORTEST_PAUSE = 4.0, 0.6, 0.2
#: A phrase that opens a sentence stands within so many words of its start; a name or phrase within so many is early.
OPENING, EARLY = 3, 7


def turns(
    sentences: Sequence[Sentence], said: Sequence[Said], cuts: set[int], kind: RecordingKind, shop: Shop
) -> Vector:
    """The chance that a film turns to another bike, for each sentence.

    :param said: what each sentence says.
    :param cuts: the sentences with which topics begin so far.
    :param kind: the kind of film; a note from the bench seldom turns.
    """
    chances = np.zeros(len(sentences))
    named_before: frozenset[str] = frozenset()
    for place, (sentence, one) in enumerate(zip(sentences, said, strict=True)):
        words = split_words(sentence.text)
        plain = [word.word for word in words]
        named, named_before = _named(words, one, named_before, shop)
        signs = (_said_chance(words, plain, one), _pointed(words, plain, one), named, CUT if place in cuts else 0.0)
        for sign in signs:
            chances[place] = _either(chances[place], sign)
        if place + 1 < len(sentences) and any(start >= _late(plain) for start, _ in find_phrases("next_bike", plain)):
            chances[place + 1] = PERHAPS
    odds = chances / (1 - chances) * _pauses(sentences)
    chances = odds / (1 + odds)
    return chances * NOTE if kind == "bench note" else chances


def _pauses(sentences: Sequence[Sentence]) -> Vector:
    """How much the pause before each sentence raises the odds of a turn; 1 where a film has no pauses to compare."""
    pauses = np.array([max(two.start - one.end, 0.0) for one, two in pairwise(sentences)])
    usual = float(np.median(pauses)) if len(pauses) else 0.0
    if usual < SHORTEST_PAUSE:
        return np.ones(len(sentences))
    return np.concatenate([[1.0], np.clip(pauses / usual, PAUSE_LEAST, PAUSE_MOST)])


def shows_two(sentence: Sentence, mentions: Sequence[Mention]) -> bool:
    """Whether a sentence shows two bikes as one: "these two here", but not "these two bolts"."""
    words = split_words(sentence.text)
    plain = [word.word for word in words]
    return any(not _of_a_part(words, end, mentions) for _, end in find_phrases("two_bikes", plain))


def _said_chance(words: Sequence[SpokenWord], plain: Sequence[str], said: Said) -> float:
    """The chance of a turn by the words of a sentence itself."""
    if not plain or any(find_phrases("held_against", plain)):
        return GOES_ON
    begin = min(after_fillers(plain), len(plain) - 1)
    chance = GOES_ON if any(start in (0, begin) for start, _ in find_phrases("goes_on", plain)) else UNSAID
    for name, strength in (("next_bike", NEXT), ("perhaps_next_bike", PERHAPS), ("two_bikes", TWO)):
        chance = _either(chance, max(_strengths(name, strength, words, begin, said.mentions), default=0.0))
    return chance


def _pointed(words: Sequence[SpokenWord], plain: Sequence[str], said: Said) -> float:
    """The chance of a turn by words that point at a bike."""
    if any(find_phrases("held_against", plain)):
        return 0.0
    places = [start for start, end in find_phrases("points_at", plain) if not _of_a_part(words, end, said.mentions)]
    colours = {one.end for one in said.mentions if one.label == "FINISH"}
    places += [
        place
        for place, (one, two) in enumerate(pairwise(words))
        if one.end in colours and two.word in word_set("a_bike")
    ]
    if not places:
        return 0.0
    if any(one.label in ("PART", "PRODUCT") for one in said.mentions):
        return POINTS_WITH_PART
    return POINTS if min(places) <= EARLY else POINTS_LATE


def _strengths(
    name: str, strength: float, words: Sequence[SpokenWord], begin: int, mentions: Sequence[Mention]
) -> Iterator[float]:
    """How much each phrase of a list speaks for a turn, in a sentence whose first word that matters is ``begin``."""
    plain = [word.word for word in words]
    for start, end in find_phrases(name, plain):
        closing = start > begin and end == len(plain)  # "the seat is over there"
        part = name != "next_bike" and _of_a_part(words, end, mentions)  # "now the tank"
        if not (closing or part or start >= _late(plain)):
            yield strength if start - begin <= OPENING else strength / 2


def _of_a_part(words: Sequence[SpokenWord], end: int, mentions: Sequence[Mention]) -> bool:
    """Whether a part stands behind a phrase, with at most its article and such between ("now the new rear shocks")."""
    while end < len(words) and words[end].word in word_set("before_a_part"):
        end += 1
    near = words[end : end + 2]  # and one more word, "now the old tank"
    starts = {word.start for word in near}
    return any(one.label in ("PART", "PRODUCT") and one.start in starts for one in mentions)


def _named(words: Sequence[SpokenWord], said: Said, before: frozenset[str], shop: Shop) -> tuple[float, frozenset[str]]:
    """The chance of a turn by a name near the start, and whose the names of the sentence may be.

    :param before: whose the names of the sentence named last may be; it is given back where there is no name.
    """
    found = [
        (place - after_fillers(row), jobs)
        for row in said.words
        for place, jobs in (*bikes_named(row, shop), *_first_names(words, said.mentions, shop))
    ]
    if not found:
        return 0.0, before
    first, jobs = min(place for place, _ in found), _shared([jobs for _, jobs in found])
    if first > EARLY:
        return 0.0, jobs
    if before and before <= jobs:  # "ada's otter ... the otter's tank"
        return NAMED_AGAIN, before
    return NAMED_FIRST if first <= OPENING else NAMED_EARLY, jobs


def _first_names(
    words: Sequence[SpokenWord], mentions: Sequence[Mention], shop: Shop
) -> Iterator[tuple[int, frozenset[str]]]:
    """Customers by their first name alone: the place of the word, and whose it may be."""
    for mention in mentions:
        name = next(iter(person_words(mention.text)), "") if mention.label == "PERSON" else ""
        if name in shop.first_names:
            yield sum(word.start < mention.start for word in words), shop.first_names[name]


def _shared(found: Sequence[frozenset[str]]) -> frozenset[str]:
    """Those that all names fit, "ada's otter"; where none does, those that any fits."""
    return frozenset.intersection(*found) or frozenset.union(*found)


def _late(plain: Sequence[str]) -> int:
    """From which word on a phrase speaks for the sentence that follows."""
    return max(EARLY, (len(plain) + 1) // 2)


def _either(one: float, other: float) -> float:
    """The chance that one of two independent signs is right."""
    return 1 - (1 - one) * (1 - other)
