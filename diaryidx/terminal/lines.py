"""What every subject prints with: a line, a table, an error."""

from __future__ import annotations

import sys

from rich.console import Console
from rich.markup import escape
from rich.table import Table

#: Columns that a table may take where the output is no terminal but a file or another program.
WIDTH_ELSEWHERE = 160

out = Console(highlight=False, soft_wrap=True, width=None if sys.stdout.isatty() else WIDTH_ELSEWHERE)
errors = Console(stderr=True, highlight=False, soft_wrap=True)


def complain(message: str) -> None:
    """Say an error in one line on the error output."""
    errors.print(f"diaryidx: {escape(' '.join(message.split()))}")


def print_line(text: str = "") -> None:
    """Print one line as it is."""
    out.print(escape(text))


def table_of(*headings: str) -> Table:
    """An empty table under these headings; its first column is never folded."""
    table = Table(box=None, pad_edge=False, header_style="bold")
    for place, heading in enumerate(headings):
        table.add_column(heading, overflow="fold", no_wrap=place == 0)
    return table


def counted(number: int, what: str) -> str:
    """A number of things in words: "1 film", "2 films"."""
    return f"{number} {what}{'' if number == 1 else 's'}"
