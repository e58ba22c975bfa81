"""How likely a film turns to another bike with each sentence, by how it is said; the phrases are data in words.yaml.

Each sentence has signs of a turn: a phrase or a name near its start, the pause before it, that it speaks on ("it"),
that it names a part. Their weights, in linking.yaml, are those of a logistic model (after Passonneau and Litman,
"Discourse segmentation by human and automated means", Computational Linguistics 23, 1997: cue phrases, pauses and what
noun phrases refer to).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import numpy as np

from diaryidx.builds.clues import bikes_named, learned
from diaryidx.builds.known import Shop, Vector, person_words
from diaryidx.builds.phrases import find_phrases
from diaryidx.builds.said import Said
from diaryidx.builds.word_lists import word_set
from diaryidx.language.discourse import after_fillers
from diaryidx.records import Mention, RecordingKind, Sentence
from diaryidx.vocabulary.spoken_words import SpokenWord, split_words

#: What remains of the chance in a note from the bench, which is mostly about one job (our own estimate).
NOTE = 0.2
#: Speakers pause longer between topics (Shriberg et al., "Prosody-based automatic segmentation of speech into
#: sentences and topics", Speech Communication 32, 2000): the odds of a turn rise and fall with the pause before a
#: sentence against the film's median pause, at most by so much (our own choice, far less than pauses tell in the
#: invented archive).
PAUSE_MOST, PAUSE_LEAST, SHORTEST_PAUSE = 4.0, 0.6, 0.2
#: A phrase that opens a sentence stands within so many words of its start; a name or phrase within so many is early.
OPENING, EARLY = 3, 7
#: A sentence of at most so many words is short, one of at least so many is long.
SHORT, LONG = 4, 11
_THINGS = ("PART", "PRODUCT")


def turns(
    sentences: Sequence[Sentence], said: Sequence[Said], cuts: set[int], kind: RecordingKind, shop: Shop
) -> Vector:
    """The chance that a film turns to another bike, for each sentence.

    :param said: what each sentence says.
    :param cuts: the sentences with which topics begin so far.
    :param kind: the kind of film; a note from the bench seldom turns.
    """
    weights = learned()["turns"]
    scores = np.array([sum(weights[name] for name in signs) for signs in turn_signs(sentences, said, cuts, shop)])
    chances: Vector = 1 / (1 + np.exp(-(scores + np.log(pauses(sentences)))))
    return chances * NOTE if kind == "bench note" else chances


def turn_signs(sentences: Sequence[Sentence], said: Sequence[Said], cuts: set[int], shop: Shop) -> Iterator[list[str]]:
    """The signs of each sentence that tell whether a film turns there, arguments as of `turns`."""
    named_before: frozenset[str] = frozenset()
    announced = False
    for place, (sentence, one) in enumerate(zip(sentences, said, strict=True)):
        words = split_words(sentence.text)
        plain = [word.word for word in words]
        named, named_before = _named(words, one, named_before, shop)
        signs = {
            "topic cut": place in cuts,
            "announced": announced,
            f"named {named}": named is not None,
            **_of_the_start(words, plain, one),
            **_of_the_words(plain, one),
        }
        announced = any(start >= _late(plain) for start, _ in find_phrases("next_bike", plain))
        yield ["always", *(name for name, found in signs.items() if found)]


def pauses(sentences: Sequence[Sentence]) -> Vector:
    """How much the pause before each sentence raises the odds of a turn; 1 where a film has no pauses to compare."""
    found = np.array([max(two.start - one.end, 0.0) for one, two in pairwise(sentences)])
    usual = float(np.median(found)) if len(found) else 0.0
    if usual < SHORTEST_PAUSE:
        return np.ones(len(sentences))
    return np.concatenate([[1.0], np.clip(found / usual, PAUSE_LEAST, PAUSE_MOST)])


def shows_two(sentence: Sentence, mentions: Sequence[Mention]) -> bool:
    """Whether a sentence shows two bikes as one: "these two here", but not "these two bolts"."""
    words = split_words(sentence.text)
    plain = [word.word for word in words]
    return any(not _of_a_part(words, end, mentions) for _, end in find_phrases("two_bikes", plain))


def _of_the_start(words: Sequence[SpokenWord], plain: Sequence[str], said: Said) -> Mapping[str, bool]:
    """The signs of how a sentence begins; none of a bike where it holds one bike against another."""
    begin = min(after_fillers(plain), len(plain) - 1)
    signs = {
        "a filler": begin > 0,
        "more fillers": begin > 1,
        "goes on": any(start in (0, begin) for start, _ in find_phrases("goes_on", plain)),
    }
    if plain and not any(find_phrases("held_against", plain)):
        for name in ("next_bike", "perhaps_next_bike", "two_bikes"):
            places = list(_openings(name, words, begin, said.mentions))
            signs[f"{name} first"] = any(place <= OPENING for place in places)
            signs[f"{name} early"] = bool(places) and not signs[f"{name} first"]
        pointed = _pointed(words, plain, said)
        signs[f"points {pointed}"] = pointed is not None
    return signs


def _of_the_words(plain: Sequence[str], said: Said) -> Mapping[str, bool]:
    """The signs of what a sentence says, wherever in it."""
    spoken = [word for word in plain if word[:1].isalnum()]
    return {
        "says a part": any(one.label in _THINGS for one in said.mentions),
        "says no thing": not any(one.label in (*_THINGS, "FINISH", "TASK") for one in said.mentions),
        "states something": said.status is not None,
        "refers back": any(word in word_set("refers_back") for word in plain),
        "shows": any(word in word_set("shows") for word in plain),
        "short": len(spoken) <= SHORT,
        "long": len(spoken) >= LONG,
    }


def _pointed(words: Sequence[SpokenWord], plain: Sequence[str], said: Said) -> str | None:
    """How a sentence points at a bike: beside a part that it names, early or late; None where it does not."""
    places = [start for start, end in find_phrases("points_at", plain) if not _of_a_part(words, end, said.mentions)]
    colours = {one.end for one in said.mentions if one.label == "FINISH"}
    places += [
        place
        for place, (one, two) in enumerate(pairwise(words))
        if one.end in colours and two.word in word_set("a_bike")
    ]
    if not places:
        return None
    if any(one.label in _THINGS for one in said.mentions):
        return "beside a part"
    return "early" if min(places) <= EARLY else "late"


def _openings(name: str, words: Sequence[SpokenWord], begin: int, mentions: Sequence[Mention]) -> Iterator[int]:
    """How far behind its first word that matters, ``begin``, each phrase of a list stands that opens a sentence."""
    plain = [word.word for word in words]
    for start, end in find_phrases(name, plain):
        closing = start > begin and end == len(plain)  # "the seat is over there"
        part = name != "next_bike" and _of_a_part(words, end, mentions)  # "now the tank"
        if not (closing or part or start >= _late(plain)):
            yield start - begin


def _of_a_part(words: Sequence[SpokenWord], end: int, mentions: Sequence[Mention]) -> bool:
    """Whether a part stands behind a phrase, with at most its article and such between ("now the new rear shocks")."""
    while end < len(words) and words[end].word in word_set("before_a_part"):
        end += 1
    near = words[end : end + 2]  # and one more word, "now the old tank"
    starts = {word.start for word in near}
    return any(one.label in _THINGS and one.start in starts for one in mentions)


def _named(
    words: Sequence[SpokenWord], said: Said, before: frozenset[str], shop: Shop
) -> tuple[str | None, frozenset[str]]:
    """How near its start a sentence names a bike or customer of the job book, and whose its names may be.

    :param before: whose the names of the sentence named last may be; it is given back where there is no name.
    """
    found = [
        (place - after_fillers(row), jobs)
        for row in said.words
        for place, jobs in (*bikes_named(row, shop), *_first_names(words, said.mentions, shop))
    ]
    if not found:
        return None, before
    first, jobs = min(place for place, _ in found), _shared([jobs for _, jobs in found])
    if first > EARLY:
        return None, jobs
    if before and before <= jobs:  # "ada's otter ... the otter's tank"
        return "again", before
    return "first" if first <= OPENING else "early", jobs


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
