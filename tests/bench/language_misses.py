"""What was not understood of a working set, item by item, and slot by slot over any set."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from tests.bench.language_scoring import Understood
from tests.language.checkable_set import Case, paired, shown
from tests.language.report_set import REPORT_SLOTS


def print_misses(cases: Sequence[Case], told: Understood) -> None:
    """Every item that is not wholly right: statements and spans lost and added."""
    for case, means, got, spans in zip(cases, told.wanted, told.made, told.made_spans, strict=True):
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


def print_slots(told: Understood) -> None:
    """Slot by slot, over statements paired by part, task or finish: which were lost, added or other than wanted."""
    errors: Counter[tuple[str, str]] = Counter()
    lost = added = pairs = 0
    for means, got in zip(told.wanted, told.made, strict=True):
        matched = paired(means, got)
        pairs, lost, added = pairs + len(matched), lost + len(means) - len(matched), added + len(got) - len(matched)
        for want, have in matched:
            for slot in REPORT_SLOTS:
                if want.get(slot) != have.get(slot):
                    errors[slot, "lost" if slot not in have else "added" if slot not in want else "other"] += 1
    print(f"slots of {pairs} paired statements ({lost} more wanted, {added} more made), as written:")
    for slot in REPORT_SLOTS:
        counts = [f"{errors[slot, kind]} {kind}" for kind in ("other", "lost", "added") if errors[slot, kind]]
        if counts:
            print(f"  {slot:10} {', '.join(counts)}")
