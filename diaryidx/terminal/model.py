"""The speech model: which is used, and how far fetching one is."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.progress import BarColumn, DownloadColumn, Progress, TextColumn, TimeRemainingColumn

from diaryidx.terminal.lines import complain, errors, print_line

if TYPE_CHECKING:
    from diaryidx.speech.home import ModelStatus


def model_status_json(status: ModelStatus) -> dict[str, Any]:
    """``model status --json``."""
    return {name: str(value) if isinstance(value, Path) else value for name, value in asdict(status).items()}


def show_model_status(status: ModelStatus) -> None:
    """Which engine and model would be used, and why."""
    if status.problem:
        complain(status.problem)
        return
    print_line(f"{status.engine}: {status.model or 'its own model'}")
    print_line(f"  {status.why}")
    if status.path is not None:
        print_line(f"  in {status.path}")


@contextmanager
def download_progress() -> Iterator[Any]:
    """A bar for a download: call it with the bytes so far and the bytes in all."""
    with Progress(TextColumn("fetching"), BarColumn(), DownloadColumn(), TimeRemainingColumn(), console=errors) as bar:
        task = bar.add_task("fetching", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
