"""How well and how fast talk is understood: `python -m tests.bench.bench_language [SET.yaml] [--misses]`.

Prints spans by label (spaCy's own Scorer), whole statements (every slot right), status, and speed against the baseline
that does least: spaCy's blank English tokenizer alone, in the same run.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path
from typing import Any

from tests.language.checkable_set import Case, StatementScore, load_set, read_case, shown, slots_of

WORKING_SET = Path(__file__).parent.parent / "language" / "working_set.yaml"


def main(arguments: list[str]) -> None:
    """Score a set and print the tables."""
    paths = [Path(argument) for argument in arguments if not argument.startswith("-")] or [WORKING_SET]
    begun = time.perf_counter()
    import spacy

    imported = time.perf_counter()
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.vocabulary import load_vocabulary

    vocabulary = load_vocabulary()
    nlp = build_pipeline(vocabulary)
    built = time.perf_counter()
    print(f"start-up: import spaCy {imported - begun:.2f} s, vocabulary and pipeline {built - imported:.2f} s")
    for path in paths:
        cases = load_set(path)
        print(f"\n{path.name}: {len(cases)} sentences")
        score_statements(nlp, vocabulary, cases, "--misses" in arguments)
        score_spans(nlp, vocabulary, cases, "--misses" in arguments)
    measure_speed(nlp, spacy.blank("en"), [case.text for path in paths for case in load_set(path)])


def score_statements(nlp: Any, vocabulary: Any, cases: list[Case], misses: bool) -> StatementScore:
    """Whole statements and status over a set."""
    score = StatementScore()
    for case in cases:
        made = [slots_of(one) for one in read_case(nlp, vocabulary, case)[0]]
        if not score.add(case.means, made) and misses:
            print(f"\n  {' / '.join([*case.after, case.text])}")
            for one in case.means:
                print(f"    {'=' if one in made else '-'} {shown(one)}")
            for one in made:
                if one not in case.means:
                    print(f"    + {shown(one)}")
    print(
        f"whole statements: precision {score.precision:.3f}, recall {score.recall:.3f}, F1 {score.f1:.3f}; "
        f"status {score.status_right}/{score.status_of}; sentences all right {score.sentences_right}/{score.sentences}"
    )
    return score


def score_spans(nlp: Any, vocabulary: Any, cases: list[Case], misses: bool) -> dict[str, Any]:
    """Spans by label with spaCy's Scorer, over the cases that are marked for spans."""
    from spacy.scorer import Scorer
    from spacy.tokens import Doc, Span
    from spacy.training import Example

    examples = []
    for case in cases:
        if case.spans is None:
            continue
        found = {(one.start, one.end, str(one.label)) for one in read_case(nlp, vocabulary, case)[1]}
        if misses and found != set(case.spans):
            lost = [f"-{case.text[a:b]} {label}" for a, b, label in sorted(set(case.spans) - found)]
            more = [f"+{case.text[a:b]} {label}" for a, b, label in sorted(found - set(case.spans))]
            print(f"    spans: {case.text}   {'; '.join([*lost, *more])}")
        docs = []
        for spans in (found, case.spans):
            doc = Doc(nlp.vocab, words=list(case.text), spaces=[False] * len(case.text))  # one token per character
            doc.spans["sc"] = [Span(doc, start, end, label=label) for start, end, label in spans]
            docs.append(doc)
        examples.append(Example(docs[0], docs[1]))
    scores = Scorer.score_spans(examples, "spans_sc", getter=lambda doc, _: doc.spans["sc"], allow_overlap=True)
    per_type = scores["spans_sc_per_type"]
    table = ", ".join(f"{label} {values['f']:.2f}" for label, values in sorted(per_type.items()))
    print(f"spans: F1 {scores['spans_sc_f']:.3f} ({table})")
    return scores


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
