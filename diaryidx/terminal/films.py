"""Films: how far an index is and what it did, lists, transcripts, topics."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

from diaryidx.records import Recording, Segment, Sentence
from diaryidx.terminal.lines import complain, errors, out, print_line, table_of
from diaryidx.wording import clock, how_sure

if TYPE_CHECKING:
    from diaryidx.indexing import Indexed
    from diaryidx.shop import Shop
    from diaryidx.speech.protocol import Engine


class IndexProgress:
    """Shows how much film has been heard, with the time left; on a terminal as a bar, elsewhere a line a film."""

    def __init__(self, bar: Progress, quiet: bool) -> None:
        self._bar, self._quiet = bar, quiet
        self._task: TaskID | None = None
        self.problems = 0

    def plan(self, seconds: float, films: int) -> None:
        """So much film is to be heard."""
        name = f"listening to {films} film{'s' if films != 1 else ''}, {clock(seconds)} in all"
        self._task = self._bar.add_task(name, total=seconds)
        if not self._quiet and not self._bar.console.is_terminal:
            self._bar.console.print(name)

    def engine(self, engine: Engine) -> None:
        """This engine listens."""
        if not self._quiet:
            self._bar.console.print(escape(f"listening with {engine.name} ({engine.model})"))

    def heard(self, path: str, seconds: float) -> None:
        """So much more of a film has been heard."""
        if self._task is not None:
            self._bar.update(self._task, advance=seconds)

    def done(self, indexed: Indexed) -> None:
        """This file is finished, one way or another."""
        if self._quiet or indexed.outcome == "unchanged":
            return
        if indexed.recording is not None:
            count = indexed.recording.sentences
            self._bar.console.print(escape(f"  {indexed.path}: {count} sentences"))
        else:
            self._bar.console.print(escape(f"  not indexed: {indexed.error}"))

    def problem(self, text: str) -> None:
        """Something other than a film failed."""
        self.problems += 1
        complain(text)


@contextmanager
def index_progress(quiet: bool) -> Iterator[IndexProgress]:
    """A progress bar on the error output while an index runs."""
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.percentage:>3.0f} %"))
    with Progress(
        *columns, TimeRemainingColumn(), console=errors, disable=quiet or not errors.is_terminal, transient=True
    ) as bar:
        yield IndexProgress(bar, quiet)


def show_indexed(outcome: Sequence[Indexed], shop: Shop) -> None:
    """Sum up what an index did, and what to do next if there was nothing."""
    if not outcome:
        print_line(f"No films yet. Put some into {shop.recordings} and run `diaryidx index` again.")
        return
    count = {kind: sum(one.outcome == kind for one in outcome) for kind in ("indexed", "unchanged", "failed")}
    print_line(f"{count['indexed']} indexed, {count['unchanged']} unchanged, {count['failed']} failed.")
    for one in outcome:
        if one.recording is not None and one.recording.error:
            print_line(f"  {one.path}: {one.recording.error}")


def show_recordings(films: Sequence[Recording]) -> None:
    """A table of films."""
    if not films:
        print_line("No films yet; run `diaryidx index`.")
        return
    table = table_of("id", "date", "kind", "length", "title")
    for film in films:
        table.add_row(film.id, film.date or "no date", film.kind, clock(film.duration), escape(film.title))
    out.print(table)


def show_recording(film: Recording) -> None:
    """All that is known of one film."""
    for name, value in asdict(film).items():
        if value is not None:
            print_line(f"{name.replace('_', ' '):>12}  {value}")


def show_transcript(film: Recording, sentences: Sequence[Sentence]) -> None:
    """A transcript with times; where a sentence was repaired, what was heard stands below it."""
    print_line(f"{film.title} ({film.date or 'no date'}, {clock(film.duration)})")
    for sentence in sentences:
        doubt = f"  ({how_sure(sentence.certainty)})" if (sentence.certainty or 1.0) < 0.5 else ""
        print_line(f"{clock(sentence.start):>8}  {sentence.text}{doubt}")
        for repair in sentence.repairs:
            print_line(f"{'':>8}  heard: {repair.heard}  (meant: {repair.meant}, {how_sure(repair.certainty)})")


def show_segments(film: Recording, segments: Sequence[Segment]) -> None:
    """The topics of a film, with the build each is tied to and the evidence."""
    print_line(f"{film.title} ({film.date or 'no date'}, {clock(film.duration)})")
    for segment in segments:
        about = f"job {segment.build}, {how_sure(segment.certainty)}" if segment.build else segment.subject.kind
        if segment.subject.kind == "build" and not segment.build:
            about = "a bike, not known which"
        print_line(f"{clock(segment.start):>8}  {segment.title}  [{about}]")
        for reason in segment.evidence:
            print_line(f"{'':>8}    {reason}")
