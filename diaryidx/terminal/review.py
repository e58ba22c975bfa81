"""What is in doubt, the keys that decide it, and what was decided."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import click
from rich.markup import escape

from diaryidx.errors import WrongUse
from diaryidx.faq.reply import shortened
from diaryidx.records import Build, Decision, Recording
from diaryidx.terminal.lines import out, print_line, table_of
from diaryidx.wording import clock, decision_words, how_sure, over_words

if TYPE_CHECKING:
    from diaryidx.builds.review import Item

REVIEW_KEYS = (
    "a accept · 1-9 that one · b another bike · r not this one · n about no bike · w correct a word · s split · "
    "j join with the next · u undo · k skip · q stop"
)


class ReviewScreen:
    """The terminal as `review_session` uses it."""

    def __init__(self, builds: Mapping[str, Build]) -> None:
        self._builds = builds

    def item(self, one: Item, left: int) -> None:
        """Show a stretch and the keys."""
        print_line()
        show_item(one, self._builds, left=left)
        print_line(f"  {REVIEW_KEYS}")

    def key(self) -> str:
        """Wait for one key."""
        try:
            return click.getchar()
        except (EOFError, KeyboardInterrupt):
            return "q"
        except OSError:
            raise WrongUse(
                "single keys need a terminal; off one use `diaryidx review list`, `review assign` and the like"
            ) from None

    def ask(self, question: str) -> str:
        """Wait for a line."""
        answer: str = click.prompt(f"  {question}", default="", show_default=False)
        return answer.strip()

    def say(self, text: str) -> None:
        """Show one line."""
        print_line(f"  {text}")


def show_item(item: Item, builds: Mapping[str, Build], *, left: int | None = None) -> None:
    """A stretch for a person to decide on: where it plays, what is said, what it may be about and why."""
    count = "" if left is None else f"  {left} in doubt"
    print_line(f"{item.title}, {item.said_on or 'no date'}, {clock(item.start)} to {clock(item.end)}{count}")
    print_line(f"  {item.id}  in {item.file}")
    print_line(f"  “{item.text}”")
    now = f"job {item.build}, {how_sure(item.certainty)}" if item.build else "not known which bike"
    print_line(f"  now: {now if item.subject == 'build' else 'about no bike'}; statements in it: {item.statements}")
    for number, candidate in enumerate(item.candidates, start=1):
        name = builds[candidate.job_number].name if candidate.job_number in builds else ""
        sure = "" if candidate.certainty is None else f"{candidate.certainty:.0%} "
        print_line(f"  {number}  job {candidate.job_number} {name}: {sure}{candidate.why}")


def show_items(items: Sequence[Item], count: int) -> None:
    """The stretches in doubt, one a line, most valuable first."""
    if not items:
        print_line("Nothing is in doubt.")
        return
    table = table_of("id", "day", "now", "may be", "statements", "said")
    for item in items:
        maybe = ", ".join(candidate.job_number for candidate in item.candidates)
        now = f"job {item.build}" if item.build else "not known"
        cells = (item.said_on or "", now, maybe, str(item.statements), shortened(item.text, 20))
        table.add_row(item.id, *map(escape, cells))
    out.print(table)
    if count > len(items):
        print_line(f"{count - len(items)} more.")


def show_decision(made: Decision, films: Mapping[str, Recording]) -> None:
    """One decision in one line: what, where, who, when, and whether it was undone."""
    film = films.get(made.film)
    title = film.title if film else f"{made.evidence.get('title', 'a film')} (not here now)"
    where = clock(made.start) if made.start == made.end else f"{clock(made.start)} to {clock(made.end)}"
    undone = f"; undone by {made.undone_by} on {(made.undone_at or '')[:10]}" if made.undone_at else ""
    told = f"{decision_words(made)}{over_words(made)}"
    print_line(f"{made.id:>5}  {made.made_at[:10]}  {made.actor}: {told}, {title}, {where}{undone}")
