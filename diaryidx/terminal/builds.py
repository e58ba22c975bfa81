"""Builds that a description fits, and developments."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.faq.reply import shortened
from diaryidx.records import Candidate, Development
from diaryidx.terminal.lines import print_line
from diaryidx.wording import clock


def show_candidates(candidates: Sequence[Candidate]) -> None:
    """The builds that a description fits."""
    print_line("That fits several bikes; name one by its job number:")
    for candidate in candidates:
        print_line(f"  {candidate.job_number:>8}  {candidate.why}")


def show_developments(developments: Sequence[Development]) -> None:
    """Each development with its thread, oldest first."""
    if not developments:
        print_line("No film tells of a development yet; name yours in words.yaml, under developments.")
    for place, one in enumerate(developments):
        print_line(f"{chr(10) if place else ''}{one.name}: {one.state or 'how far it is was not said'}")
        for moment in one.thread:
            where = f"{moment.date or 'no date'}  {moment.title}, {clock(moment.start)}"
            state = f"  [{moment.state}]" if moment.state else ""
            print_line(f"  {where}{f', with job {moment.build}' if moment.build else ''}{state}")
            print_line(f"    “{shortened(moment.text)}”")
