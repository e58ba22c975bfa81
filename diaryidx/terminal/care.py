"""What a check found."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from diaryidx.terminal.lines import print_line

if TYPE_CHECKING:
    from diaryidx.checking import Finding


def show_findings(findings: Sequence[Finding]) -> None:
    """What was looked at, and what must be done."""
    for finding in findings:
        print_line(f"{'ok  ' if finding.sound else 'MEND'}  {finding.about}: {finding.text}")
    bad = sum(not finding.sound for finding in findings)
    print_line("Everything is sound." if bad == 0 else f"{bad} thing{'s' if bad != 1 else ''} to mend.")
