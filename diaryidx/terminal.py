"""What the commands print for a person: plain words, times as m:ss, certainty in words. Used by `cli` alone."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from rich.console import Console
from rich.markup import escape
from rich.progress import BarColumn, DownloadColumn, Progress, TaskID, TextColumn, TimeRemainingColumn
from rich.table import Table

from diaryidx.builds.wording import STATUS_WORDS, describe
from diaryidx.errors import WrongUse
from diaryidx.faq.reply import shortened
from diaryidx.records import (
    Answer,
    Build,
    Candidate,
    Decision,
    Development,
    Note,
    Recording,
    Segment,
    Sentence,
    Statement,
)
from diaryidx.wording import clock, decision_words, how_sure

if TYPE_CHECKING:
    from diaryidx.builds.gaps import Evidence, Gaps, Waiting
    from diaryidx.builds.job_book import JobBook
    from diaryidx.builds.job_import import ImportPlan
    from diaryidx.builds.review import Item
    from diaryidx.checking import Finding
    from diaryidx.indexing import Indexed
    from diaryidx.language.explaining import Explanation
    from diaryidx.shop import Person, Shop
    from diaryidx.speech.home import ModelStatus
    from diaryidx.speech.protocol import Engine
    from diaryidx.store.reading import Taught
    from diaryidx.suggesting import Suggestion
    from diaryidx.teaching import Applied, Plan

MINI_MODEL_NOTE = (
    "It listens with the small model that comes along, trained on synthetic voices for demo and tests only: it "
    "understands the demo's speakers and hardly any real one. For your own films: diaryidx model get."
)

#: Columns that a table may take where the output is no terminal but a file or another program.
WIDTH_ELSEWHERE = 160
#: New and changed jobs that an import shows one by one (our own choice).
MOST_SHOWN = 40

out = Console(highlight=False, soft_wrap=True, width=None if sys.stdout.isatty() else WIDTH_ELSEWHERE)
errors = Console(stderr=True, highlight=False, soft_wrap=True)


def complain(message: str) -> None:
    """Say an error in one line on the error output."""
    errors.print(f"diaryidx: {escape(' '.join(message.split()))}")


def print_line(text: str = "") -> None:
    """Print one line as it is."""
    out.print(escape(text))


# --- indexing --------------------------------------------------------------------------------------------------------


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


def say_what_next(shop: Shop) -> None:
    """Commands to try in the demo shop."""
    print_line("Try:")
    for line in (
        'ask "how do I change the front brake pads"',
        "jobs list",
        "recording",
        "check",
    ):
        print_line(f"  diaryidx {line} --shop {shop.folder}")


# --- films -----------------------------------------------------------------------------------------------------------


def show_recordings(films: Sequence[Recording]) -> None:
    """A table of films."""
    if not films:
        print_line("No films yet; run `diaryidx index`.")
        return
    table = _table("id", "date", "kind", "length", "title")
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


# --- corrections -----------------------------------------------------------------------------------------------------


def show_plan(plan: Plan, films: Mapping[str, Recording]) -> None:
    """Every sentence that a decision changes, before and after, then what a person should know."""
    for change in plan.changes:
        film = films[change.recording]
        print_line(f"{film.title}, {film.date or 'no date'}, {clock(change.before.start)}")
        print_line(f"  before: {change.before.text}")
        print_line(f"  after:  {change.after.text}")
    count, films_changed = len(plan.changes), len({change.recording for change in plan.changes})
    if count:
        print_line(f"{_counted(count, 'sentence')} in {_counted(films_changed, 'film')}.")
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
        print_line(f"{_counted(len(applied.films), 'film')} read again; nothing was listened to again.")


def show_taught(taught: Sequence[Taught], behind: int) -> None:
    """Every taught correction, those taken back too."""
    if not taught:
        print_line('Nothing is taught yet; `diaryidx teach "HEARD" "MEANT"` does it.')
        return
    table = _table("no.", "heard", "meant", "taught", "by", "taken back")
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
            print_line(f"“{one.heard}”{meaning}: {_counted(one.count, 'sentence')} in {_counted(one.films, 'film')}")
            for line in one.examples:
                film = films[line.recording]
                print_line(f"    {line.text}  ({film.title}, {clock(line.start)})")
            if one.meant:
                print_line(f'    diaryidx teach "{one.heard}" "{one.meant}"')


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


# --- answers ---------------------------------------------------------------------------------------------------------


def show_answer(answer: Answer, most: int, *, has_films: bool) -> None:
    """The best passages with the moment they play from, then the cautions."""
    if not has_films:
        print_line("Nothing is indexed yet; run `diaryidx index` first.")
    elif not answer.answered:
        print_line("No film answers this yet.")
    for number, passage in enumerate(answer.answers[:most], start=1):
        print_line(f"{number}. {passage.title}, {passage.said_on or 'no date'}, from {clock(passage.start)}")
        print_line(f"   “{shortened(passage.text)}”")
        print_line(f"   {how_sure(passage.certainty)}; {passage.why}")
        print_line(f"   plays at /films/{passage.recording}?t={passage.start:.1f} on the site")
    if answer.cautions:
        print_line("Take care:")
        for caution in answer.cautions:
            print_line(f"  - {caution}")


def show_candidates(candidates: Sequence[Candidate]) -> None:
    """The builds that a description fits."""
    print_line("That fits several bikes; name one by its job number:")
    for candidate in candidates:
        print_line(f"  {candidate.job_number:>8}  {candidate.why}")


def show_notes(notes: Sequence[Note]) -> None:
    """Notes with their numbers, the undone ones marked."""
    if not notes:
        print_line('No notes yet; write one with `diaryidx note BUILD "what was done"`.')
    for note in notes:
        undone = f"  (undone by {note.undone_by})" if note.undone_at else ""
        print_line(f"{note.id:>5}  {note.date}  job {note.build}, {note.author}{undone}: {note.text}")
        for photo in note.photos:
            print_line(f"{'':>5}  photo: {photo.name}, kept as photos/{photo.file}")


def show_added_note(note: Note, build: Build, stated: Sequence[Statement]) -> None:
    """What was kept, and what was understood in it."""
    print_line(f"Note {note.id} is kept with job {build.job_number}, {build.name}, {note.date}.")
    for one in stated:
        print_line(f"  {STATUS_WORDS[one.status]}: {describe(one)}")
    for photo in note.photos:
        print_line(f"  photo: {photo.name}, kept as photos/{photo.file}")


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
                print_line(f"    {one.date or 'no date'}  {source}: “{shortened(one.text)}”")
    if not shown:
        print_line("Nothing is missing: every bike here was in the last diaries, and job book and films agree.")


def _since(waiting: Waiting) -> str:
    if waiting.days is None:
        return f"since {waiting.since or 'an unknown day'}"
    return f"since {waiting.since}, {waiting.days} day{'' if waiting.days == 1 else 's'}"


def _bike(build: Build) -> str:
    return f"job {build.job_number} ({build.name})"


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


def show_builds(builds: Sequence[Build]) -> None:
    """The job book as a table."""
    if not builds:
        print_line("The job book is empty; bring one in with `diaryidx jobs import FILE`.")
        return
    table = _table("job", "bike", "registration", "state", "promised", "asked for")
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


# --- the program itself ----------------------------------------------------------------------------------------------


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


def explanation_json(explanation: Explanation) -> dict[str, Any]:
    """``explain TEXT --json``: the statements in the shape of every other command, then how they came about."""
    from diaryidx.shapes import statement_json

    rest = {name: value for name, value in asdict(explanation).items() if name != "statements"}
    return {"statements": [statement_json(statement) for statement in explanation.statements], **rest}


def show_explanation(explanation: Explanation) -> None:
    """The terms, the cues with their reach, and the statements with the rule that made each."""
    terms = _table("words", "what", "meaning")
    for mention in explanation.mentions:
        terms.add_row(escape(mention.text), mention.label.lower(), escape(mention.canonical))
    out.print(terms)
    if explanation.cues:
        cues = _table("cue", "kind")
        for cue in explanation.cues:
            cues.add_row(escape(cue["text"]), cue["kind"])
        out.print(cues)
    for clause in explanation.clauses:
        reach = "; ".join(f"{kind}: “{words}”" for kind, words in clause["scopes"].items())
        print_line(f"clause “{clause['text']}”{f' under {reach}' if reach else ''}")
    slots = ("part", "side", "quantity", "task", "finish", "product", "supplier", "status", "said_by", "who", "when")
    for statement in explanation.statements:
        told = [f"{slot.replace('_', ' ')}: {getattr(statement, slot)}" for slot in slots if getattr(statement, slot)]
        print_line(f"- {'; '.join(told)}")
        print_line(f"    {how_sure(statement.certainty)}; rule: {statement.rule}")
    if not explanation.statements:
        print_line("Nothing is stated about a part of a bike here.")


def show_findings(findings: Sequence[Finding]) -> None:
    """What was looked at, and what must be done."""
    for finding in findings:
        print_line(f"{'ok  ' if finding.sound else 'MEND'}  {finding.about}: {finding.text}")
    bad = sum(not finding.sound for finding in findings)
    print_line("Everything is sound." if bad == 0 else f"{bad} thing{'s' if bad != 1 else ''} to mend.")


def _table(*headings: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for place, heading in enumerate(headings):
        table.add_column(heading, overflow="fold", no_wrap=place == 0)
    return table


# --- decisions -------------------------------------------------------------------------------------------------------

REVIEW_KEYS = (
    "a accept · 1-9 that one · b another bike · r not this one · n about no bike · w correct a word · s split · "
    "j join with the next · u undo · k skip · q stop"
)


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
    table = _table("id", "day", "now", "may be", "statements", "said")
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
    print_line(f"{made.id:>5}  {made.made_at[:10]}  {made.actor}: {decision_words(made)}, {title}, {where}{undone}")


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


def say_where_the_site_is(address: str, link: str | None) -> None:
    """The site's address; where nobody is set up, the link that signs in whoever started it."""
    click.echo(f"The site is open at {address}  (Ctrl-C ends it)")
    if link is not None:
        click.echo(f"Sign in as the owner by this link, good once: {link}")
        click.echo("For passwords of your own, run `diaryidx staff add NAME --role owner` in the shop's folder.")


def show_staff(people: Sequence[Person]) -> None:
    """Who may sign in on the site."""
    if not people:
        click.echo("Nobody is set up: whoever starts the site signs in by the link that `diaryidx serve` prints.")
        click.echo("`diaryidx staff add NAME --role owner` sets the first one up.")
    for person in people:
        click.echo(f"{person.name}: {person.role}")
