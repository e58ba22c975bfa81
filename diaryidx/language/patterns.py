"""Patterns of talk from the cue files, looked for in a row of words.

A pattern is words with choices in braces ("{we|i} {made|did} a film", an empty choice may be left out), ``...`` for up
to four words, and angle brackets around the stretch that is asked for ("you can see <here>"). Words in capitals stand
for what was found already: DATE for a date, FILM for what films are called.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from diaryidx.vocabulary.loader import shipped_data
from diaryidx.vocabulary.spoken_words import spoken_key

_PASSED_OVER = frozenset(",;:-…")
GAP = 4  # words that ``...`` may stand for; own choice
_PIECE = re.compile(r"\{([^{}]*)\}|(\.\.\.)|([<>])|([^\s{}<>]+)")


@dataclass(frozen=True, slots=True)
class Row:
    """Words of a sentence, some stretches of them as one sign; ``spans`` are the words that each stands for.

    Commas are no signs: one engine writes them and the other does not.
    """

    signs: tuple[str, ...]
    spans: tuple[tuple[int, int], ...]

    @classmethod
    def of(cls, words: Sequence[str], found: Iterable[tuple[int, int, str]] = ()) -> Row:
        """A row with each stretch (start, end, sign) as one sign; of stretches that overlap the first counts."""
        signs: list[str] = []
        spans: list[tuple[int, int]] = []
        by_start: dict[int, tuple[int, str]] = {}
        for start, end, sign in found:
            by_start.setdefault(start, (end, sign))
        place = 0
        while place < len(words):
            end, sign = by_start.get(place, (place + 1, words[place]))
            if sign not in _PASSED_OVER:
                signs.append(sign)
                spans.append((place, end))
            place = end
        return cls(tuple(signs), tuple(spans))


@dataclass(frozen=True, slots=True)
class Match:
    """Where a pattern holds: words ``start`` to ``end`` (not included), and the stretch asked for, if it has one."""

    start: int
    end: int
    mark: tuple[int, int] | None = None


@dataclass(frozen=True, slots=True)
class Patterns:
    """Patterns of one meaning, by the words that they may begin with."""

    by_first: Mapping[str, tuple[re.Pattern[str], ...]]

    @classmethod
    def of(cls, patterns: Iterable[str]) -> Patterns:
        """Compile patterns.

        Raises ValueError: a pattern has no first word.
        """
        table: dict[str, list[re.Pattern[str]]] = {}
        for pattern in patterns:
            expression, first = _compiled(pattern)
            for word in first:
                table.setdefault(word, []).append(expression)
        return cls({word: tuple(found) for word, found in table.items()})

    def find(self, row: Row, start: int = 0) -> Iterator[Match]:
        """All places where one holds, from a sign of the row on; of those that begin at one word the longest."""
        if self.by_first.keys().isdisjoint(row.signs):
            return
        text, offsets = _joined(row.signs)
        place = start
        while place < len(row.signs):
            best: re.Match[str] | None = None
            for expression in self.by_first.get(row.signs[place], ()):
                match = expression.match(text, offsets[place])
                if match and (best is None or match.end() > best.end()):
                    best = match
            if best is None:
                place += 1
                continue
            end = _sign_at(offsets, best.end())
            mark = best.span("mark") if "mark" in best.re.groupindex and best.group("mark") else None
            yield Match(
                row.spans[place][0], row.spans[end - 1][1],
                mark and (row.spans[_sign_at(offsets, mark[0])][0], row.spans[_sign_at(offsets, mark[1]) - 1][1]),
            )  # fmt: skip
            place = max(end, place + 1)

    def first(self, row: Row) -> Match | None:
        """The first place where one holds."""
        return next(self.find(row), None)

    def at_start(self, row: Row, start: int = 0) -> Match | None:
        """The longest that begins with a sign of the row."""
        found = next(self.find(row, start), None)
        return found if found is not None and start < len(row.spans) and found.start == row.spans[start][0] else None


def _joined(signs: Sequence[str]) -> tuple[str, list[int]]:
    """The signs with a space behind each, and where each begins."""
    offsets, at = [], 0
    for sign in signs:
        offsets.append(at)
        at += len(sign) + 1
    return "".join(f"{sign} " for sign in signs), [*offsets, at]


def _sign_at(offsets: Sequence[int], at: int) -> int:
    """The sign that begins at a character."""
    low, high = 0, len(offsets) - 1
    while low < high:
        middle = (low + high) // 2
        if offsets[middle] < at:
            low = middle + 1
        else:
            high = middle
    return low


def _compiled(pattern: str) -> tuple[re.Pattern[str], set[str]]:
    pieces: list[str] = []
    first: set[str] = set()
    open_front = True
    for choice, gap, bracket, word in _PIECE.findall(pattern):
        if bracket:
            pieces.append("(?P<mark>" if bracket == "<" else ")")
            continue
        if gap:
            if open_front:
                raise ValueError(f"a pattern must begin with a word: {pattern!r}")
            pieces.append(rf"(?:\S+ ){{0,{GAP}}}?")
            continue
        options = [_key(option) for option in choice.split("|")] if not word else [_key(word)]
        pieces.append("(?:" + "|".join(re.escape(f"{one} ") if one else "" for one in options) + ")")
        if open_front:
            first |= {one.split(" ")[0] for one in options if one}
            open_front = "" in options
    if open_front:
        raise ValueError(f"a pattern must have a word that is always there: {pattern!r}")
    return re.compile("".join(pieces)), first


def _key(words: str) -> str:
    """Words as the reader cuts them; signs in capitals stay."""
    return " ".join(one if one.isupper() and len(one) > 1 else spoken_key(one) for one in words.split())


@cache
def patterns(file: str, name: str) -> Patterns:
    """The patterns under a name in a cue file."""
    return Patterns.of(shipped_data(file)[name])


@cache
def words_in(file: str, name: str) -> frozenset[str]:
    """A plain list of words in a cue file."""
    return frozenset(shipped_data(file)[name])
