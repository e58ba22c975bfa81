"""A spreadsheet file as rows of text: .csv in any common encoding and separator, .xlsx where openpyxl is there."""

from __future__ import annotations

import codecs
import csv
import io
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from itertools import islice
from pathlib import Path
from typing import Any

from diaryidx.errors import JobBookError

SEPARATORS = ",;\t|~^¦"
#: How many lines are looked at to find the separator.
_SAMPLE_LINES = 20
#: A cell of more text than this is a quote that was never closed, not something a person wrote (our own choice).
LONGEST_CELL = 20_000
#: The largest workbook that is read, in bytes once unpacked: some hundred thousand rows (our own choice).
LARGEST_WORKBOOK = 400_000_000
#: How far an open quotation mark is followed until it counts as forgotten, in characters (our own choice).
_LONGEST_QUOTED = 100_000
#: A cell merged over more rows than this is no value of theirs (our own choice).
_MOST_MERGED = 1000
OPEN_QUOTE = "a quotation mark is left open there; the row was not taken"
TOO_LONG = "a cell is too long to be one; the row was not taken"
_ZIP_MAGIC = b"PK\x03\x04"
_OLD_EXCEL_MAGIC = b"\xd0\xcf\x11\xe0"
_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: the line it begins at (1 for the first) and its cells as text, stripped.

    ``problem`` is why the row cannot be taken as it is cut; its cells are only what can be made of it then.
    """

    line: int
    cells: tuple[str, ...]
    problem: str | None = None


def read_tables(path: Path) -> dict[str, list[Row]]:
    """Read the tables of a file by their names: one without a name for a .csv, one a sheet for an .xlsx.

    Rows without any text are left out.

    :raises JobBookError: the file is missing, empty, no table, or in an encoding that cannot be told.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise JobBookError(f"{path}: the job book cannot be read ({error.strerror}); check the path") from error
    if not raw.strip():
        raise JobBookError(f"{path}: the job book is empty; export it again from your spreadsheet")
    if raw.startswith(_OLD_EXCEL_MAGIC):
        raise JobBookError(
            f"{path}: an old .xls file or one with a password cannot be read; save it as .xlsx or .csv and import that"
        )
    tables = _sheets(path, raw) if raw.startswith(_ZIP_MAGIC) else {"": _csv_rows(path, decode(path, raw))}
    tables = {name: rows for name, rows in tables.items() if rows}
    if not tables:
        raise JobBookError(f"{path}: the job book has no rows; export it again from your spreadsheet")
    return tables


def decode(path: Path, raw: bytes) -> str:
    """The text of a file: by its byte order mark, else UTF-8, else UTF-16 by its zero bytes, else Windows-1252.

    :raises JobBookError: none of these fits.
    """
    encoding = next((name for mark, name in _BYTE_ORDER_MARKS if raw.startswith(mark)), None)
    if encoding is None and b"\0" in raw[:400]:
        zeros_first = raw[:400:2].count(0) > raw[1:400:2].count(0)
        encoding = "utf-16-be" if zeros_first else "utf-16-le"
    for attempt in (encoding,) if encoding else ("utf-8", "cp1252"):
        try:
            text = raw.decode(attempt) if attempt != "cp1252" else _of_both(raw)
        except UnicodeDecodeError:
            continue
        if "\0" not in text and not _mostly_control(text):
            return text
    raise JobBookError(f"{path}: not a text table that can be read; save it as .csv (UTF-8) or .xlsx and import that")


def _of_both(raw: bytes) -> str:
    """The text of a file that is not UTF-8 as a whole: each line as UTF-8 if it is, else as Windows-1252; rows pasted
    together from two programs keep their letters."""
    lines = []
    for line in raw.splitlines(keepends=True):
        try:
            lines.append(line.decode("utf-8"))
        except UnicodeDecodeError:
            lines.append(line.decode("cp1252"))
    return "".join(lines)


def _mostly_control(text: str) -> bool:
    """Whether text is really some other kind of file: a table has hardly a control character."""
    sample = text[:4000]
    strange = sum(1 for sign in sample if sign < " " and sign not in "\t\r\n\f")
    return strange * 50 > len(sample)


def _csv_rows(path: Path, text: str) -> list[Row]:
    lines = text.splitlines()
    skipped = 0
    separator = None
    if lines and lines[0].lower().startswith("sep=") and len(lines[0].strip()) == len("sep=") + 1:
        # A hint that some spreadsheets write and read; it is no row of the table.
        separator, skipped = lines[0][len("sep=")], 1
        text = "\n".join(lines[1:])
    try:
        return list(_parsed(text, separator or _separator(lines), skipped))
    except csv.Error as error:
        raise JobBookError(f"{path}: not a table that can be read ({error}); export it again as .csv") from error


def _separator(lines: list[str]) -> str:
    """The separator that cuts the first lines into the most columns, the same number in most of them."""
    sample = [line for line in lines if line.strip()][:_SAMPLE_LINES]
    best, best_score = ",", 0.0
    for separator in SEPARATORS:
        widths = [len(row) for row in csv.reader(sample, delimiter=separator)]
        usual = max(widths, key=lambda width: (widths.count(width), width), default=1)
        score = (usual - 1) * widths.count(usual) / max(len(widths), 1)
        if score > best_score:
            best, best_score = separator, score
    return best


def _parsed(text: str, separator: str, skipped: int) -> Iterator[Row]:
    """The rows of a text. A quotation mark that is left open would swallow the lines behind it, so such a line stands
    alone as a row that cannot be taken, and the next line begins the next row."""
    csv.field_size_limit(_LONGEST_QUOTED)
    lines = list(io.StringIO(text, newline=""))
    place = 0
    while place < len(lines):
        reader = csv.reader(islice(lines, place, None), delimiter=separator, strict=True)
        begun = place
        try:
            for cells in reader:
                row = Row(begun + 1 + skipped, tuple(_plain_text(cell) for cell in cells))
                begun = place + reader.line_num
                if any(row.cells):
                    yield row
        except csv.Error:
            yield from _line_alone(lines[begun], separator, begun + 1 + skipped)
            begun += 1
        place = begun


def _line_alone(line: str, separator: str, number: int) -> Iterator[Row]:
    """A line whose quotation marks do not fit: taken where they are only inside a cell, else told of."""
    try:
        closed = next(csv.reader([line, "\x00"], delimiter=separator), [])
        cells = tuple(_plain_text(cell) for cell in closed)
        problem = OPEN_QUOTE if any("\x00" in cell for cell in closed) else None
    except csv.Error:
        cells, problem = (_plain_text(line[:LONGEST_CELL]),), TOO_LONG
    if any(cells):
        yield Row(number, tuple(cell.replace("\x00", "") for cell in cells), problem)


def _sheets(path: Path, raw: bytes) -> dict[str, list[Row]]:
    try:
        import openpyxl  # type: ignore[import-untyped]
    except ImportError as error:
        raise JobBookError(f"{path}: reading .xlsx needs openpyxl; `pip install openpyxl`, or save as .csv") from error
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as parts:
            unpacked = sum(part.file_size for part in parts.infolist())
        if unpacked > LARGEST_WORKBOOK:
            raise JobBookError(f"{path}: holds {unpacked // 1_000_000} MB once unpacked; save the job book alone")
        book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
        return {sheet.title: list(_sheet_rows(sheet, _merged_down(raw, sheet))) for sheet in book.worksheets}
    except JobBookError:
        raise
    except Exception as error:  # openpyxl raises whatever a damaged file makes it stumble over
        raise JobBookError(f"{path}: not a workbook that can be read; save it again as .xlsx or .csv") from error


def _merged_down(raw: bytes, sheet: object) -> dict[tuple[int, int], int]:
    """The cells that are merged into one above them in the same column, as ``{(line, column): line of that one}``.

    What stands in such a cell is seen beside every row of it. Cells merged across are titles and stay apart. openpyxl
    does not tell merged cells of sheets that it reads row by row, so they are read here (ECMA-376 part 1, 18.3.1.55).
    """
    merged: dict[tuple[int, int], int] = {}
    with zipfile.ZipFile(io.BytesIO(raw)) as parts, parts.open(str(sheet._worksheet_path).lstrip("/")) as part:  # type: ignore[attr-defined]
        found = re.findall(rb'<(?:\w+:)?mergeCell [^>]*ref="([A-Z]+)(\d+):([A-Z]+)(\d+)"', part.read())
    for column, first, last_column, last in found:
        if column == last_column and int(last) - int(first) < _MOST_MERGED:
            place = sum((letter - 64) * 26**power for power, letter in enumerate(reversed(column)))
            merged |= {(line, place - 1): int(first) for line in range(int(first) + 1, int(last) + 1)}
    return merged


def _sheet_rows(sheet: object, merged: Mapping[tuple[int, int], int]) -> Iterator[Row]:
    sheet.reset_dimensions()  # type: ignore[attr-defined]  # some programs write a wrong size, which would cut the table
    seen: dict[tuple[int, int], str] = {}
    heads = {(first, column) for (_line, column), first in merged.items()}
    for line, cells in enumerate(sheet.iter_rows(), start=1):  # type: ignore[attr-defined]
        texts = [_with_zeros(_cell_text(cell.value), cell) for cell in cells]
        seen |= {(line, column): text for column, text in enumerate(texts) if (line, column) in heads} if heads else {}
        if any(texts) and merged:
            texts = [text or seen.get((merged.get((line, column), 0), column), "") for column, text in enumerate(texts)]
        if any(texts):
            yield Row(line, tuple(texts))


def _with_zeros(text: str, cell: Any) -> str:
    """A whole number with the zeros in front that its cell's format shows ("0000", ECMA-376 part 1, 18.8.30)."""
    if text.isdigit() and isinstance(cell.value, int | float) and set(cell.number_format) == {"0"}:
        return text.zfill(len(cell.number_format))
    return text


def _cell_text(cell: object) -> str:
    """A cell as a person sees it: whole numbers without a point, dates as ISO 8601, ticks as yes."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    if isinstance(cell, date):
        return cell.isoformat()
    return _plain_text(str(cell))


def _plain_text(cell: str) -> str:
    """A cell in one line, without double spaces; the lines of a list stay apart by semicolons."""
    lines = [" ".join(line.split()).strip(" ;") for line in cell.splitlines()]
    return "; ".join(line for line in lines if line)
