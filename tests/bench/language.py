"""How well and how fast talk is understood: `python -m tests.bench.language [SET.yaml ...] [--misses] [PART ...]`.

Parts are `sets`, `scopes` and `speed`; all where none is named. Sets are scored as written, as an engine might mishear
them (a tenth of the words, by sound), after the product's repair by sound, and with the help of a statistical parser
where one is installed (`pip install -e '.[bench]'`), beside what issue and README ask for. `--misses` lists what was
not understood, of working sets alone: rules are not to be tuned on the report sets, so those are never shown.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from tests.bench import language_misheard, language_parsed, language_scopes, language_scoring, language_speed
from tests.bench.language_misses import print_misses, print_slots
from tests.bench.language_scoring import GoldSet, Understood
from tests.language.checkable_set import Case, load_set
from tests.language.report_set import is_report_set

FOLDER = Path(__file__).parents[1] / "language"
REPORT_SETS = tuple(FOLDER / "gold" / f"{name}.yaml" for name in ("report", "report_two", "report_three"))
WORKING_SET = FOLDER / "working_set.yaml"
PARTS = ("sets", "scopes", "speed")
ASKED = {"spans F1": "0.95", "status accuracy": "0.93", "whole statements F1": "0.85"}


def main(arguments: list[str]) -> None:
    """Print the tables."""
    paths = [Path(argument) for argument in arguments if argument.endswith(".yaml")]
    misses = "--misses" in arguments
    if misses and (not paths or any(path in REPORT_SETS or path.name.startswith("report") for path in paths)):
        sys.exit("the report sets are for reporting only: their misses are not listed; name a working set")
    chosen = [argument for argument in arguments if argument in PARTS] or ([] if paths else list(PARTS))
    unknown = [one for one in arguments if not one.endswith(".yaml") and one not in (*PARTS, "--misses")]
    if unknown:
        sys.exit(f"'{unknown[0]}' is neither a set nor one of {', '.join(PARTS)}")
    golds = [
        language_scoring.load_gold(path) for path in paths or (REPORT_SETS if {"sets", "scopes"} & set(chosen) else ())
    ]
    if paths or "sets" in chosen:
        for gold in golds:
            score(gold, misses)
    if "scopes" in chosen:
        language_scopes.compare()
        language_scopes.beside_the_report([gold for gold in golds if gold.report])
    if "speed" in chosen:
        language_speed.measure([case.text for case in load_set(WORKING_SET)])


def score(gold: GoldSet, misses: bool) -> None:
    """Print the table of one set."""
    statements = sum(len(case.means) for case in gold.cases)
    print(f"\n{gold.path.name}: {len(gold.cases)} items, {statements} statements")
    told = language_scoring.understand(gold, gold.cases)
    if misses:
        print_misses(gold.cases, told)
    columns = [("as written", gold.cases, told)]
    if is_report_set(gold.path):
        columns += _other_columns(gold)
    rows: dict[str, list[str]] = {}
    for _, cases, one in columns:
        for name, value in _measures(gold, cases, one).items():
            rows.setdefault(name, []).append(value)
    names = [name for name, _, _ in columns]
    print(
        "\n".join(_table(["measure", "asked for", *names], [[name, _asked(name), *row] for name, row in rows.items()]))
    )
    print_slots(told)


def _other_columns(gold: GoldSet) -> list[tuple[str, Sequence[Case], Understood]]:
    heard = language_misheard.misheard(gold)
    mended = language_misheard.repaired(gold, heard)
    columns: list[tuple[str, Sequence[Case], Understood]] = [
        ("misheard", heard, language_scoring.understand(gold, heard)),
        ("misheard, repaired", mended, language_scoring.understand(gold, mended)),
    ]
    if language_parsed.parser() is None:
        print("the small English pipeline is not installed: no column for it")
        return columns
    nlp, read = language_parsed.parsed_pipeline(gold), language_parsed.read_parsed
    return [*columns, ("written, parser helps", gold.cases, language_scoring.understand(gold, gold.cases, nlp, read))]


def _measures(gold: GoldSet, cases: Sequence[Case], told: Understood) -> dict[str, str]:
    counts = language_scoring.statement_counts(told)
    overall, labels, ranged = language_scoring.span_scores(gold.nlp, told, [case.text for case in cases])
    return {
        "word errors": f"{language_misheard.word_errors(gold, cases):.3f}",
        "spans F1": ranged,
        "spans F1 by spaCy's Scorer": f"{overall:.3f}",
        **{f"  {label}": f"{value:.3f}" for label, value in labels.items()},
        "status accuracy": language_scoring.status_accuracy(counts),
        "status of": f"{sum(one.status_right for one in counts)} of {sum(one.status_of for one in counts)}",
        "whole statements F1": language_scoring.whole_f1(counts),
        "whole statements made": str(sum(one.made for one in counts)),
        "items all right": f"{sum(one.sentences_right for one in counts)} of {len(cases)}",
    }


def _asked(name: str) -> str:
    return "0.90" if name.startswith("  ") else ASKED.get(name, "")


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    lines = [head, ["---"] * len(head), *rows]
    widths = [max(len(line[place]) for line in lines if place < len(line)) for place in range(len(head))]
    return [
        "| " + " | ".join(one.ljust(width) for one, width in zip(line, widths, strict=False)) + " |" for line in lines
    ]


if __name__ == "__main__":
    main(sys.argv[1:])
