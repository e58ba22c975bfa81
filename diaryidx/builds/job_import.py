"""Bringing a job book in: what would change, field by field, and doing it. Updates by job number, never deletes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from diaryidx.builds.finding import plain_number
from diaryidx.builds.job_book import JobBook, JobRow, known_fields, plain_heading, read_job_book
from diaryidx.builds.relinking import relink
from diaryidx.errors import WrongUse
from diaryidx.records import Build
from diaryidx.shop import Shop
from diaryidx.store import reading, writing


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One field of a job: what is stored and what the table says; None is nothing."""

    field: str
    old: Any
    new: Any


@dataclass(frozen=True, slots=True)
class JobChange:
    """A job whose row differs from what is stored, or one that is new (``is_new``; all its fields come from None)."""

    build: Build
    line: int
    changes: tuple[FieldChange, ...]
    is_new: bool = False


@dataclass(frozen=True, slots=True)
class ImportPlan:
    """What an import would do. Jobs that are stored and not in the table stay as they are; none is ever deleted."""

    book: JobBook
    new: tuple[JobChange, ...]
    changed: tuple[JobChange, ...]
    unchanged: int

    @property
    def builds(self) -> list[Build]:
        """The jobs to write."""
        return [change.build for change in (*self.new, *self.changed)]


def read_shops_job_book(
    shop: Shop,
    db: Database,
    path: Path,
    columns: Mapping[str, str | None] | None = None,
    sheet: str | None = None,
) -> JobBook:
    """Read a job book the way this shop has confirmed its columns and writes its dates.

    :param columns: as for `job_book.read_job_book`; it outranks what was confirmed.
    :param sheet: as there; without it, the sheet that ``shop.toml`` names where this is the file that it watches.
    """
    if sheet is None and path.resolve() == shop.job_book.resolve():
        sheet = shop.settings.jobs_sheet
    return read_job_book(
        path,
        columns,
        confirmed=reading.job_columns(db.conn),
        sheet=sheet,
        month_first=shop.settings.month_first,
    )


def plan_import(book: JobBook, stored: Sequence[Build], *, clear: bool = False) -> ImportPlan:
    """Hold a table against what is stored.

    :param clear: an empty cell empties what is stored. Without it a cell that says nothing changes nothing; fields that
        no column fills are left alone either way.
    """
    by_number = _Stored(stored, {row.job_number for row in book.rows})
    new: list[JobChange] = []
    changed: list[JobChange] = []
    filled: dict[str, int] = {}  # stored job: the line that it was held against
    problems: list[str] = []
    for row in book.rows:
        old = by_number.build_of(row)
        if old is not None and old.job_number in filled:
            twice = f"is job {old.job_number} once more; line {filled[old.job_number]} was kept"
            problems.append(f"line {row.line}: job {row.job_number} {twice}")
            continue
        if old is not None:
            filled[old.job_number] = row.line
        if old is None:
            build = Build(job_number=row.job_number, **row.values)
            new.append(JobChange(build, row.line, tuple(_changes(Build(row.job_number), build)), is_new=True))
            continue
        said: dict[str, Any] = dict(row.values)
        if clear:
            said |= dict.fromkeys(book.fields - {"job_number", "public"} - said.keys())
        build = replace(old, **said)
        if build != old:
            changed.append(JobChange(build, row.line, tuple(_changes(old, build))))
    book = replace(book, problems=(*book.problems, *problems))
    unchanged = len(book.rows) - len(new) - len(changed) - len(problems)
    return ImportPlan(book, tuple(new), tuple(changed), unchanged)


def apply_import(db: Database, plan: ImportPlan, *, remember: bool, words: Path | None = None) -> None:
    """Write what a plan says and tie the films' topics to builds again.

    :param remember: a person has confirmed the columns; they are kept, so that the next import need not ask.
    :param words: the shop's words.yaml.
    """
    if remember:
        filled = {heading: name for name, heading in plan.book.columns.items()}
        writing.save_job_columns(
            db,
            {plain_heading(heading): filled.get(heading) for heading in plan.book.headings if plain_heading(heading)},
        )
    if plan.builds:
        writing.save_builds(db, plan.builds)
        relink(db, words)


def all_confirmed(db: Database, book: JobBook) -> bool:
    """Whether a person has confirmed every column of a table before, this one or another with the same headings."""
    confirmed = reading.job_columns(db.conn)
    known = all(plain_heading(heading) in confirmed for heading in book.headings if plain_heading(heading))
    return known and all(confirmed.get(plain_heading(heading)) == name for name, heading in book.columns.items())


def parse_columns(pairs: Sequence[str]) -> dict[str, str | None]:
    """``FIELD=COLUMN`` as a person types it; without a column, the field is filled by none.

    :raises WrongUse: there is no "=", or no such field.
    """
    columns: dict[str, str | None] = {}
    for pair in pairs:
        name, sign, heading = pair.partition("=")
        field = plain_heading(name).replace(" ", "_")
        if not sign or field not in known_fields():
            raise WrongUse(f"{pair!r} is no FIELD=COLUMN; the fields are {', '.join(known_fields())}")
        columns[field] = " ".join(heading.split()) or None
    return columns


class _Stored:
    """What is stored, by job number: as it is written, else without zeros in front, case and dashes.

    Spreadsheets turn 0012 into 12; a number that stands in the table itself belongs to its own row.
    """

    def __init__(self, stored: Sequence[Build], in_table: set[str]) -> None:
        self.exact = {build.job_number: build for build in stored}
        self.plain: dict[str, list[Build]] = {}
        for build in stored:
            if build.job_number not in in_table:
                self.plain.setdefault(plain_number(build.job_number), []).append(build)

    def build_of(self, row: JobRow) -> Build | None:
        if row.job_number in self.exact:
            return self.exact[row.job_number]
        alike = self.plain.get(plain_number(row.job_number), [])
        return alike[0] if len(alike) == 1 else None


def _changes(old: Build, new: Build) -> list[FieldChange]:
    before, after = asdict(old), asdict(new)
    return [FieldChange(name, before[name], after[name]) for name in before if before[name] != after[name]]
