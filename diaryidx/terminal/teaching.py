"""What was misheard: what a correction changes, whether to do it, what is taught and what may be."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click
from rich.markup import escape
from rich.progress import BarColumn, Progress, TextColumn

from diaryidx.errors import WrongUse
from diaryidx.records import Recording
from diaryidx.terminal.lines import counted, errors, out, print_line, table_of
from diaryidx.wording import clock, how_sure

if TYPE_CHECKING:
    from diaryidx.store.reading import Taught
    from diaryidx.suggesting import Suggestion
    from diaryidx.teaching import Applied, Plan


def show_plan(plan: Plan, films: Mapping[str, Recording]) -> None:
    """Every sentence that a decision changes, before and after, then what a person should know."""
    for change in plan.changes:
        film = films[change.recording]
        print_line(f"{film.title}, {film.date or 'no date'}, {clock(change.before.start)}")
        print_line(f"  before: {change.before.text}")
        print_line(f"  after:  {change.after.text}")
    count, films_changed = len(plan.changes), len({change.recording for change in plan.changes})
    if count:
        print_line(f"{counted(count, 'sentence')} in {counted(films_changed, 'film')}.")
    for warning in plan.warnings:
        print_line(f"Mind: {warning}.")


def agreed(question: str) -> bool:
    """Ask a person at a terminal; anything but yes is no.

    :raises WrongUse: the input is no terminal.
    """
    if not _somebody_there():
        raise WrongUse("nobody is there to ask, so nothing was changed; add --yes to do it")
    return click.confirm(question, default=False)


def _somebody_there() -> bool:
    return sys.stdin.isatty()


@contextmanager
def reading_again(quiet: bool) -> Iterator[Callable[[int, int], None]]:
    """A bar on the error output while films are read again: call it with the film's number and how many there are."""
    columns = (TextColumn("reading films again"), BarColumn(), TextColumn("{task.completed:.0f} of {task.total:.0f}"))
    with Progress(*columns, console=errors, disable=quiet or not errors.is_terminal, transient=True) as bar:
        task = bar.add_task("", total=1)
        yield lambda number, films: bar.update(task, completed=number - 1, total=films)


def show_applied(plan: Plan, applied: Applied) -> None:
    """What was done, and how to take it back."""
    one = applied.taught
    if plan.undoes is None:
        print_line(f"Taught as number {one.id}; `diaryidx teach --undo {one.id}` takes it back.")
    else:
        print_line(f"Taken back: “{one.heard}” is no longer “{one.meant}”.")
    if applied.films is None:
        print_line("An index is at work; it applies this before its next film.")
    else:
        print_line(f"{counted(len(applied.films), 'film')} read again; nothing was listened to again.")


def show_taught(taught: Sequence[Taught], behind: int) -> None:
    """Every taught correction, those taken back too."""
    if not taught:
        print_line('Nothing is taught yet; `diaryidx teach "HEARD" "MEANT"` does it.')
        return
    table = table_of("no.", "heard", "meant", "taught", "by", "taken back")
    for one in taught:
        cells = (one.heard, one.meant, one.made_at[:10], one.made_by or "", (one.undone_at or "")[:10])
        table.add_row(str(one.id), *(escape(cell) for cell in cells))
    out.print(table)
    if behind:
        print_line("Not applied to every film yet; the next `diaryidx index` does it.")


def show_suggestions(suggestions: Sequence[Suggestion], films: Mapping[str, Recording]) -> None:
    """Words that may be misheard, with sentences to judge by: those that sound like a term, then rare ones."""
    if not suggestions:
        print_line("Nothing looks misheard.")
    for known, heading in (
        (True, "These sound like a term; teach those that are:"),
        (False, "Rare words beside trade words: misheard, or names that words.yaml lacks:"),
    ):
        shown = [one for one in suggestions if (one.meant is not None) == known]
        if shown:
            print_line(heading)
        for one in shown:
            meaning = f" may be “{one.meant}” ({how_sure(one.certainty)})" if one.meant else ""
            print_line(f"“{one.heard}”{meaning}: {counted(one.count, 'sentence')} in {counted(one.films, 'film')}")
            for line in one.examples:
                film = films[line.recording]
                print_line(f"    {line.text}  ({film.title}, {clock(line.start)})")
            if one.meant:
                print_line(f'    diaryidx teach "{one.heard}" "{one.meant}"')
