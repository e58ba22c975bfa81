"""Measures made of counts, with 95 % bootstrap intervals, and their table.

A measure is a sum of numerators over a sum of denominators; every unit (a topic of a film, a customer's question)
gives one pair. Units are drawn again with replacement (percentile bootstrap: Efron and Tibshirani, *An Introduction
to the Bootstrap*, 1993, chapter 13), because errors of one topic hang together. The seed is fixed. Where every unit
is all right or all wrong, drawing again tells nothing, and no interval is given.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

DRAWS, SEED = 2000, 20240601


@dataclass
class Measure:
    """One row of the table in one column. ``counts`` holds numerator and denominator of each unit."""

    step: str
    name: str
    counts: dict[str, list[float]] = field(default_factory=lambda: defaultdict(lambda: [0.0, 0.0]))

    def add(self, unit: str, right: float, of: float = 1.0) -> None:
        """Count so much right of so many."""
        self.counts[unit][0] += right
        self.counts[unit][1] += of

    @property
    def right(self) -> float:
        """The sum of the numerators."""
        return sum(right for right, _ in self.counts.values())

    @property
    def of(self) -> float:
        """The sum of the denominators."""
        return sum(of for _, of in self.counts.values())

    @property
    def value(self) -> float | None:
        """The measure, or None where there is nothing to measure."""
        return self.right / self.of if self.of else None

    def interval(self) -> tuple[float, float] | None:
        """The 95 % interval, or None where there is nothing to measure or all units agree."""
        if not self.of:
            return None
        counts = np.array([self.counts[unit] for unit in sorted(self.counts)])
        drawn = np.random.default_rng(SEED).integers(0, len(counts), (DRAWS, len(counts)))
        sums = counts[drawn].sum(axis=1)
        sums = sums[sums[:, 1] > 0]
        low, high = np.percentile(sums[:, 0] / sums[:, 1], [2.5, 97.5])
        return (float(low), float(high)) if low < high else None


@dataclass
class Sheet:
    """All that one column of the table was scored: its measures in order, and what was missed or wrong, by kind."""

    measures: dict[tuple[str, str], Measure] = field(default_factory=dict)
    errors: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))

    def measure(self, step: str, name: str) -> Measure:
        """The measure of this name; made where it is new."""
        return self.measures.setdefault((step, name), Measure(step, name))

    def f1(self, step: str, name: str, unit: str, counts: tuple[float, float, float]) -> None:
        """Count true positives, false positives and false negatives into precision, recall and F1."""
        right, too_many, missed = counts
        self.measure(step, f"{name}: precision").add(unit, right, right + too_many)
        self.measure(step, f"{name}: recall").add(unit, right, right + missed)
        self.measure(step, f"{name}: F1").add(unit, 2 * right, 2 * right + too_many + missed)

    def as_json(self) -> list[dict[str, object]]:
        """The measures as plain data."""
        return [
            {"step": one.step, "name": one.name, "value": one.value, "interval": one.interval(), "of": one.of}
            for one in self.measures.values()
        ]


def table(sheets: Mapping[str, Sheet]) -> str:
    """The measures as a Markdown table, one column a sheet: value, interval, and out of how many."""
    rows = list(dict.fromkeys(key for sheet in sheets.values() for key in sheet.measures))
    lines = [["step", "measure", *sheets], ["---", "---", *("---" for _ in sheets)]]
    lines += [
        [step, name, *(_cell(sheet.measures.get((step, name))) for sheet in sheets.values())] for step, name in rows
    ]
    return _aligned(lines)


def _cell(measure: Measure | None) -> str:
    if measure is None or measure.value is None:
        return "-"
    interval = measure.interval()
    around = f" ({100 * interval[0]:.0f}-{100 * interval[1]:.0f})" if interval else ""
    return f"{100 * measure.value:.1f}{around} of {measure.of:.0f}"


def _aligned(lines: Sequence[Sequence[str]]) -> str:
    widths = [max(len(line[column]) for line in lines) for column in range(len(lines[0]))]
    return "\n".join(
        "| " + " | ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) + " |" for line in lines
    )
