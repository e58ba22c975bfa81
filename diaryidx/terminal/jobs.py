"""The job book: its builds, what an import did, what no film said."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click
from rich.markup import escape

from diaryidx.faq.reply import shortened
from diaryidx.records import Build
from diaryidx.terminal.lines import complain, out, print_line, table_of
from diaryidx.wording import clock

if TYPE_CHECKING:
    from diaryidx.builds.gaps import Evidence, Gaps, Waiting
    from diaryidx.builds.job_book import JobBook
    from diaryidx.builds.job_import import ImportPlan

#: New and changed jobs that an import shows one by one (our own choice).
MOST_SHOWN = 40


def show_builds(builds: Sequence[Build]) -> None:
    """The job book as a table."""
    if not builds:
        print_line("The job book is empty; bring one in with `diaryidx jobs import FILE`.")
        return
    table = table_of("job", "bike", "registration", "state", "promised", "asked for")
    for build in builds:
        cells = (build.name, build.registration, build.state, build.promised, build.asked_for)
        table.add_row(build.job_number, *(escape(cell or "") for cell in cells))
    out.print(table)


def show_columns(book: JobBook) -> None:
    """Which column fills which field, and the columns that fill none."""
    for field, heading in book.columns.items():
        print_line(f"  {field.replace('_', ' ')}: from column “{heading}”")
    unused = [heading for heading in book.headings if heading and heading not in book.columns.values()]
    if unused:
        print_line(f"  not used: {', '.join(f'“{heading}”' for heading in unused)}")


def ask_columns(book: JobBook) -> list[str] | None:
    """Show the columns as guessed and let a person settle them.

    :returns: what to change, as ``FIELD=COLUMN``; nothing where they are right as they are, None to stop.
    """
    print_line("The columns are taken so:")
    show_columns(book)
    answer = click.prompt(
        "Enter takes them; FIELD=COLUMN changes one, FIELD= leaves one out, q stops", default="", show_default=False
    ).strip()
    return None if answer.lower() in ("q", "quit", "stop") else [answer] if answer else []


def show_import(plan: ImportPlan, file: Path, *, written: bool) -> None:
    """What an import did or would do: new jobs, each changed field, and the rows it could not take."""
    book = plan.book
    counts = f"{len(plan.new)} new, {len(plan.changed)} changed, {plan.unchanged} unchanged"
    print_line(f"{file.name}: {counts}{'' if written else '; nothing was written'}.")
    if not written:
        show_columns(book)
    for change in plan.new[:MOST_SHOWN]:
        print_line(f"  new: job {change.build.job_number} (line {change.line}), {change.build.name}")
    for change in plan.changed[:MOST_SHOWN]:
        print_line(f"  job {change.build.job_number} (line {change.line})")
        for one in change.changes:
            print_line(f"    {one.field.replace('_', ' ')}: {_cell(one.old)} -> {_cell(one.new)}")
    if (rest := max(0, len(plan.new) - MOST_SHOWN) + max(0, len(plan.changed) - MOST_SHOWN)) > 0:
        print_line(f"  and {rest} more; --json shows all")
    for line in (*book.problems, *book.warnings):
        complain(f"{file.name}, {line}")


def _cell(value: object) -> str:
    """A field of a job as a person reads it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "nothing" if value is None else f"“{value}”"


def show_gaps(found: Gaps) -> None:
    """What somebody should look after, in sections, each with its evidence."""
    sections: tuple[tuple[str, list[tuple[str, Sequence[Evidence]]]], ...] = (
        ("Not in the last diaries", [
            (f"{_bike(one.build)}: left out of {one.diaries} in a row", [one.last] if one.last else [])
            for one in found.left_out
        ]),
        ("Waiting longest", [
            (f"{_bike(one.build)}: {one.what}{f', on {one.on}' if one.on else ''}, {_since(one)}", one.evidence)
            for one in found.waiting
        ]),
        ("Bikes that are not in the job book", [
            (f"{one.title}: {one.why}", one.evidence) for one in found.unknown_bikes
        ]),
        ("Finished in the job book, spoken of as open", [
            (f"{_bike(one.build)}: {one.book}", one.evidence) for one in found.finished_but_open
        ]),
        ("Still here in the job book, spoken of as finished", [
            (f"{_bike(one.build)}: {one.book}", one.evidence) for one in found.open_but_finished
        ]),
    )  # fmt: skip
    shown = [(heading, lines) for heading, lines in sections if lines]
    for place, (heading, lines) in enumerate(shown):
        print_line(f"{chr(10) if place else ''}{heading}")
        for text, evidence in lines:
            print_line(f"  {text}")
            for one in evidence:
                film = f"{one.title or one.recording}, {clock(one.start)}"
                source = film if one.note is None else f"note {one.note}"
                source += "".join(f", also {other.title}, {clock(other.start)}" for other in one.also)
                print_line(f"    {one.date or 'no date'}  {source}: “{shortened(one.text)}”")
    if not shown:
        print_line("Nothing is missing: every bike here was in the last diaries, and job book and films agree.")


def _since(waiting: Waiting) -> str:
    if waiting.days is None:
        return f"since {waiting.since or 'an unknown day'}"
    return f"since {waiting.since}, {waiting.days} day{'' if waiting.days == 1 else 's'}"


def _bike(build: Build) -> str:
    return f"job {build.job_number} ({build.name})"
