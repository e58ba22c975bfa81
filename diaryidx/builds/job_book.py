"""The shop's job book, read without retyping: headings are guessed, rows that cannot be taken are named by line."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from diaryidx.builds.dates import iso_date, month_comes_first, plain_year
from diaryidx.builds.tables import LONGEST_CELL, Row, read_tables
from diaryidx.builds.vin import vin_warning
from diaryidx.builds.word_lists import word_set
from diaryidx.errors import JobBookError
from diaryidx.records import Build

DATE_FIELDS = ("date_in", "promised", "date_out")
_COLUMNS_FILE = Path(__file__).with_name("columns.yaml")
#: How far down the heading row is looked for; spreadsheets like to begin with a title (our own choice).
_HEADING_ROWS = 25
#: A heading that differs by a letter or two from a known one is still taken for it (our own choice).
_ALIKE = 0.84
#: What a heading scores from that is exactly a known name.
_EXACT = 2.0
_CONNECTORS = frozenset({"&", "and", "+", "und", "et"})


#: The columns that fill each field; several where headings stand there twice.
Places = Mapping[str, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class JobRow:
    """One row. ``values`` is what its cells say, by field of a build; an empty cell says nothing and has no key."""

    line: int
    job_number: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class JobBook:
    """A job book as read.

    ``columns`` says which heading fills which field, ``headings`` are all there are. ``problems`` name rows and cells
    that could not be taken, ``warnings`` what was taken and looks wrong, each with its line.
    """

    rows: tuple[JobRow, ...]
    columns: dict[str, str]
    problems: tuple[str, ...]
    warnings: tuple[str, ...] = ()
    headings: tuple[str, ...] = ()

    @property
    def builds(self) -> tuple[Build, ...]:
        """The rows as builds of which nothing was known before."""
        return tuple(Build(job_number=row.job_number, **row.values) for row in self.rows)

    @property
    def fields(self) -> frozenset[str]:
        """The fields of a build that the columns fill."""
        both = {"make", "model"} if "bike" in self.columns else set()
        return frozenset((self.columns.keys() - {"bike"}) | both)


def read_job_book(
    path: Path,
    columns: Mapping[str, str | None] | None = None,
    *,
    confirmed: Mapping[str, str | None] | None = None,
    sheet: str | None = None,
    month_first: bool = False,
) -> JobBook:
    """Read a table of builds.

    :param path: a .csv (any usual separator; UTF-8, UTF-16 or Windows-1252) or an .xlsx file.
    :param columns: ``{field: heading}`` as a person names them; None keeps a field empty. It outranks everything.
    :param confirmed: ``{plain heading: field or None}`` as a person confirmed earlier; it outranks the guess.
    :param sheet: the sheet of a workbook; without it, the one that has most columns of a job book.
    :param month_first: how dates such as 3/11/2025 are read where no column shows which way round they are.
    :returns: one row a job number, the first of each, in their order.
    :raises JobBookError: the file is no table, has no column of job numbers, no such sheet, or not a heading that
        ``columns`` names.
    """
    tables = _chosen(path, read_tables(path), sheet)
    headings, rows, found = _first_with_job_numbers(path, tables, columns or {}, confirmed or {})
    places = {
        name: tuple(place for place, cell in enumerate(headings.cells) if cell == heading)
        for name, heading in found.items()
    }
    reader = _RowReader(places, _month_first_fields(rows, places, month_first))
    taken: dict[str, JobRow] = {}
    for row in rows:
        if row.cells == headings.cells:
            continue  # headings repeated on every page of a printed table
        read = reader.read(row)
        if read is None:
            continue
        if read.job_number in taken:
            first = taken[read.job_number].line
            reader.problems.append(f"line {row.line}: job {read.job_number} is there twice; line {first} was kept")
            continue
        taken[read.job_number] = read
    reader.warnings.extend(_without_heading(headings, rows))
    return JobBook(tuple(taken.values()), found, tuple(reader.problems), tuple(reader.warnings), headings.cells)


def _without_heading(headings: Row, rows: Sequence[Row]) -> Iterator[str]:
    """Columns that hold something and say nowhere what: nobody may think that they were read."""
    filled = {place: row.line for row in reversed(rows) for place, cell in enumerate(row.cells) if cell}
    for place, line in sorted(filled.items()):
        if place >= len(headings.cells) or not headings.cells[place]:
            yield f"line {line}: column {place + 1} has no heading, so what stands in it is not taken"


def guess_columns(
    headings: Sequence[str],
    given: Mapping[str, str | None] | None = None,
    confirmed: Mapping[str, str | None] | None = None,
) -> dict[str, str]:
    """Which heading fills which field of a build: exact names first, then names within headings, then alike ones.

    :param given: fields that a person has settled; their headings are not guessed for anything else.
    :param confirmed: ``{plain heading: field or None}`` from earlier; such a heading is not guessed anew.
    :returns: ``{field: heading}``; "bike" stands for a column with make and model in one cell.
    """
    settled = dict(given or {})
    taken = {heading for heading in settled.values() if heading}
    for heading in headings:
        name = (confirmed or {}).get(plain := plain_heading(heading))
        if plain in (confirmed or {}) and heading not in taken:
            taken.add(heading)
            if name:
                settled.setdefault(name, heading)
    found = {name: heading for name, heading in settled.items() if heading}
    scores = sorted(
        ((score, -place, field, heading) for place, heading in enumerate(headings) if heading and heading not in taken
         for field, score in _scores(heading).items()),
        reverse=True,
    )  # fmt: skip
    for _score, _place, name, heading in scores:
        if name not in settled and name not in found and heading not in taken:
            found[name] = heading
            taken.add(heading)
    if "bike" in found and "bike" not in settled and "model" in found:
        del found["bike"]
    return found


def is_certain(columns: Mapping[str, str]) -> bool:
    """Whether every heading is exactly a known name of its field, so that nobody need confirm the guess."""
    return all(_scores(heading).get(field, 0.0) >= _EXACT for field, heading in columns.items())


def known_fields() -> tuple[str, ...]:
    """The fields that a column may fill, as `jobs import --map` takes them."""
    return tuple(_synonyms())


def plain_heading(heading: str) -> str:
    """A heading as it is compared: no case, accents or punctuation; "#" is "number"."""
    text = unicodedata.normalize("NFKD", heading.replace("#", " number ").replace("№", " number "))
    text = "".join(sign for sign in text if not unicodedata.combining(sign)).casefold()
    return " ".join(re.findall(r"[^\W_]+", text))


@cache
def _synonyms() -> dict[str, tuple[str, ...]]:
    raw: dict[str, list[object]] = yaml.safe_load(_COLUMNS_FILE.read_text(encoding="utf-8"))
    # YAML 1.1 reads a bare "no" as false; it is a heading here.
    return {field: tuple("no" if name is False else plain_heading(str(name)) for name in names)
            for field, names in raw.items()}  # fmt: skip


@cache
def _scores(heading: str) -> dict[str, float]:
    """How well a heading names each field: above 2 exactly, above 1 within it, above 0 nearly."""
    plain = plain_heading(heading)
    scores: dict[str, float] = {}
    for filled, names in _synonyms().items():
        best = 0.0
        for place, name in enumerate(names):
            surer = 1 - place / 100
            if plain == name or plain.replace(" ", "") == name.replace(" ", ""):
                best = max(best, _EXACT + surer)
            elif len(name) > 2 and f" {name} " in f" {plain} ":
                best = max(best, 1 + surer * len(name) / len(plain))
            elif len(plain) > 3 and (alike := SequenceMatcher(None, plain, name).ratio()) >= _ALIKE:
                best = max(best, alike * surer)
        if best:
            scores[filled] = best
    return scores


def _chosen(path: Path, tables: Mapping[str, list[Row]], sheet: str | None) -> list[list[Row]]:
    """All tables, or the one of a sheet's name."""
    if sheet is None:
        return list(tables.values())
    named = [rows for name, rows in tables.items() if name.casefold() == sheet.strip().casefold()]
    if not named:
        there = f"there are {', '.join(map(repr, tables))}" if any(tables) else "a .csv has no sheets"
        raise JobBookError(f"{path}: there is no sheet {sheet!r} with anything on it; {there}")
    return named


def _first_with_job_numbers(
    path: Path,
    tables: Sequence[Sequence[Row]],
    given: Mapping[str, str | None],
    confirmed: Mapping[str, str | None],
) -> tuple[Row, Sequence[Row], dict[str, str]]:
    """The heading row, the rows below it and the columns, of the sheet where most columns are known."""
    unknown = [name for name in given if name not in _synonyms()]
    if unknown:
        raise JobBookError(f"{path}: there is no field {unknown[0]!r}; known are {', '.join(_synonyms())}")
    best: tuple[int, Row, Sequence[Row], dict[str, str]] | None = None
    for rows in tables:
        for place, row in _heading_rows(rows):
            if not all(heading in row.cells for heading in given.values() if heading):
                continue
            found = guess_columns(row.cells, given, confirmed)
            if (
                "job_number" in found
                and (len(found) > 1 or len(row.cells) == 1)
                and (best is None or len(found) > best[0])
            ):
                best = (len(found), row, rows[place + 1 :], found)
    if best is None:
        raise JobBookError(_no_job_numbers(path, tables[0], given))
    return best[1:]


def _heading_rows(rows: Sequence[Row]) -> Iterator[tuple[int, Row]]:
    """Rows that may be the headings, with their places; also two rows as one, where the lower one divides cells of the
    upper one ("Bike" above "Make" and "Model")."""
    for place, row in enumerate(rows[:_HEADING_ROWS]):
        yield place, row
        below = rows[place + 1] if place + 1 < len(rows) else Row(0, ())
        width = max(len(row.cells), len(below.cells))
        upper, lower = (one.cells + ("",) * (width - len(one.cells)) for one in (row, below))
        divides = [cell for cell in lower if cell]
        if divides and all(max(_scores(cell).values(), default=0.0) >= _EXACT for cell in divides):
            yield place + 1, Row(row.line, tuple(under or over for over, under in zip(upper, lower, strict=True)))


def _no_job_numbers(path: Path, rows: Sequence[Row], given: Mapping[str, str | None]) -> str:
    likeliest = max(rows[:_HEADING_ROWS], key=lambda row: sum(bool(_scores(cell)) for cell in row.cells if cell))
    seen = ", ".join(repr(cell[:40]) for cell in likeliest.cells if cell)[:300]
    missing = [heading for heading in given.values() if heading and heading not in likeliest.cells]
    if missing:
        return f"{path}: there is no column headed {missing[0]!r}; the headings are {seen}"
    return f'{path}: no column of job numbers; the headings are {seen}; name one of them "Job", or say which by --map'


def _month_first_fields(rows: Sequence[Row], places: Places, default: bool) -> frozenset[str]:
    """The date fields that are written month first: as the column shows, else as the others do, else the default."""
    columns = {
        name: [row.cells[place] for row in rows for place in columns if place < len(row.cells)]
        for name, columns in places.items()
        if name in DATE_FIELDS
    }
    shown = {name: month_comes_first(texts) for name, texts in columns.items()}
    others = month_comes_first(text for texts in columns.values() for text in texts)
    usual = default if others is None else others
    return frozenset(name for name, first in shown.items() if (usual if first is None else first))


@dataclass(slots=True)
class _RowReader:
    """Turns rows into what they say, by the places of the columns; gathers what could not be taken or looks wrong."""

    places: Places
    month_first: frozenset[str]
    problems: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def read(self, row: Row) -> JobRow | None:
        if row.problem:
            self._not_taken(row, row.problem)
            return None
        cells = {name: text for name, columns in self.places.items() if (text := self._cell(row, name, columns))}
        too_long = [name for name, text in cells.items() if len(text) > LONGEST_CELL]
        if too_long:
            self._not_taken(row, f"the cell under {too_long[0]!r} is too long; is a quotation mark left open there?")
            return None
        job_number = plain_job_number(cells.pop("job_number", ""))
        if not job_number:
            self._not_taken(row, "no job number")
            return None
        public = cells.pop("public", None)
        values: dict[str, Any] = dict(cells)
        for name in DATE_FIELDS:
            if name in cells and (date := self._date(row, name, cells[name])) is None:
                del values[name]
            elif name in cells:
                values[name] = date
        if "year" in cells:
            values["year"] = self._year(row, cells["year"])
        if "bike" in cells:
            _split_bike(values)
        if vin_problem := vin_warning(cells.get("vin", "")):
            self.warnings.append(
                f"line {row.line}: the VIN of job {job_number} looks wrong: {vin_problem}; kept as it is"
            )
        if public is not None and (answer := self._yes_or_no(row, public)) is not None:
            values["public"] = answer
        return JobRow(row.line, job_number, {name: value for name, value in values.items() if value is not None})

    def _cell(self, row: Row, name: str, columns: Sequence[int]) -> str | None:
        """What a row says of a field; of several columns under one heading the first that says anything."""
        texts = [row.cells[place] for place in columns if place < len(row.cells)]
        said = list(dict.fromkeys(text for text in texts if text and text.lower() not in word_set("no_value")))
        for other in said[1:]:
            self._not_taken(
                row, f"two columns are headed alike ({name}); {said[0]!r} was kept, {other!r} was not taken"
            )
        return said[0] if said else None

    def _not_taken(self, row: Row, why: str) -> None:
        self.problems.append(f"line {row.line}: {why}")

    def _date(self, row: Row, name: str, text: str) -> str | None:
        date = iso_date(text, month_first=name in self.month_first)
        if date is None and text.lower().rstrip(".!") not in word_set("no_date"):
            self._not_taken(row, f"{text!r} is no date ({name.replace('_', ' ')}); left empty")
        return date

    def _year(self, row: Row, text: str) -> str | None:
        year = plain_year(text)
        if year is None and text.lower().rstrip(".!") not in word_set("no_date"):
            self._not_taken(row, f"{text!r} is no year; left empty")
        return year

    def _yes_or_no(self, row: Row, text: str) -> bool | None:
        answer = _is_yes(text)
        if answer is None:
            self._not_taken(
                row, f"{text!r} under public is neither yes nor no; taken as no unless it was settled before"
            )
        return answer


def plain_job_number(text: str) -> str:
    """A job number as it is stored: without "#", "job" or "no." before it and without a spreadsheet's ".0"."""
    text = re.sub(r"^(?:(?:job|order|no|nr|number)\b[\s.:]*)*#?\s*(?=\S*\d)", "", text.strip(), flags=re.IGNORECASE)
    return re.sub(r"^(\d+)\.0+$", r"\1", text)


def _split_bike(values: dict[str, Any]) -> None:
    """Put a cell with make and model into both fields; the make is its first word, or "This & That"."""
    text = values.pop("bike") or ""
    words = text.split()
    if words and re.fullmatch(r"(?:19|20)\d\d", words[0]) and len(words) > 1:
        values["year"] = values.get("year") or words[0]
        words = words[1:]
    length = 3 if len(words) > 3 and words[1].lower() in _CONNECTORS else 1
    rest = "".join(words[length:])
    if values.get("make") or not any(sign.isalpha() for sign in rest):
        values.setdefault("model", " ".join(words) or None)
        return
    values["make"], values["model"] = " ".join(words[:length]), " ".join(words[length:])


def _is_yes(text: str) -> bool | None:
    words = text.casefold().split()
    first = words[0].strip(".,;:!") if words else ""
    if first in word_set("granted"):
        return True
    return False if not words or first in word_set("withheld") else None
