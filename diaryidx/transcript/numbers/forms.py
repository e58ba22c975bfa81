"""The machine that runs ``forms.yaml``: finds every form in a row of words and takes those that go together best.

A form is a row of steps (words, a phrase of a class, a number within limits). Where several readings of a number fit,
the one that lets the whole form fit is taken: "one twenty newton metres" is 120, since its unit stands behind it. Forms
that overlap compete by points, and the row of readings with the most points in all wins (weighted interval scheduling:
Kleinberg and Tardos, *Algorithm Design*, 2005, section 6.1).
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from diaryidx.transcript.numbers.spoken import Number, goes_on, is_digit, is_letter, is_number_word, letter, readings
from diaryidx.vocabulary.spoken_words import spoken_key
from diaryidx.vocabulary.yaml_files import read_shipped

_FOLDER = Path(__file__).parent
_EACH = 0.5  # what every piece costs, so that one reading of many words outdoes many of few
LONGEST_CODE = 16  # signs of a part number
_BEGIN_NUMBERS = ("a", "an", "point")
_VOWELS = frozenset("aeiouy")
_JOINERS = ("-", "–", "/", ".", "dash", "hyphen", "slash", "stroke", "dot")
_SIGNS = {"dash": "-", "hyphen": "-", "–": "-", "slash": "/", "stroke": "/", "dot": "."}


class Phrases:
    """Phrases with a value each, found by their first word; the longest first."""

    def __init__(self, phrases: Mapping[str, str]) -> None:
        self.by_first: dict[str, list[tuple[tuple[str, ...], str]]] = {}
        self.by_last: dict[str, list[tuple[str, ...]]] = {}
        for phrase, value in phrases.items():
            words = tuple(spoken_key(phrase).split())
            if words:
                self.by_first.setdefault(words[0], []).append((words, value))
                self.by_last.setdefault(words[-1], []).append(words)
        for found in self.by_first.values():
            found.sort(key=lambda one: -len(one[0]))

    def at(self, words: Sequence[str], place: int) -> Iterator[tuple[int, str]]:
        """The phrases that begin here: where each ends, and its value."""
        if place < len(words):
            for phrase, value in self.by_first.get(words[place], ()):
                if len(phrase) == 1 or tuple(words[place : place + len(phrase)]) == phrase:
                    yield place + len(phrase), value

    def before(self, words: Sequence[str], place: int) -> int:
        """The length of a phrase that ends before this place; 0 for none."""
        if place:
            for phrase in self.by_last.get(words[place - 1], ()):
                if len(phrase) <= place and tuple(words[place - len(phrase) : place]) == phrase:
                    return len(phrase)
        return 0

    def within(self, words: Sequence[str]) -> bool:
        """Whether any of the phrases occurs."""
        if self.by_first.keys().isdisjoint(words):
            return False
        return any(next(self.at(words, place), None) for place in range(len(words)) if words[place] in self.by_first)


@dataclass(frozen=True, slots=True)
class Slot:
    """A number within limits. ``hows`` are the ways of reading it, "code" and "clock" among them."""

    name: str
    hows: frozenset[str]
    low: float
    high: float
    step: float
    values: frozenset[float]
    lengths: frozenset[int]
    parts: frozenset[str]
    within: bool
    decimals: int

    def takes(self, one: Number) -> bool:
        """Whether this reading of a number is within the limits."""
        return (
            one.how in self.hows
            and self.low <= one.value <= self.high
            and (not self.values or one.value in self.values)
            and (not self.step or one.value % self.step == 0)
            and (not self.lengths or len(one.figures) in self.lengths)
            and (not self.parts or one.figures.rpartition("/")[2] in self.parts)
            and (not self.decimals or len(one.figures.partition(".")[2]) == self.decimals)
        )


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a pattern: a number or phrases, kept under ``name`` unless that is empty."""

    name: str
    optional: bool
    slot: Slot | None = None
    phrases: Phrases | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """A row of steps, and what tells quickly that it cannot be there.

    ``second`` are the words that can stand second in it, None where a number can or nothing need. Of each of
    ``required`` a word must be in the text, and a number where ``number`` says so.
    """

    steps: tuple[Step, ...]
    first: frozenset[str]
    number_first: bool
    second: frozenset[str] | None
    required: tuple[frozenset[str], ...]
    number: bool

    def possible(self, words: frozenset[str], has_number: bool) -> bool:
        """Whether a text of these words can hold it."""
        return (has_number or not self.number) and not any(words.isdisjoint(some) for some in self.required)


@dataclass(frozen=True, slots=True, eq=False)
class Form:
    """One form of ``forms.yaml``, ready for use. ``settings`` are its further keys, read by ``making``."""

    name: str
    kind: str
    patterns: tuple[Pattern, ...]
    written: str | None
    score: float
    needs: bool
    before: tuple[tuple[float, Phrases, bool], ...]
    after: tuple[tuple[float, Phrases, bool], ...]
    anywhere: tuple[tuple[float, Phrases], ...]
    settings: Mapping[str, str]


Captured = dict[str, "Number | str"]


@dataclass(frozen=True, slots=True)
class Matched:
    """A form found in words ``start`` to ``end`` (not included)."""

    form: Form
    start: int
    end: int
    captured: Captured
    points: float


@dataclass(slots=True)
class Row:
    """The words of a text, with what has been found out about them so far."""

    words: Sequence[str]
    hyphens: frozenset[int] = frozenset()
    numbers: dict[int, list[Number]] = field(default_factory=dict)
    has: dict[int, bool] = field(default_factory=dict)

    def numbers_at(self, place: int) -> list[Number]:
        """The readings of the number that begins here."""
        if place not in self.numbers:
            self.numbers[place] = readings(self.words, place) if place < len(self.words) else []
        return self.numbers[place]

    def within(self, phrases: Phrases) -> bool:
        """Whether any of the phrases occurs in the text."""
        if id(phrases) not in self.has:
            self.has[id(phrases)] = phrases.within(self.words)
        return self.has[id(phrases)]


def find_forms(words: Sequence[str], job_numbers: frozenset[str], hyphens: frozenset[int]) -> list[Matched]:
    """The forms in a text that go together best, in reading order.

    Arguments:
        words: lower-case words, as ``split_words`` cuts them.
        job_numbers: those of the job book; a number that is none of them is not taken for one without a word for it.
        hyphens: the places of words that a hyphen joins to the word before; it belongs to a part number.
    """
    table = _forms()
    row, present = Row(words, hyphens), frozenset(words)
    starts = [
        is_number_word(word) or (word in _BEGIN_NUMBERS and bool(row.numbers_at(at))) for at, word in enumerate(words)
    ]
    has_number = any(starts)
    by_number = [one for one in table.by_number if one[1].possible(present, True)] if has_number else []
    found: list[Matched] = []
    for place, word in enumerate(words):
        if place and goes_on(words, place):
            continue  # the "five" of "twenty five" begins nothing
        after = words[place + 1] if place + 1 < len(words) else ""
        for form, pattern in table.by_first.get(word, ()):
            if (pattern.second is None or after in pattern.second) and pattern.possible(present, has_number):
                found += _matches(form, pattern, row, place, job_numbers)
        if starts[place]:
            for form, pattern in by_number:
                found += _matches(form, pattern, row, place, job_numbers)
    return _best(found) if found else []


# --- matching --------------------------------------------------------------------------------------------------------


def _matches(form: Form, pattern: Pattern, row: Row, place: int, job_numbers: frozenset[str]) -> Iterator[Matched]:
    """The match of a pattern that begins here: the first that is allowed, longer readings of numbers before shorter."""
    for end, captured in _steps(pattern.steps, 0, row, place, {}):
        if end > place and _allowed(form, captured, job_numbers):
            points = _points(form, row, place, end)
            if points is not None:
                yield Matched(form, place, end, captured, points)
            return


def _steps(
    pattern: tuple[Step, ...], at: int, row: Row, place: int, captured: Captured
) -> Iterator[tuple[int, Captured]]:
    if at == len(pattern):
        yield place, captured
        return
    step = pattern[at]
    if step.slot is not None:
        for one in _numbers(step.slot, row, place):
            more: Captured = {step.name: one, f"{step.name} begins": str(place)}
            yield from _steps(pattern, at + 1, row, one.end, captured | more)
    elif step.phrases is not None:
        for end, value in step.phrases.at(row.words, place):
            yield from _steps(pattern, at + 1, row, end, {**captured, step.name: value} if step.name else captured)
    if step.optional:
        yield from _steps(pattern, at + 1, row, place, captured)


def _numbers(slot: Slot, row: Row, place: int) -> Iterator[Number]:
    if "code" in slot.hows:
        yield from (one for one in _codes(row, place) if not slot.lengths or len(one.figures) in slot.lengths)
        return
    if not slot.hows.isdisjoint(("clock", "pointed clock")):
        word = row.words[place] if place < len(row.words) else ""
        hour, colon, minute = word.partition(":" if "clock" in slot.hows else ".")
        if colon and len(minute) == 2 and hour.isdecimal() and minute.isdecimal() and int(hour) < 24 > int(minute) // 3:
            yield Number(int(hour) * 60.0 + int(minute), place + 1, "digits", f"{int(hour)}:{minute}")
        return
    found = row.numbers_at(place)
    for one in found:
        if slot.takes(one) and (slot.within or not _cut_short(one, found, row)):
            yield one


def _cut_short(one: Number, found: Sequence[Number], row: Row) -> bool:
    """Whether a number goes on behind this reading: "six two oh" of "six two oh five", "two thousand" of 2006."""
    if one.how in ("whole", "paired"):
        return any(other.how in (one.how, "ordinal", "fraction") and other.end > one.end for other in found)
    return one.how in ("digits", "short") and one.end < len(row.words) and is_digit(row.words[one.end])


def _codes(row: Row, place: int) -> Iterator[Number]:
    """A part number: letters and figures one after the other; "dash", "stroke" and the like between them."""
    signs, end, figures, joiner = "", place, 0, ""
    while end < len(row.words) and len(signs) < LONGEST_CODE:
        word = row.words[end]
        if end in row.hyphens and figures and word[:1].isdecimal():
            joiner = "-"
        rows = [one for one in row.numbers_at(end) if one.how in ("row", "digits", "short", "whole")]
        if word in _JOINERS and signs and not joiner:
            joiner, end = _SIGNS.get(word, word), end + 1
            continue
        if rows and not (word in ("a", "an", "o") and not figures and word != "o"):
            in_row = [one for one in rows if one.how != "whole" and row.hyphens.isdisjoint(range(end + 1, one.end))]
            in_row = in_row or [one for one in rows if one.end == end + 1] or rows
            longest = max(in_row, key=lambda one: one.end)
            more, stop, figures = longest.figures, longest.end, figures + 1
        elif is_letter(word) and not (word in ("a", "i") and end == place and not _is_spelled(row.words, end + 1)):
            more, stop = letter(word), end + 1
        elif len(word) < 4 and word.isalpha() and _VOWELS.isdisjoint(word):
            more, stop = word.upper(), end + 1  # "KD447", "6205RS" as they are written
        else:
            break
        signs, end, joiner = signs + joiner + more, stop, ""
    if joiner:
        end -= 1
    if figures and len(signs) > 1:
        yield Number(0.0, end, "row", signs)


def _is_spelled(words: Sequence[str], place: int) -> bool:
    return place < len(words) and is_letter(words[place])


def _allowed(form: Form, captured: Captured, job_numbers: frozenset[str]) -> bool:
    """What limits on single numbers cannot say."""
    amount, upper = captured.get("amount"), captured.get("upper")
    if isinstance(amount, Number) and isinstance(upper, Number):
        if "near" in form.settings:
            return amount.value < 100 and upper.value - amount.value in (1, 2, 5, 10)
        return amount.value < upper.value
    unit = captured.get("unit")
    if isinstance(amount, Number) and isinstance(unit, str) and amount.how == "fraction" and amount.value < 1:
        return "a" in units()[unit]
    if "not_one" in form.settings:
        number = captured["number"]
        return isinstance(number, Number) and number.figures != "1"
    if "of_book" in form.settings:
        job = captured["job"]
        return isinstance(job, Number) and job.figures in job_numbers
    return True


def _points(form: Form, row: Row, start: int, end: int) -> float | None:
    """The points of a match; None where it needs a word that is not there."""
    points, spoken_for = 0.0, False
    edge = _before_hedges(row.words, start)
    for more, phrases, at_start in form.before:
        if (
            (at_start and not start)
            or phrases.before(row.words, start)
            or (edge < start and phrases.before(row.words, edge))
        ):
            points, spoken_for = points + more, spoken_for or more > 0
    for more, phrases, at_end in form.after:
        if next(phrases.at(row.words, end), None) or (at_end and end == len(row.words)):
            points, spoken_for = points + more, spoken_for or more > 0
    for more, phrases in form.anywhere:
        if row.within(phrases):
            points, spoken_for = points + more, spoken_for or more > 0
    if form.needs and not spoken_for:
        return None
    return points + form.score + (end - start) - _EACH


def _before_hedges(words: Sequence[str], place: int) -> int:
    hedges = _forms().hedges
    while place and (length := hedges.before(words, place)):
        place -= length
    return place


def _best(found: list[Matched]) -> list[Matched]:
    """The matches that do not overlap and have the most points together; nothing that costs points."""
    matches = sorted((one for one in found if one.points > 0), key=lambda one: one.start)
    starts = [one.start for one in matches]
    best: list[tuple[float, int | None]] = [(0.0, None)] * (len(matches) + 1)
    for place in range(len(matches) - 1, -1, -1):
        one = matches[place]
        after = bisect_left(starts, one.end)
        taken = one.points + best[after][0]
        best[place] = (taken, after) if taken > best[place + 1][0] else (best[place + 1][0], None)
    chosen, place = [], 0
    while place < len(matches):
        behind = best[place][1]
        if behind is not None:
            chosen.append(matches[place])
        place = place + 1 if behind is None else behind
    return chosen


# --- reading the YAML ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Table:
    by_first: Mapping[str, tuple[tuple[Form, Pattern], ...]]
    by_number: tuple[tuple[Form, Pattern], ...]
    hedges: Phrases


@cache
def units() -> dict[str, dict[str, Any]]:
    """The units of ``units.yaml`` by name, each with the ``kind`` that it measures."""
    data = read_shipped((_FOLDER / "units.yaml").read_text(encoding="utf-8"))
    return {name: {**unit, "kind": kind} for kind, named in data.items() for name, unit in named.items()}


@cache
def _data() -> dict[str, Any]:
    return read_shipped((_FOLDER / "forms.yaml").read_text(encoding="utf-8"))


def money_signs() -> dict[str, str]:
    """The sign of each currency, by its code."""
    return {code: sign for sign, codes in _data()["classes"]["money sign"].items() for code in codes}


@cache
def _class(name: str) -> Phrases:
    if name in ("unit", "near unit"):
        return Phrases({phrase: unit for unit, told in units().items() for phrase in told["say"]})
    if name == "one unit":
        return Phrases({phrase: unit for unit, told in units().items() if "a" in told for phrase in told["say"]})
    return Phrases({phrase: value for value, phrases in _data()["classes"][name].items() for phrase in phrases})


@cache
def phrase_list(name: str) -> Phrases:
    """A list under ``words``; a name with $ in it stands for another list, class or the units."""
    return Phrases(dict.fromkeys(_opened(_data()["words"].get(name, [f"${name}"])), ""))


def _opened(phrases: Sequence[str]) -> Iterator[str]:
    for phrase in phrases:
        if phrase == "$unit":
            yield from (said for told in units().values() for said in told["say"])
        elif phrase.startswith("$") and phrase[1:] in _data()["classes"]:
            yield from (said for group in _data()["classes"][phrase[1:]].values() for said in group)
        elif phrase.startswith("$") and phrase not in ("$", "$start", "$end"):
            yield from _opened(_data()["words"][phrase[1:]])
        else:
            yield phrase


@cache
def _forms() -> _Table:
    by_first: dict[str, list[tuple[Form, Pattern]]] = {}
    by_number: list[tuple[Form, Pattern]] = []
    for told in _data()["forms"]:
        form = _form(told)
        for pattern in form.patterns:
            if pattern.number_first:
                by_number.append((form, pattern))
            for word in pattern.first:
                by_first.setdefault(word, []).append((form, pattern))
    return _Table({word: tuple(forms) for word, forms in by_first.items()}, tuple(by_number), phrase_list("hedges"))


def _first(steps: Sequence[Step]) -> tuple[set[str], bool, bool]:
    """The words with which steps can begin, whether they can begin with a number, and whether nothing need be there."""
    words: set[str] = set()
    number = False
    for step in steps:
        number = number or step.slot is not None
        words |= step.phrases.by_first.keys() if step.phrases is not None else set()
        if not step.optional:
            return words, number, False
    return words, number, True


def _second(steps: Sequence[Step]) -> frozenset[str] | None:
    """The words that can stand second where a phrase stands first; None for any."""
    words: set[str] = set()
    for place, step in enumerate(steps):
        if step.phrases is not None:
            lengths = {len(phrase) for found in step.phrases.by_first.values() for phrase, _ in found}
            words |= {phrase[1] for found in step.phrases.by_first.values() for phrase, _ in found if len(phrase) > 1}
            if 1 in lengths:
                more, number, nothing = _first(steps[place + 1 :])
                words |= more
                if number or nothing:
                    return None
        if not step.optional:
            break
    return frozenset(words)


_FORM_KEYS = ("name", "kind", "patterns", "numbers", "written", "score", "needs", "before", "after", "anywhere")


def _form(told: Mapping[str, Any]) -> Form:
    slots = {**_data()["slots"], **told.get("numbers", {})}
    return Form(
        name=told["name"],
        kind=told["kind"],
        patterns=tuple(_pattern(pattern, slots) for pattern in told["patterns"]),
        written=told.get("written"),
        score=float(told.get("score", 0)),
        needs="needs" in told,
        before=tuple(_cues(told.get("before", {}))),
        after=tuple(_cues(told.get("after", {}))),
        anywhere=tuple((points, phrases) for points, phrases, _ in _cues(told.get("anywhere", {}))),
        settings={key: value for key, value in told.items() if key not in _FORM_KEYS},
    )


def _cues(told: Mapping[str, Any]) -> Iterator[tuple[float, Phrases, bool]]:
    for points, phrases in told.items():
        if isinstance(phrases, str):
            yield float(points), phrase_list(phrases[1:]), False
        else:
            opened = list(_opened(phrases))
            edge = not {"$start", "$end"}.isdisjoint(opened)
            yield float(points), Phrases({one: "" for one in opened if one not in ("$start", "$end")}), edge


def _pattern(pattern: str, slots: Mapping[str, Any]) -> Pattern:
    """A pattern as steps; "<a class>" may hold spaces, all else is cut at them."""
    steps = tuple(_step(token, slots) for token in _tokens(pattern))
    first, number, _ = _first(steps)
    required = tuple(
        frozenset(step.phrases.by_first) for step in steps if step.phrases is not None and not step.optional
    )
    needs_number = any(step.slot is not None and not step.optional for step in steps)
    return Pattern(steps, frozenset(first), number, _second(steps), required, needs_number)


def _tokens(pattern: str) -> Iterator[str]:
    held = ""
    for piece in pattern.split():
        held = f"{held} {piece}".strip()
        if held.count("<") == held.count(">"):
            yield held
            held = ""


def _step(token: str, slots: Mapping[str, Any]) -> Step:
    optional = token.startswith("[") and token.endswith("]") and len(token) > 2
    inner = token[1:-1] if optional or token.startswith("(") else token
    if inner.startswith("{"):
        name = inner[1:-1]
        return Step(name, optional, slot=_slot(name, slots[name]))
    if inner.startswith("<"):
        return Step(inner[1:-1], optional, phrases=_class(inner[1:-1]))
    phrases = {one.strip('"').replace("_", " "): "" for one in inner.split("|")}
    return Step("", optional, phrases=Phrases(phrases))


def _slot(name: str, told: Mapping[str, Any]) -> Slot:
    length = told.get("length", ())
    return Slot(
        name=name,
        hows=frozenset(told.get("as", ("whole", "paired", "digits"))),
        low=float(told.get("from", 0)),
        high=float(told.get("to", 10**18)),
        step=float(told.get("step", 0)),
        values=frozenset(map(float, told.get("values", ()))),
        lengths=frozenset(map(int, (length,) if isinstance(length, str) else length)),
        parts=frozenset(told.get("parts", ())),
        within="within" in told,
        decimals=int(told.get("decimals", 0)),
    )
