"""The shop's job book, read without retyping: headings are guessed, rows that cannot be taken are named by line."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache
from pathlib import Path

import yaml

from diaryidx.builds.dates import iso_date, month_comes_first
from diaryidx.builds.tables import LONGEST_CELL, Row, read_table
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
_CONNECTORS = frozenset({"&", "and", "+", "und", "et"})


@dataclass(frozen=True, slots=True)
class JobBook:
    """A job book as read. ``columns`` says which heading fills which field; ``problems`` name rows and their lines."""

    builds: tuple[Build, ...]
    columns: dict[str, str]
    problems: tuple[str, ...]


def read_job_book(path: Path, columns: Mapping[str, str] | None = None) -> JobBook:
    """Read a table of builds.

    :param path: a .csv (comma, semicolon, tab or bar; UTF-8, UTF-16 or Windows-1252) or an .xlsx file.
    :param columns: ``{field: heading}`` as a person confirmed it; it outranks the guess for these fields.
    :returns: one build a row, the first of each job number, in the order of the rows.
    :raises JobBookError: the file is no table, has no column of job numbers, or not a heading that ``columns`` names.
    """
    tables = read_table(path)
    headings, rows, found = _first_with_job_numbers(path, tables, columns or {})
    places = {field: headings.cells.index(heading) for field, heading in found.items()}
    reader = _RowReader(places, _month_first_fields(rows, places))
    builds: dict[str, Build] = {}
    lines: dict[str, int] = {}
    problems: list[str] = []
    for row in rows:
        build, row_problems = reader.read(row)
        problems += [f"line {row.line}: {problem}" for problem in row_problems]
        if build is None:
            continue
        if build.job_number in builds:
            first = lines[build.job_number]
            problems.append(f"line {row.line}: job {build.job_number} is there twice; line {first} was kept")
            continue
        builds[build.job_number], lines[build.job_number] = build, row.line
    return JobBook(tuple(builds.values()), found, tuple(problems))


def guess_columns(headings: Sequence[str], given: Mapping[str, str] | None = None) -> dict[str, str]:
    """Which heading fills which field of a build: exact names first, then names within headings, then alike ones.

    :param given: fields that a person has settled; their headings are not guessed for anything else.
    :returns: ``{field: heading}``; "bike" stands for a column with make and model in one cell.
    """
    found = dict(given or {})
    taken = set(found.values())
    scores = sorted(
        ((score, -place, field, heading) for place, heading in enumerate(headings) if heading and heading not in taken
         for field, score in _scores(heading).items()),
        reverse=True,
    )  # fmt: skip
    for _score, _place, field, heading in scores:
        if field not in found and heading not in taken:
            found[field] = heading
            taken.add(heading)
    if "bike" in found and "bike" not in (given or {}) and "model" in found:
        del found["bike"]
    return found


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
    for field, names in _synonyms().items():
        best = 0.0
        for place, name in enumerate(names):
            surer = 1 - place / 100
            if plain == name or plain.replace(" ", "") == name.replace(" ", ""):
                best = max(best, 2 + surer)
            elif len(name) > 2 and f" {name} " in f" {plain} ":
                best = max(best, 1 + surer * len(name) / len(plain))
            elif len(plain) > 3 and (alike := SequenceMatcher(None, plain, name).ratio()) >= _ALIKE:
                best = max(best, alike * surer)
        if best:
            scores[field] = best
    return scores


def _first_with_job_numbers(
    path: Path, tables: Sequence[Sequence[Row]], given: Mapping[str, str]
) -> tuple[Row, Sequence[Row], dict[str, str]]:
    """The heading row, the rows below it and the columns, of the first sheet that has job numbers."""
    unknown = [field for field in given if field not in _synonyms()]
    if unknown:
        raise JobBookError(f"{path}: there is no field {unknown[0]!r}; known are {', '.join(_synonyms())}")
    best: tuple[int, Row, Sequence[Row], dict[str, str]] | None = None
    for rows in tables:
        for place, row in enumerate(rows[:_HEADING_ROWS]):
            if not all(heading in row.cells for heading in given.values()):
                continue
            found = guess_columns(row.cells, given)
            if (
                "job_number" in found
                and (len(found) > 1 or len(row.cells) == 1)
                and (best is None or len(found) > best[0])
            ):
                best = (len(found), row, rows[place + 1 :], found)
    if best is None:
        raise JobBookError(_no_job_numbers(path, tables[0], given))
    return best[1:]


def _no_job_numbers(path: Path, rows: Sequence[Row], given: Mapping[str, str]) -> str:
    likeliest = max(rows[:_HEADING_ROWS], key=lambda row: sum(bool(_scores(cell)) for cell in row.cells if cell))
    seen = ", ".join(repr(cell[:40]) for cell in likeliest.cells if cell)[:300]
    missing = [heading for row_heading in [likeliest] for heading in given.values() if heading not in row_heading.cells]
    if missing:
        return f"{path}: there is no column headed {missing[0]!r}; the headings are {seen}"
    return f'{path}: no column of job numbers; the headings are {seen}; name one of them "Job"'


def _month_first_fields(rows: Sequence[Row], places: Mapping[str, int]) -> frozenset[str]:
    """The date fields that are written month first; one such column and none against it settles the others too."""
    columns = {
        field: [row.cells[place] for row in rows if place < len(row.cells)]
        for field, place in places.items()
        if field in DATE_FIELDS
    }
    whole_book = month_comes_first(text for texts in columns.values() for text in texts)
    return frozenset(field for field, texts in columns.items() if whole_book or month_comes_first(texts))


@dataclass(frozen=True, slots=True)
class _RowReader:
    """Turns rows into builds, by the places of the columns."""

    places: Mapping[str, int]
    month_first: frozenset[str]

    def read(self, row: Row) -> tuple[Build | None, list[str]]:
        cells = {
            field: row.cells[place]
            for field, place in self.places.items()
            if place < len(row.cells) and row.cells[place]
        }
        too_long = [field for field, text in cells.items() if len(text) > LONGEST_CELL]
        if too_long:
            return None, [f"the cell under {too_long[0]!r} is too long; is a quotation mark left open there?"]
        job_number = plain_job_number(cells.pop("job_number", ""))
        if not job_number:
            return None, ["no job number"]
        problems: list[str] = []
        values: dict[str, str | None] = dict(cells)
        values.pop("public", None)
        for field in DATE_FIELDS:
            if field in cells:
                values[field] = iso_date(cells[field], month_first=field in self.month_first)
                if values[field] is None:
                    problems.append(f"{cells[field]!r} is no date ({field.replace('_', ' ')}); left empty")
        if "bike" in cells:
            _split_bike(values)
        if vin_problem := vin_warning(cells.get("vin", "")):
            problems.append(f"the VIN of job {job_number} looks wrong: {vin_problem}; kept as it is")
        public = _is_yes(cells.get("public", ""))
        if public is None:
            problems.append(f"{cells['public']!r} under public is neither yes nor no; taken as no")
        return Build(job_number=job_number, public=bool(public), **values), problems


def plain_job_number(text: str) -> str:
    """A job number as it is stored: without "#", "job" or "no." before it and without a spreadsheet's ".0"."""
    text = re.sub(r"^(?:(?:job|order|no|nr|number)\b[\s.:]*)*#?\s*(?=\S*\d)", "", text.strip(), flags=re.IGNORECASE)
    return re.sub(r"^(\d+)\.0+$", r"\1", text)


def _split_bike(values: dict[str, str | None]) -> None:
    """Put a cell with make and model into both fields; the make is its first word, or "This & That"."""
    text = values.pop("bike") or ""
    words = text.split()
    if words and re.fullmatch(r"(?:19|20)\d\d", words[0]) and len(words) > 1:
        values.setdefault("year", words[0])
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
