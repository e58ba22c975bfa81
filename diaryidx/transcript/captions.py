"""Captions from repaired sentences, as WebVTT or SubRip: readable lines, on screen while they are said.

The figures are those of published captioning guides, quoted from memory: two lines at most, and a caption that ends
before seven seconds are over (Karamitroglou, "A Proposed Set of Subtitling Standards in Europe", Translation Journal
2(2), 1998: two lines, six seconds for a full one); 42 characters a line, at least about a second, at most seven, and 17
characters a second for adults (the timed text style guides that streaming services publish for English); a short gap
between captions so that a change is seen (the same, two frames).
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from functools import cache
from typing import Literal

from diaryidx.records import Sentence

LINE_CHARACTERS = 42
LINES = 2
SHORTEST_SECONDS = 1.0
LONGEST_SECONDS = 7.0
CHARACTERS_A_SECOND = 17.0
GAP_SECONDS = 0.08
#: A pause this long is a good place to change the caption (our own choice).
PAUSE_SECONDS = 0.35


@dataclass(frozen=True, slots=True)
class Caption:
    """What is on screen from ``start`` to ``end``, seconds from the start of the film; one string a line."""

    start: float
    end: float
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _TimedWord:
    word: str
    start: float
    end: float


def captions(sentences: Iterable[Sentence], duration: float) -> list[Caption]:
    """Captions of a film, from the words as they are meant.

    :param sentences: in the order they are said, with their heard words for the times.
    :param duration: the film's length in seconds; no caption is on screen past it.
    :returns: captions in order, none overlapping: at most 2 lines of 42 characters and 7 seconds; at least 1 second and
        at most 17 characters a second where the speech leaves room for it.
    """
    pieces = [piece for sentence in sentences for piece in _pieces(timed_words(sentence))]
    raw = [Caption(piece[0].start, piece[-1].end, _lines(_text(piece))) for piece in pieces]
    return list(_laid_out(raw, duration))


def as_webvtt(shown: Iterable[Caption]) -> str:
    """Captions as WebVTT (https://www.w3.org/TR/webvtt1/): timestamps of 4.3, markup characters escaped by 4.2.2."""
    cues = [
        f"{_timestamp(one.start, '.')} --> {_timestamp(one.end, '.')}\n{_escaped(chr(10).join(one.lines))}\n"
        for one in shown
    ]
    return "\n".join(["WEBVTT\n", *cues])


def as_srt(shown: Iterable[Caption]) -> str:
    """Captions as SubRip: a number, a time line, the lines, an empty line; it has no way to escape an arrow."""
    return "".join(
        f"{number}\n{_timestamp(one.start, ',')} --> {_timestamp(one.end, ',')}\n"
        f"{chr(10).join(one.lines).replace('-->', '→')}\n\n"
        for number, one in enumerate(shown, start=1)
    )


def written(shown: Iterable[Caption], form: Literal["vtt", "srt"]) -> str:
    """Captions in the named form."""
    return as_srt(shown) if form == "srt" else as_webvtt(shown)


def timed_words(sentence: Sentence) -> list[_TimedWord]:
    """The meant words with the times of the heard ones; a repaired stretch shares the time of what it replaces."""
    meant = sentence.text.split()
    heard = [word for word in sentence.words if word.word.strip()]
    if not heard:
        return _spread(meant, sentence.start, sentence.end)
    timed: list[_TimedWord] = []
    matcher = SequenceMatcher(None, [word.word.strip() for word in heard], meant, autojunk=False)
    for _tag, first, last, meant_first, meant_last in matcher.get_opcodes():
        start = heard[first].start if first < len(heard) else heard[-1].end
        end = heard[last - 1].end if last > first else start
        timed += _spread(meant[meant_first:meant_last], start, end, heard[first:last])
    return timed


def _spread(words: Sequence[str], start: float, end: float, heard: Sequence[object] | None = None) -> list[_TimedWord]:
    """Words over a stretch of time: one to one where as many were heard, else by their length."""
    if heard is not None and len(heard) == len(words):
        return [_TimedWord(word, one.start, one.end) for word, one in zip(words, heard, strict=True)]  # type: ignore[attr-defined]
    letters = sum(len(word) + 1 for word in words) or 1
    timed, said = [], 0
    for word in words:
        begin = start + (end - start) * said / letters
        said += len(word) + 1
        timed.append(_TimedWord(word, begin, start + (end - start) * said / letters))
    return timed


def _pieces(words: Sequence[_TimedWord]) -> Iterator[Sequence[_TimedWord]]:
    """Cut a sentence into stretches that fit on screen, as even as can be, at pauses where there are any.

    A shortest path over the places between words: each stretch costs one, plus more the emptier it is and the less of a
    pause ends it.
    """

    @cache
    def best(first: int) -> tuple[float, int]:
        if first == len(words):
            return 0.0, first
        choices = []
        for last in range(first + 1, len(words) + 1):
            if last > first + 1 and not _fits(words[first:last]):
                break
            rest, _ = best(last)
            choices.append((1.0 + _unevenness(words, first, last) + rest, last))
        return min(choices)

    for place in range(len(words), -1, -1):  # from the end, so that no call goes deep
        best(place)
    first = 0
    while first < len(words):
        _cost, last = best(first)
        yield words[first:last]
        first = last


def _unevenness(words: Sequence[_TimedWord], first: int, last: int) -> float:
    empty = 1.0 - len(_text(words[first:last])) / (LINE_CHARACTERS * LINES)
    if last == len(words):
        return 0.5 * empty * empty
    pause = words[last].start - words[last - 1].end
    return 0.5 * empty * empty + (0.0 if pause >= PAUSE_SECONDS else 0.3)


def _fits(words: Sequence[_TimedWord]) -> bool:
    return words[-1].end - words[0].start <= LONGEST_SECONDS and len(_wrapped(_text(words))) <= LINES


def _text(words: Sequence[_TimedWord]) -> str:
    return " ".join(word.word for word in words)


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, LINE_CHARACTERS, break_on_hyphens=False)


def _lines(text: str) -> tuple[str, ...]:
    """One line if it fits, else two of nearly the same length; a word longer than a line is broken."""
    if len(text) <= LINE_CHARACTERS:
        return (text,)
    words = text.split()
    halves = [(" ".join(words[:cut]), " ".join(words[cut:])) for cut in range(1, len(words))]
    fitting = [half for half in halves if max(map(len, half)) <= LINE_CHARACTERS]
    if fitting:
        return min(fitting, key=lambda half: abs(len(half[0]) - len(half[1])))
    return tuple(_wrapped(text)[:LINES])


def _laid_out(raw: Sequence[Caption], duration: float) -> Iterator[Caption]:
    """Leave each caption on screen as long as it takes to read, if the next one and the film's end allow it."""
    for place, one in enumerate(raw):
        start = min(max(0.0, one.start), duration)
        next_start = raw[place + 1].start if place + 1 < len(raw) else duration + GAP_SECONDS
        free_until = next_start - GAP_SECONDS if next_start - start > 2 * GAP_SECONDS else next_start
        needed = max(SHORTEST_SECONDS, sum(map(len, one.lines)) / CHARACTERS_A_SECOND)
        wanted = min(max(one.end, start + needed), start + LONGEST_SECONDS)
        shown = replace(one, start=round(start, 3), end=round(min(wanted, free_until, duration), 3))
        if shown.end > shown.start:
            yield shown


def _timestamp(seconds: float, point: str) -> str:
    thousandths = round(seconds * 1000)
    hours, rest = divmod(thousandths, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}{point}{rest % 1000:03d}"


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
