"""What a check found, what a copy of the shop holds, and what came of putting one back."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from diaryidx.terminal.lines import print_line

if TYPE_CHECKING:
    from diaryidx.checking import Finding
    from diaryidx.copies import Held, PutBack
    from diaryidx.shop import Shop


def show_findings(findings: Sequence[Finding]) -> None:
    """What was looked at, and what must be done."""
    for finding in findings:
        print_line(f"{'ok  ' if finding.sound else 'MEND'}  {finding.about}: {finding.text}")
    bad = sum(not finding.sound for finding in findings)
    print_line("Everything is sound." if bad == 0 else f"{bad} thing{'s' if bad != 1 else ''} to mend.")


def show_copy(file: Path, held: Held, shop: Shop) -> None:
    """What a copy holds, and what it does not."""
    counted = ((held.count("photos"), "photo"), (held.count("recordings"), "voice note"))
    beside = [f"{count} {what}{'' if count == 1 else 's'}" for count, what in counted]
    single = sorted(name for name in held.files if "/" not in name and name != "shop.db")
    print_line(f"{file} holds the database, {', '.join([*beside, *single])}, and is sound.")
    print_line(f"Films are not in it: copy {shop.recordings} as you copy any files.")
    if (
        shop.watches_job_book
        and not any(name.endswith(shop.job_book.name) for name in held.files)
        and shop.job_book.is_file()
    ):
        print_line(
            f"Nor is the job book {shop.job_book}, which lies elsewhere; what was read from it is in the database."
        )


def show_put_back(file: Path, done: PutBack) -> None:
    """What was put back, and where what it replaced lies."""
    others = len(done.files) - ("shop.db" in done.files)
    print_line(f"Put back from {file}: the database" + (f" and {others} files." if others > 1 else
               f" and {next(name for name in done.files if name != 'shop.db')}." if others else "."))  # fmt: skip
    for place in done.kept:
        print_line(f"What was there before is kept as {place}.")
    print_line("Run `diaryidx index` to take in what changed since.")
