"""How well and how fast talk is understood: `python -m tests.bench.bench_language [SET.yaml] [--misses]`.

Prints spans by label (spaCy's own Scorer), whole statements (every slot right), status, and speed against the baseline
that does least: spaCy's blank English tokenizer alone, in the same run. Ranges are 95 % percentile bootstrap intervals
over the items (Efron 1979, "Bootstrap methods: another look at the jackknife"). The report set's misses are not shown:
rules are not to be tuned on it.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

from tests.language.checkable_set import Case, StatementScore, load_set, paired, read_case, shown, slots_of
from tests.language.report_set import (
    REPORT_SLOTS,
    Normaliser,
    is_report_set,
    joined_finishes,
    load_report_set,
    pipeline_for,
    without_implied_tasks,
)

WORKING_SET = Path(__file__).parent.parent / "language" / "working_set.yaml"
DRAWS = 1000
SEED = 5


def main(arguments: list[str]) -> None:
    """Score sets and print the tables."""
    paths = [Path(argument) for argument in arguments if not argument.startswith("-")] or [WORKING_SET]
    misses = "--misses" in arguments
    if misses and any(is_report_set(path) for path in paths):
        sys.exit("the report set is for reporting only: its misses are not listed; leave --misses out")
    begun = time.perf_counter()
    import spacy

    imported = time.perf_counter()
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.vocabulary import load_vocabulary

    vocabulary = load_vocabulary()
    nlp = build_pipeline(vocabulary)
    built = time.perf_counter()
    print(f"start-up: import spaCy {imported - begun:.2f} s, vocabulary and pipeline {built - imported:.2f} s")
    texts: list[str] = []
    for path in paths:
        texts += score_set(path, misses)
    measure_speed(nlp, spacy.blank("en"), texts)


def score_set(path: Path, misses: bool) -> list[str]:
    """Score one set of either format; returns its texts."""
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.vocabulary import load_vocabulary

    report = is_report_set(path)
    if report:
        nlp, vocabulary = pipeline_for(path)
        cases = load_report_set(path)
        alike = cache(Normaliser(nlp, vocabulary))
    else:
        vocabulary = load_vocabulary()
        nlp = build_pipeline(vocabulary)
        cases = load_set(path)
    print(f"\n{path.name}: {len(cases)} items, {sum(len(case.means) for case in cases)} statements")
    made, found, wanted = [], [], []
    for case in cases:
        statements, mentions = read_case(nlp, vocabulary, case)
        statements = without_implied_tasks(statements, mentions) if report else statements
        slots = [slots_of(one, REPORT_SLOTS) if report else slots_of(one) for one in statements]
        made.append([alike(one, case.said_on) for one in slots] if report else slots)
        wanted.append([alike(one, case.said_on) for one in case.means] if report else list(case.means))
        spans = {(one.start, one.end, str(one.label)) for one in mentions}
        found.append(joined_finishes(case.text, spans) if report else spans)
    if misses:
        _print_misses(cases, wanted, made, found)
    _print_statements(wanted, made)
    _print_slots(wanted, made)
    _print_spans(nlp, cases, found)
    return [case.text for case in cases]


def _print_misses(cases: list[Case], wanted: list[Any], made: list[Any], found: list[Any]) -> None:
    for case, means, got, spans in zip(cases, wanted, made, found, strict=True):
        if sorted(means) != sorted(got):
            print(f"\n  {' / '.join([*case.after, case.text])}")
            for one in means:
                print(f"    {'=' if one in got else '-'} {shown(one)}")
            for one in got:
                if one not in means:
                    print(f"    + {shown(one)}")
        if case.spans is not None and spans != set(case.spans):
            lost = [f"-{case.text[a:b]} {label}" for a, b, label in sorted(set(case.spans) - spans)]
            more = [f"+{case.text[a:b]} {label}" for a, b, label in sorted(spans - set(case.spans))]
            print(f"    spans: {case.text}   {'; '.join([*lost, *more])}")


def _print_statements(wanted: list[Any], made: list[Any]) -> None:
    """Whole statements, and status of those whose part and side are found."""
    each = []
    for means, got in zip(wanted, made, strict=True):
        each.append(StatementScore())
        each[-1].add(means, got)
    total = _summed(each)
    print(
        f"whole statements: precision {_ranged(each, lambda one: one.precision)}, "
        f"recall {_ranged(each, lambda one: one.recall)}, F1 {_ranged(each, lambda one: one.f1)}"
    )
    print(
        f"status: {_ranged(each, lambda one: one.status_right / max(one.status_of, 1))}, "
        f"{total.status_right} of {total.status_of} matched statements ({total.wanted} wanted, {total.made} made); "
        f"items all right {total.sentences_right} of {total.sentences}"
    )


def _print_slots(wanted: list[Any], made: list[Any]) -> None:
    """Slot by slot, over statements paired by part, task or finish: which were lost, added or other than wanted."""
    errors: Counter[tuple[str, str]] = Counter()
    lost = added = pairs = 0
    for means, got in zip(wanted, made, strict=True):
        matched = paired(means, got)
        pairs, lost, added = pairs + len(matched), lost + len(means) - len(matched), added + len(got) - len(matched)
        for want, have in matched:
            for slot in REPORT_SLOTS:
                if want.get(slot) != have.get(slot):
                    errors[slot, "lost" if slot not in have else "added" if slot not in want else "other"] += 1
    print(f"slots of {pairs} paired statements ({lost} more wanted, {added} more made):")
    for slot in REPORT_SLOTS:
        counts = [f"{errors[slot, kind]} {kind}" for kind in ("other", "lost", "added") if errors[slot, kind]]
        if counts:
            print(f"  {slot:10} {', '.join(counts)}")


def _summed(scores: Sequence[StatementScore]) -> StatementScore:
    total = StatementScore()
    for one in scores:
        for name in vars(total):
            setattr(total, name, getattr(total, name) + getattr(one, name))
    return total


def _ranged(each: Sequence[StatementScore], measure: Callable[[StatementScore], float]) -> str:
    """A measure over all items with its bootstrap interval."""
    draw = random.Random(SEED)
    drawn = sorted(measure(_summed(draw.choices(each, k=len(each)))) for _ in range(DRAWS))
    low, high = drawn[int(0.025 * DRAWS)], drawn[int(0.975 * DRAWS) - 1]
    return f"{measure(_summed(each)):.3f} ({low:.3f} to {high:.3f})"


def _print_spans(nlp: Any, cases: list[Case], found: list[set[tuple[int, int, str]]]) -> None:
    """Spans by label with spaCy's Scorer, over the cases that are marked for spans."""
    from spacy.scorer import Scorer
    from spacy.tokens import Doc, Span
    from spacy.training import Example

    examples, counts = [], []
    for case, got in zip(cases, found, strict=True):
        if case.spans is None:
            continue
        docs = []
        for spans in (got, case.spans):
            doc = Doc(nlp.vocab, words=list(case.text), spaces=[False] * len(case.text))  # one token per character
            doc.spans["sc"] = [Span(doc, start, end, label=label) for start, end, label in spans]
            docs.append(doc)
        examples.append(Example(docs[0], docs[1]))
        same = len(got & set(case.spans))
        counts.append(StatementScore(right=same, made=len(got), wanted=len(set(case.spans))))
    scores = Scorer.score_spans(examples, "spans_sc", getter=lambda doc, _: doc.spans["sc"], allow_overlap=True)
    per_type = scores["spans_sc_per_type"]
    table = ", ".join(f"{label} {values['f']:.2f}" for label, values in sorted(per_type.items()))
    print(f"spans: F1 {_ranged(counts, lambda one: one.f1)}, by spaCy's Scorer {scores['spans_sc_f']:.3f} ({table})")


def measure_speed(nlp: Any, baseline: Any, texts: list[str]) -> None:
    """Words a second, of the whole pipeline and of the baseline, side by side."""
    texts = (texts * (20_000 // max(len(texts), 1) + 1))[:4000]
    words = sum(len(text.split()) for text in texts)
    rates = []
    for pipeline in (baseline, nlp):
        pipeline(texts[0])
        begun = time.perf_counter()
        for text in texts:
            pipeline(text)
        rates.append(words / (time.perf_counter() - begun))
    print(
        f"\nspeed: {rates[1]:,.0f} words a second on one core; the blank tokenizer alone {rates[0]:,.0f} "
        f"({rates[0] / rates[1]:.1f} times as fast)"
    )


if __name__ == "__main__":
    main(sys.argv[1:])
