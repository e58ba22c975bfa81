"""Spoken numbers as workshop people say them: how many are read right, for the half worked on and the half reported.

    python -m tests.bench.hearing_numbers [--misses]     the misses of the working half only

A value is right when a quantity that shares words with it has its kind, its value and its unit. A sentence is right
when all its values are and nothing else is read in it; sentences with words that only look like numbers are among them.
Counts of things ("quantity") and other plain numbers ("number") are one kind here, since what is counted is told by the
parts found beside them; so are measures of what the sets do not name (miles, amps, teeth), whose figures count there.
Intervals are Wilson's (1927, "Probable inference, the law of succession, and statistical inference", JASA 22), 95 %.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from diaryidx.language.dates import resolve
from diaryidx.transcript.numbers import Quantity, hyphens_in, read_quantities
from diaryidx.vocabulary.spoken_words import split_words

SETS = Path(__file__).parents[1] / "transcript"
HALVES = {"working": "spoken_numbers_working.yaml", "report": "spoken_numbers_report.yaml"}
_KINDS = {
    "tyre size": "tyre", "number": "quantity", "count": "quantity", "rotation": "quantity", "angle": "quantity",
    "share": "quantity", "chain size": "quantity", "distance": "quantity", "speed": "quantity", "mass": "quantity",
    "power": "quantity", "electricity": "quantity", "force": "quantity",
}  # fmt: skip
_SYMBOLS = {
    "newton metre": "N m", "foot pound": "lbf ft", "inch pound": "lbf in", "millimetre": "mm", "centimetre": "cm",
    "metre": "m", "inch": "in", "foot": "ft", "psi": "psi", "bar": "bar", "litre": "l", "millilitre": "ml",
    "cubic centimetre": "cc", "volt": "V", "degree Celsius": "°C", "degree Fahrenheit": "°F", "kilogram": "kg",
    "pint": "pt", "amp": "A", "mile": "mi", "kilometre": "km",
}  # fmt: skip
_PERIODS = {"day": "P{}D", "week": "P{}W", "month": "P{}M", "year": "P{}Y"}
_SECONDS = {"second": 1, "minute": 60, "hour": 3600}


@dataclass(slots=True)
class Score:
    """What was read of one half: right and total for each kind, for all values and for whole sentences."""

    right: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    total: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    misses: list[str] = field(default_factory=list)

    def add(self, name: str, right: bool) -> None:
        """Count one."""
        self.right[name] += right
        self.total[name] += 1


def score(half: str) -> Score:
    """Read one half and compare."""
    result = Score()
    for item in yaml.safe_load((SETS / HALVES[half]).read_text(encoding="utf-8")):
        _score_item(item, result)
    return result


def _score_item(item: dict[str, Any], result: Score) -> None:
    text = item["text"]
    words = split_words(text)
    found = read_quantities([word.word for word in words], hyphens=hyphens_in(text, words))
    unused, at, all_right = list(found), 0, True
    for value in item["values"]:
        start = text.index(value["words"], at)
        at = start + len(value["words"])
        same = [one for one in unused if words[one.start].start < at and start < words[one.end - 1].end]
        right = any(_same(one, value, item.get("said_on")) for one in same)
        unused = [one for one in unused if one not in same]
        result.add(_KINDS.get(value["kind"], value["kind"]), right)
        result.add("all values", right)
        all_right = all_right and right
    result.add("whole sentences", all_right and not unused)
    if not item["values"]:
        result.add("sentences without a number, nothing read", not unused)
    if not all_right or unused:
        result.misses.append(f"{item['id']} {text}\n      " + "\n      ".join(map(_shown, found)))


def _shown(one: Quantity) -> str:
    return f"{one.kind} {one.value} ({one.form})"


def _same(one: Quantity, value: dict[str, Any], said_on: str | None) -> bool:
    kind = _KINDS.get(one.kind, one.kind)
    expected = _KINDS.get(value["kind"], value["kind"])
    if kind != expected and not (expected == "length" and one.kind == "thread size"):
        return False
    return any(_equal(got, value["value"]) and unit == value.get("unit") for got, unit in _as_written(one, said_on))


def _equal(got: object, wanted: object) -> bool:
    if isinstance(got, float) and isinstance(wanted, int | float):
        return math.isclose(got, wanted, abs_tol=1e-6)
    return str(got) == str(wanted)


def _as_written(one: Quantity, said_on: str | None) -> Iterator[tuple[object, str | None]]:
    """The value and unit in the writing of the sets."""
    value = one.value
    if one.kind == "money":
        yield value["amount"], value["currency"]
    elif one.kind == "date":
        yield resolve(value, said_on), None
    elif one.kind == "thread size":
        yield float(one.canonical[1:].split(" ")[0]), "mm"
    elif one.kind == "duration":
        yield _period(value["amount"], value["unit"]), None
    elif value.get("unit") == "thou":
        yield value["amount"] / 1000, "in"
    else:
        got = next(value[key] for key in ("size", "code", "number", "year", "time", "amount") if key in value)
        yield got, _SYMBOLS.get(value.get("unit", ""))
        if one.kind in _KINDS:
            yield got, None


def _period(amount: float, unit: str) -> str:
    """ISO 8601: "PT1H30M", "P3W"."""
    if unit in _PERIODS and amount == int(amount):
        return _PERIODS[unit].format(int(amount))
    if unit in ("day", "year") and amount * 12 == int(amount * 12):
        return (
            f"P{int(amount)}D" + f"T{amount % 1 * 24:g}H" if unit == "day" else f"P{int(amount)}Y{amount % 1 * 12:g}M"
        )
    if unit == "fortnight":
        return f"P{2 * amount:g}W"
    seconds = round(amount * _SECONDS.get(unit, 86_400 if unit == "day" else 1))
    hours, rest = divmod(seconds, 3600)
    minutes, rest = divmod(rest, 60)
    parts = [f"{count}{name}" for count, name in ((hours, "H"), (minutes, "M"), (rest, "S")) if count]
    return f"PT{''.join(parts)}"


def interval(right: int, total: int) -> tuple[float, float]:
    """Wilson's 95 % interval, in percent."""
    if not total:
        return 0.0, 100.0
    z, share = 1.959964, right / total
    middle = (share + z * z / (2 * total)) / (1 + z * z / total)
    half = z * math.sqrt(share * (1 - share) / total + z * z / (4 * total * total)) / (1 + z * z / total)
    return 100 * (middle - half), 100 * (middle + half)


def table() -> str:
    """Right and total per kind, with 95 % intervals, for both halves, as a Markdown table."""
    scores = {half: score(half) for half in HALVES}
    last = ["all values", "sentences without a number, nothing read", "whole sentences"]
    kinds = sorted({kind for one in scores.values() for kind in one.total} - set(last))
    rows = ["| spoken numbers | " + " | ".join(scores) + " |", "| --- |" + " --- |" * len(scores)]
    for kind in [*kinds, *last]:
        cells = [_cell(one.right[kind], one.total[kind]) for one in scores.values()]
        rows.append(f"| {kind} | " + " | ".join(cells) + " |")
    return "\n".join(rows)


def _cell(right: int, total: int) -> str:
    if not total:
        return "-"
    low, high = interval(right, total)
    return f"{right} of {total} ({100 * right / total:.1f} %, {low:.0f}-{high:.0f})"


if __name__ == "__main__":
    print(table())
    if "--misses" in sys.argv:
        print("\n".join(score("working").misses))
