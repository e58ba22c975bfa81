"""Films: how far an index is and what it did, lists, transcripts, topics."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from typing import TYPE_CHECKING

from rich.markup import escape
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

from diaryidx.film_records import FilmLink, Needs, Remarks, Step
from diaryidx.records import Recording, Segment, Sentence
from diaryidx.remark_wording import link_words, need_words, torque_words
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


def show_recording(film: Recording, links: Sequence[FilmLink] = ()) -> None:
    """All that is known of one film, and the films that it refers to."""
    for name, value in asdict(film).items():
        if value is not None:
            print_line(f"{name.replace('_', ' '):>12}  {value}")
    for link in links:
        print_line(f"{'refers to':>12}  {clock(link.start)} {link_words(link)}")


def show_transcript(
    film: Recording, sentences: Sequence[Sentence], remarks: Remarks, links: Sequence[FilmLink] = ()
) -> None:
    """A transcript with times; below a sentence what was heard, the film that it refers to, and what is pointed at."""
    print_line(f"{film.title} ({film.date or 'no date'}, {clock(film.duration)})")
    notes: dict[int, list[str]] = {}
    known = {(link.film, link.start): link for link in links}
    for one in remarks.references:
        link = known.get((one.film or "", one.start))
        notes.setdefault(one.sentence, []).append(
            f"see {link_words(link)} ({how_sure(link.certainty)})" if link else f"“{one.text}”: a film, not known which"
        )
    for pointing in remarks.pointings:
        notes.setdefault(pointing.sentence, []).append(f"points at {pointing.at:.1f} s")
    away = {place for aside in remarks.asides for place in range(aside.first, aside.last + 1)}
    for place, sentence in enumerate(sentences):
        notes.setdefault(place, []).extend(["a digression"] if place in away else [])
        doubt = f"  ({how_sure(sentence.certainty)})" if (sentence.certainty or 1.0) < 0.5 else ""
        print_line(f"{clock(sentence.start):>8}  {sentence.text}{doubt}")
        for repair in sentence.repairs:
            print_line(f"{'':>8}  heard: {repair.heard}  (meant: {repair.meant}, {how_sure(repair.certainty)})")
        for note in notes[place]:
            print_line(f"{'':>8}  {note}")


def show_segments(film: Recording, segments: Sequence[Segment], steps: Sequence[Step] = ()) -> None:
    """The topics of a film, with the build each is tied to and the evidence; what a tutorial needs, and its steps."""
    print_line(f"{film.title} ({film.date or 'no date'}, {clock(film.duration)})")
    for line in _need_lines(Needs.of(steps)):
        print_line(f"{'':>8}  {line}")
    taught = {step.first: step for step in steps if step.number}
    for segment in segments:
        about = f"job {segment.build}, {how_sure(segment.certainty)}" if segment.build else segment.subject.kind
        if segment.subject.kind == "build" and not segment.build:
            about = "a bike, not known which"
        print_line(f"{clock(segment.start):>8}  {segment.title}  [{about}]")
        for reason in segment.evidence:
            print_line(f"{'':>8}    {reason}")
        if segment.first in taught:
            for line in _need_lines(Needs.of([taught[segment.first]])):
                print_line(f"{'':>8}    {line}")


def _need_lines(needs: Needs) -> list[str]:
    """Tools, materials and torques in a line each, and every warning in its own."""
    told = (
        ("tools", need_words(needs.tools)),
        ("needed", need_words(needs.needed)),
        ("torques", "; ".join(torque_words(one) for one in needs.torques)),
        *(("take care", one.text) for one in needs.warnings),
    )
    return [f"{name}: {words}" for name, words in told if words]
