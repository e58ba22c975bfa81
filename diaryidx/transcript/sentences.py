"""Words into sentences: by pauses, by how people open a new thought, and by punctuation where the engine gives it.

Engines without punctuation leave one endless line of words; what separates thoughts then is the pause. How long a
pause means "end" differs from speaker to speaker, so the limit follows the speaker's own pauses (after the observation
that pause length varies with the speaker: Goldman-Eisler 1968, *Psycholinguistics*; cited from memory).
The seconds and words in the constants are common practice, no source.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from functools import cache
from statistics import fmean, median

from diaryidx.records import Sentence, Word
from diaryidx.vocabulary.loader import shipped_data

LONGEST_SECONDS = 25.0
LONGEST_WORDS = 40
SHORTEST_PAUSE, LONGEST_PAUSE = 0.35, 0.8
PAUSE_WITH_PUNCTUATION = 1.5
PAUSE_BEFORE_OPENING = 0.15
_ENDS = (".", "?", "!", "…")
_CLOSERS = "\"'”’)]»"

Openings = Mapping[str, Sequence[str]]


def sentences(words: Sequence[Word], openings: Openings | None = None) -> tuple[Sentence, ...]:
    """Cut heard words into sentences.

    Arguments:
        words: in the order of speech, times in seconds from the start of the film.
        openings: phrases under ``always``, ``after_pause`` and ``dangling``; None takes the shipped ones.
    Returns: sentences that hold every word exactly once, in order; none longer than about 25 seconds or 40 words.
    """
    words = [word for word in words if word.word.strip()]
    if not words:
        return ()
    table = _table(openings) if openings is not None else _shipped_table()
    cuts = [0, *_cuts(words, table), len(words)]
    pieces = (words[first:last] for first, last in itertools.pairwise(cuts))
    return tuple(_sentence(part) for piece in pieces for part in _short_enough(piece))


def _sentence(words: Sequence[Word]) -> Sentence:
    heard = " ".join(word.word.strip() for word in words)
    certainties = [word.certainty for word in words if word.certainty is not None]
    return Sentence(
        start=words[0].start,
        end=max(word.end for word in words),
        heard=heard,
        text=heard,
        words=tuple(words),
        certainty=round(fmean(certainties), 4) if certainties else None,
        speaker=words[0].speaker,
    )


def _cuts(words: Sequence[Word], table: _Table) -> Iterator[int]:
    """Places before which a new sentence begins."""
    punctuated = any(_ends(word.word) for word in words)
    pause = PAUSE_WITH_PUNCTUATION if punctuated else _pause_that_ends(words)
    spoken = [_bare(word.word) for word in words]
    for place in range(1, len(words)):
        before, word = words[place - 1], words[place]
        gap = word.start - before.end
        limit = pause * 2 if spoken[place - 1] in table.dangling else pause
        if (
            before.speaker != word.speaker
            or (punctuated and _ends(before.word))
            or gap >= limit
            or (not punctuated and _opens(spoken, place, gap, table))
        ):
            yield place


def _pause_that_ends(words: Sequence[Word]) -> float:
    """The pause that ends a sentence for these speakers: twice their usual pause, within sensible limits."""
    gaps = [after.start - before.end for before, after in itertools.pairwise(words)]
    pauses = [gap for gap in gaps if gap >= 0.1]
    if len(pauses) < 8:
        return 0.5
    return min(max(2 * median(pauses), SHORTEST_PAUSE), LONGEST_PAUSE)


def _opens(spoken: Sequence[str], place: int, gap: float, table: _Table) -> bool:
    if spoken[place - 1] in table.dangling:
        return False
    for length in range(min(table.longest, len(spoken) - place), 0, -1):
        phrase = " ".join(spoken[place : place + length])
        if phrase in table.always:
            return True
        if gap >= PAUSE_BEFORE_OPENING and phrase in table.after_pause:
            return True
    return False


def _short_enough(words: Sequence[Word]) -> Iterator[Sequence[Word]]:
    """Cut what is too long at its best pause: the longest one, rather in the middle than near an end."""
    queue = [words]
    while queue:
        piece = queue.pop()
        if len(piece) <= LONGEST_WORDS and (piece[-1].end - piece[0].start <= LONGEST_SECONDS or len(piece) < 4):
            yield piece
            continue
        best = max(range(2, len(piece) - 1), key=lambda place: _cut_worth(piece, place))
        queue += [piece[best:], piece[:best]]


def _cut_worth(words: Sequence[Word], place: int) -> float:
    middle = 1 - abs(2 * place / len(words) - 1)  # 1 in the middle, 0 at the ends
    gap = max(words[place].start - words[place - 1].end, 0.0)
    comma = 0.3 if words[place - 1].word.endswith((",", ";", ":")) else 0.0
    new_thought = 0.1 if _bare(words[place].word) in ("and", "but", "so", "then", "because", "we've", "it's") else 0.0
    return gap + comma + new_thought + 0.2 * middle


def _ends(word: str) -> bool:
    return word.rstrip(_CLOSERS).endswith(_ENDS) and len(word.strip(".")) > 1


def _bare(word: str) -> str:
    return word.lower().replace("’", "'").strip('.,;:!?…"()[]-–—')


class _Table:
    """The openings as sets, with the length in words of the longest."""

    def __init__(self, openings: Openings) -> None:
        self.always = frozenset(openings.get("always", ()))
        self.after_pause = frozenset(openings.get("after_pause", ()))
        self.dangling = frozenset(openings.get("dangling", ()))
        self.longest = max((len(phrase.split()) for phrase in (*self.always, *self.after_pause)), default=0)


def _table(openings: Openings) -> _Table:
    return _Table(openings)


@cache
def _shipped_table() -> _Table:
    return _Table(shipped_data("openings.yaml"))
