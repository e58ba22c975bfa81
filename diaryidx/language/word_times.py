"""When a word of a sentence is said: its own time, which the engine gave to what it heard."""

from __future__ import annotations

from diaryidx.language.told import Told
from diaryidx.transcript.captions import timed_words


def word_times(one: Told, start: int, end: int) -> tuple[float, float]:
    """When the words ``start`` to ``end`` (not included) of a sentence begin and end, in seconds from the film's start.

    A word that was written otherwise than it was heard has the time of what it stands for; where no word times are
    known, they are spread over the sentence by the length of the words.
    """
    places = one.doc.user_data["places"]
    if not places or start >= end:
        return one.sentence.start, one.sentence.end
    first, last = places[start][0], places[min(end, len(places)) - 1][1]
    times, at = [], 0
    for word, timed in zip(one.text.split(), timed_words(one.sentence), strict=False):
        begins = one.text.index(word, at)
        at = begins + len(word)
        if begins < last and at > first:
            times.append((timed.start, timed.end))
    return (times[0][0], times[-1][1]) if times else (one.sentence.start, one.sentence.end)
