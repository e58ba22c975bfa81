"""Scores of talk as it is understood against how it is annotated: spans by spaCy's Scorer, status, whole statements.

Ranges are 95 % percentile bootstrap intervals over the items (Efron 1979, "Bootstrap methods: another look at the
jackknife").
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from tests.language.checkable_set import Case, StatementScore, load_set, read_case, slots_of
from tests.language.report_set import (
    REPORT_SLOTS,
    Normaliser,
    is_report_set,
    joined_finishes,
    load_report_set,
    pipeline_for,
    without_implied_tasks,
)

DRAWS = 1000
SEED = 5
Spans = set[tuple[int, int, str]]


@dataclass(frozen=True)
class GoldSet:
    """A set of annotated talk with the pipeline of the shop that it speaks of."""

    path: Path
    report: bool
    cases: list[Case]
    nlp: Any
    vocabulary: Any


@dataclass(frozen=True)
class Understood:
    """What was made of a set, item by item, beside what is wanted."""

    wanted: list[Any]
    made: list[Any]
    wanted_spans: list[Spans | None]
    made_spans: list[Spans]


def load_gold(path: Path) -> GoldSet:
    """Read a set of either format."""
    if is_report_set(path):
        nlp, vocabulary = pipeline_for(path)
        return GoldSet(path, True, load_report_set(path), nlp, vocabulary)
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.vocabulary import load_vocabulary

    vocabulary = load_vocabulary()
    return GoldSet(path, False, load_set(path), build_pipeline(vocabulary), vocabulary)


def understand(
    gold: GoldSet, cases: Sequence[Case], nlp: Any = None, read: Callable[..., tuple[list[Any], list[Any]]] = read_case
) -> Understood:
    """Read every item, and bring both sides to one form.

    :param cases: the items as heard; their meaning is that of the gold set.
    :param nlp: the pipeline, the gold set's own if none.
    :param read: what reads one item.
    """
    nlp = nlp or gold.nlp
    alike = cache(Normaliser(gold.nlp, gold.vocabulary))
    told = Understood([], [], [None if case.spans is None else set(case.spans) for case in cases], [])
    used = {slot for case in cases for statement in case.means for slot, _ in statement}
    compared = tuple(slot for slot in REPORT_SLOTS if slot in used or slot != "quantity")  # some sets leave it out
    for case in cases:
        statements, mentions = read(nlp, gold.vocabulary, case)
        spans = {(one.start, one.end, str(one.label)) for one in mentions}
        if gold.report:
            statements = without_implied_tasks(statements, mentions)
            spans = joined_finishes(case.text, spans)
        slots = [slots_of(one, compared) if gold.report else slots_of(one) for one in statements]
        told.made.append([alike(one, case.said_on) for one in slots] if gold.report else slots)
        told.wanted.append([alike(one, case.said_on) for one in case.means] if gold.report else list(case.means))
        told.made_spans.append(spans)
    return told


# --- measures --------------------------------------------------------------------------------------------------------


def statement_counts(told: Understood) -> list[StatementScore]:
    """Counts of each item."""
    counts = []
    for means, got in zip(told.wanted, told.made, strict=True):
        counts.append(StatementScore())
        counts[-1].add(means, got)
    return counts


def whole_f1(counts: Sequence[StatementScore]) -> str:
    """F1 of whole statements, every slot right, with its range."""
    return _ranged([[one.right, one.made, one.wanted] for one in counts], _f1)


def precision_and_recall(counts: Sequence[StatementScore]) -> str:
    """Precision and recall of whole statements, each with its range."""
    rows = [[one.right, one.made, one.wanted] for one in counts]
    precision = _ranged(rows, lambda sums: sums[:, 0] / np.maximum(sums[:, 1], 1))
    return f"precision {precision}, recall {_ranged(rows, lambda sums: sums[:, 0] / np.maximum(sums[:, 2], 1))}"


def status_accuracy(counts: Sequence[StatementScore]) -> str:
    """How often the status is right, of the statements matched by part and side, with its range."""
    rows = [[one.status_right, one.status_of] for one in counts]
    return _ranged(rows, lambda sums: sums[:, 0] / np.maximum(sums[:, 1], 1))


def span_scores(nlp: Any, told: Understood, texts: Sequence[str]) -> tuple[float, dict[str, float], str]:
    """F1 of spans overall and per label by spaCy's own Scorer, and overall with its range by counting."""
    from spacy.scorer import Scorer
    from spacy.tokens import Doc, Span
    from spacy.training import Example

    examples, rows = [], []
    for text, got, wanted in zip(texts, told.made_spans, told.wanted_spans, strict=True):
        if wanted is None:
            continue
        longest = max([len(text), *(end for _, end, _ in wanted)])
        docs = []
        for spans in (got, wanted):  # one token per character; spans beyond the text are of words that were lost
            doc = Doc(nlp.vocab, words=list(text.ljust(longest, "_")), spaces=[False] * longest)
            doc.spans["sc"] = [Span(doc, start, end, label=label) for start, end, label in spans]
            docs.append(doc)
        examples.append(Example(docs[0], docs[1]))
        rows.append([len(got & wanted), len(got), len(wanted)])
    scores = Scorer.score_spans(examples, "spans_sc", getter=lambda doc, _: doc.spans["sc"], allow_overlap=True)
    labels = {label: float(values["f"]) for label, values in sorted(scores["spans_sc_per_type"].items())}
    return float(scores["spans_sc_f"]), labels, _ranged(rows, _f1)


def _f1(sums: Any) -> Any:
    return 2 * sums[:, 0] / np.maximum(sums[:, 1] + sums[:, 2], 1)


def _ranged(rows: Sequence[Sequence[int]], measure: Callable[[Any], Any]) -> str:
    """A measure of the sums over all items, with its bootstrap interval."""
    counts = np.array(rows, dtype=float)
    drawn = np.random.default_rng(SEED).integers(0, len(counts), size=(DRAWS, len(counts)))
    low, high = np.percentile(measure(counts[drawn].sum(axis=1)), [2.5, 97.5])
    return f"{measure(counts.sum(axis=0, keepdims=True))[0]:.3f} ({low:.3f}-{high:.3f})"
