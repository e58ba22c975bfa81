"""How much each sentence of a film speaks for talk about no bike: hellos, news of the shop, what it sells or develops.

The weights of its signs, in linking.yaml, are those of a logistic model of whether a sentence is about a bike.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from diaryidx.builds.clues import learned
from diaryidx.builds.known import Vector
from diaryidx.builds.phrases import find_phrases
from diaryidx.builds.said import Said
from diaryidx.builds.word_lists import word_set
from diaryidx.records import Reading, Segment, Sentence

#: The sentences of a topic speak for much the same, so each counts for less than it would alone (our own choice).
SHARE = 0.6
#: What a sentence speaks for that is surely about no bike, in log odds.
SURELY = 50.0
#: So many sentences of a topic about something that is sold or developed are surely about that; after those it may have
#: run into bikes that nothing opened.
SURELY_ON_SALE = 3
#: Films begin and end with so many sentences of hellos and goodbyes at least (our own choice).
AT_ENDS = 2
#: What the language step calls hellos and goodbyes.
HELLOS = ("Opening", "Closing")
_NAMES = ("MAKE", "MODEL", "NICKNAME", "JOB")


def talk_gains(said: Sequence[Said], sentences: Sequence[Sentence], reading: Reading) -> Vector:
    """How much each sentence speaks for talk about no bike against a bike, as log odds.

    A topic that the language step takes to be about a tutorial or a question is nothing else, nor is the beginning of
    one about a product or a development.
    """
    weights = learned()["talk"]
    gains = np.array([sum(weights[name] for name in signs) for signs in talk_signs(said, reading)]) * SHARE
    for segment in reading.segments:
        for place in range(segment.first, segment.last + 1):
            if _is_fixed(segment, place, sentences[place], reading):
                gains[place] = SURELY
    return gains


def talk_signs(said: Sequence[Said], reading: Reading) -> Iterator[list[str]]:
    """The signs of each sentence that tell whether it is about a bike."""
    for segment in reading.segments:
        sort = _sort(segment)
        for place in range(segment.first, segment.last + 1):
            one = said[place]
            signs = {
                f"opens {sort}": place == segment.first,
                f"in {sort}": place > segment.first,
                "near an end": place < AT_ENDS or place >= len(said) - AT_ENDS,
                **{f"says a {kind}": any(key == kind for key, _ in one.keys) for kind in ("part", "finish", "task")},
                "says a price": any(mention.label == "PRICE" for mention in one.mentions),
                "names a bike": any(mention.label in _NAMES for mention in one.mentions),
                "states something": one.status is not None,
                "of a person": not word_set("he").isdisjoint(one.plain) or not word_set("she").isdisjoint(one.plain),
                "of a thing": "it" in one.plain,
                "shows": not word_set("shows").isdisjoint(one.plain),
                "points": any(find_phrases("points_at", one.plain)) or any(find_phrases("next_bike", one.plain)),
                "comes or goes": any(find_phrases("new_here", one.plain)) or any(find_phrases("gone_home", one.plain)),
            }
            yield ["always", *(name for name, found in signs.items() if found)]


def _sort(segment: Segment) -> str:
    """What the language step takes a topic for."""
    if segment.subject.kind == "shop":
        return "hello" if segment.title in HELLOS else "talk"
    return "a bike" if segment.subject.kind == "build" else "on sale"


def _is_fixed(segment: Segment, place: int, sentence: Sentence, reading: Reading) -> bool:
    """Whether a sentence surely speaks of no bike."""
    if segment.subject.kind == "build":
        return False
    if reading.kind != "diary" or segment.subject.kind == "tutorial":
        return True
    on_sale = segment.subject.kind in ("product", "development")
    if on_sale and place - segment.first < SURELY_ON_SALE:
        return True
    return any(entry.start <= sentence.start < entry.end for entry in reading.entries)
