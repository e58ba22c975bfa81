from __future__ import annotations

import time
from pathlib import Path

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diaryidx.builds.job_book import guess_columns, read_job_book
from diaryidx.builds.word_lists import word_set
from diaryidx.errors import JobBookError

BOOK = """Job no.,Client,Marque,Model,Reg,Arrived,Due,Wants,OK to publish
31,Ada Quill,Tarnbeck,Otter 500,KL19 XYZ,3/11/2025,24 Dec 2025,"tan seat, satin black rims",yes
32,Bram Thistle,Orrin,Heron 900,,14/11/2025,,new loom,no
"""


def written(folder: Path, text: str, encoding: str = "utf-8", name: str = "jobs.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode(encoding))
    return path


def test_a_book_of_common_headings_is_read_whole(tmp_path: Path) -> None:
    book = read_job_book(written(tmp_path, BOOK))
    first, second = book.builds
    assert (first.job_number, first.customer, first.make, first.model) == ("31", "Ada Quill", "Tarnbeck", "Otter 500")
    assert (first.registration, first.date_in, first.promised, first.public) == (
        "KL19 XYZ",
        "2025-11-03",
        "2025-12-24",
        True,
    )
    assert first.asked_for == "tan seat, satin black rims"
    assert (second.job_number, second.registration, second.public) == ("32", None, False)
    assert book.problems == ()
    assert book.columns["asked_for"] == "Wants"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|", "~", "^"])
def test_encodings_and_separators_of_common_spreadsheets(tmp_path: Path, encoding: str, separator: str) -> None:
    text = f'Job{separator}Owner{separator}Notes\r\n7{separator}Zoë Mårdén{separator}"a{separator}b ""c"""\r\n'
    (build,) = read_job_book(written(tmp_path, text, encoding)).builds
    inside = " " if separator == "\t" else separator  # white space of any kind becomes one space
    assert (build.job_number, build.customer, build.asked_for) == ("7", "Zoë Mårdén", f'a{inside}b "c"')


def test_a_separator_hint_and_a_title_above_the_table_are_passed_over(tmp_path: Path) -> None:
    text = "sep=;\nOur jobs 2025;;\n;;\nOrder;Bike;Colour\n9;Tarnbeck Otter;green\n;;\n10;Orrin;blue\n"
    book = read_job_book(written(tmp_path, text))
    assert [build.job_number for build in book.builds] == ["9", "10"]


def test_make_and_model_in_one_cell_are_split_where_the_book_has_no_make(tmp_path: Path) -> None:
    text = "Job,Bike\n1,1978 Tarnbeck Otter 500\n2,Fell & Moss Stoat\n3,Heron\n4,Vole 250\n"
    builds = read_job_book(written(tmp_path, text)).builds
    assert [(build.make, build.model) for build in builds] == [
        ("Tarnbeck", "Otter 500"),
        ("Fell & Moss", "Stoat"),
        (None, "Heron"),
        (None, "Vole 250"),
    ]
    assert builds[0].year == "1978"


def test_a_make_column_keeps_the_bike_column_whole(tmp_path: Path) -> None:
    (build,) = read_job_book(written(tmp_path, "Job,Make,Bike\n1,Tarnbeck,Otter Sport 500\n")).builds
    assert (build.make, build.model) == ("Tarnbeck", "Otter Sport 500")


def test_rows_that_cannot_be_taken_are_named_by_their_line_and_the_rest_is_read(tmp_path: Path) -> None:
    text = 'Job,Owner,In,Public\n5,Ada,2025-01-02,y\n,Bram,,\n5,Cleo,,\n6,"Dov\nLarkspur",soon,perhaps\n7,Edda,,no\n'
    book = read_job_book(written(tmp_path, text))
    assert [(build.job_number, build.customer) for build in book.builds] == [
        ("5", "Ada"),
        ("6", "Dov; Larkspur"),
        ("7", "Edda"),
    ]
    assert book.problems == (
        "line 3: no job number",
        "line 4: job 5 is there twice; line 2 was kept",
        "line 5: 'soon' is no date (date in); left empty",
        "line 5: 'perhaps' under public is neither yes nor no; taken as no unless it was settled before",
    )


def test_a_vin_that_cannot_be_right_is_kept_and_warned_of(tmp_path: Path) -> None:
    book = read_job_book(written(tmp_path, "Job,VIN\n1,1M8GDM9A0KP042788\n"))
    assert book.builds[0].vin == "1M8GDM9A0KP042788"
    assert book.problems == ()
    assert len(book.warnings) == 1 and "line 2" in book.warnings[0] and "check digit" in book.warnings[0]


def test_a_quotation_mark_left_open_costs_its_row_and_no_other(tmp_path: Path) -> None:
    text = 'Job,Notes\n1,fine\n2,"never closed\n' + "".join(f"{n},something else\n" for n in range(3, 1500))
    book = read_job_book(written(tmp_path, text))
    assert [build.job_number for build in book.builds] == ["1", *map(str, range(3, 1500))]
    assert book.problems == ("line 3: a quotation mark is left open there; the row was not taken",)


def test_a_quotation_mark_left_open_before_one_that_is_right_costs_its_row_alone(tmp_path: Path) -> None:
    text = 'Job;Notes;Make\n1;5" wheel;Orrin\n2;"tank;Orrin\n3;"done; all of it";Orrin\n4;"two\nlines";Orrin\n'
    book = read_job_book(written(tmp_path, text))
    assert [(build.job_number, build.asked_for) for build in book.builds] == [
        ("1", '5" wheel'),
        ("3", "done; all of it"),
        ("4", "two; lines"),
    ]
    assert [problem.partition(":")[0] for problem in book.problems] == ["line 3"]


@pytest.mark.parametrize(
    ("typed", "year"),
    [
        ("1978", "1978"),
        ("78", "1978"),
        ("'04", "2004"),
        ("1978.0", "1978"),
        ("5/1978", "1978"),
        ("1978-06-01", "1978"),
        ("c. 1978", "c. 1978"),
        ("1978/79", "1978/79"),
        ("nineteen seventy-eight", "1978"),
    ],
)
def test_the_year_of_a_bike_as_people_type_it(tmp_path: Path, typed: str, year: str) -> None:
    book = read_job_book(written(tmp_path, f"Job,Year\n1,{typed}\n"))
    assert (book.builds[0].year, book.problems) == (year, ())


@pytest.mark.parametrize("typed", ["nineteen", "banana", "3078", "70s", "197"])
def test_what_is_no_year_is_told_with_its_line_and_the_rest_of_the_row_is_taken(tmp_path: Path, typed: str) -> None:
    book = read_job_book(written(tmp_path, f"Job,Year,Make\n1,{typed},Orrin\n"))
    assert (book.builds[0].year, book.builds[0].make) == (None, "Orrin")
    assert book.problems == (f"line 2: '{typed}' is no year; left empty",)


def test_of_two_columns_headed_alike_each_row_gives_the_one_that_is_filled(tmp_path: Path) -> None:
    book = read_job_book(written(tmp_path, "Job,Customer,Customer\n1,Ada,\n2,,Bram\n3,Cleo,Cleo\n4,Dov,Edda\n"))
    assert [build.customer for build in book.builds] == ["Ada", "Bram", "Cleo", "Dov"]
    assert book.problems == ("line 5: two columns are headed alike (customer); 'Dov' was kept, 'Edda' was not taken",)


def test_rows_of_two_encodings_in_one_file_keep_their_letters(tmp_path: Path) -> None:
    path = tmp_path / "jobs.csv"
    path.write_bytes("Job;Owner\n1;Jörg\n".encode() + "2;Zoë\n".encode("cp1252"))
    assert [build.customer for build in read_job_book(path).builds] == ["Jörg", "Zoë"]


def test_a_column_without_a_heading_is_told_of(tmp_path: Path) -> None:
    book = read_job_book(written(tmp_path, "Job,,Make\n1,,Orrin\n2,tan seat,Orrin\n"))
    assert book.warnings == ("line 3: column 2 has no heading, so what stands in it is not taken",)
    assert len(book.builds) == 2


def test_numbers_that_can_be_no_day_are_told_and_days_with_a_time_are_read(tmp_path: Path) -> None:
    book = read_job_book(written(tmp_path, "Job,In,Due\n1,45964.75,2025-11-03 10:00\n2,99999,\n"))
    assert (book.builds[0].date_in, book.builds[0].promised) == ("2025-11-03", "2025-11-03")
    assert book.problems == ("line 3: '99999' is no date (date in); left empty",)


def test_job_numbers_lose_the_marks_around_them(tmp_path: Path) -> None:
    text = "Job #\n#0012\nJob 13\n14.0\nA-15\nOrder No. 16\n"
    assert [b.job_number for b in read_job_book(written(tmp_path, text)).builds] == ["0012", "13", "14", "A-15", "16"]


def test_an_american_book_is_read_month_first(tmp_path: Path) -> None:
    text = "Job,Date in,Due\n1,02/03/2025,04/05/2025\n2,02/25/2025,04/06/2025\n"
    first = read_job_book(written(tmp_path, text)).builds[0]
    assert (first.date_in, first.promised) == ("2025-02-03", "2025-04-05")


def test_columns_that_a_person_named_outrank_the_guess(tmp_path: Path) -> None:
    path = written(tmp_path, "Job,Old job,Notes,Remarks\n1,77,wrong,right\n")
    (build,) = read_job_book(path, {"job_number": "Old job", "asked_for": "Remarks"}).builds
    assert (build.job_number, build.asked_for) == ("77", "right")


@pytest.mark.parametrize(
    ("heading", "field"),
    [
        ("JOB NUMBER", "job_number"),
        ("job #", "job_number"),
        ("Job-No", "job_number"),
        ("Works order", "job_number"),
        ("Reg no.", "registration"),
        ("Plate", "registration"),
        ("Numberplate", "registration"),
        ("Owner's name", "customer"),
        ("Client", "customer"),
        ("Marque", "make"),
        ("Colour", "colour"),
        ("color", "colour"),
        ("Chassis No.", "vin"),
        ("Notes/wants", "asked_for"),
        ("Custumer", "customer"),
        ("Date recieved", "date_in"),
        ("Due date", "promised"),
        ("Collected on", "date_out"),
        ("Status", "state"),
        ("Known as", "nickname"),
        ("May be shown", "public"),
    ],
)
def test_headings_are_guessed(heading: str, field: str) -> None:
    headings = ["Job", heading] if field != "job_number" else [heading]
    assert guess_columns(headings).get(field) == heading


def test_each_heading_fills_one_field_and_each_field_has_one_heading() -> None:
    found = guess_columns(["Job", "Date", "Date in", "Date out", "Name", "Bike name", "Bike", "Model"])
    assert len(set(found.values())) == len(found)
    assert found["date_in"] == "Date in" and found["date_out"] == "Date out" and found["nickname"] == "Bike name"


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "is empty"),
        (b"  \n \n", "is empty"),
        (b"Name,Bike\nAda,Otter\n", "no column of job numbers; the headings are 'Name', 'Bike'"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\1\0\0\0\1\0\x08\x02\0\0\0", "not a text table"),
        (b"PK\x03\x04 but not really a zip file at all", "not a workbook"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "old .xls"),
        (b"Job,Owner\n1,\x81\x8d\x8f\x90\x9d\n", "not a text table"),
    ],
)
def test_what_is_no_job_book_is_one_clear_line(tmp_path: Path, raw: bytes, words: str) -> None:
    path = tmp_path / "jobs.csv"
    path.write_bytes(raw)
    with pytest.raises(JobBookError) as caught:
        read_job_book(path)
    assert words in str(caught.value) and str(path) in str(caught.value) and "\n" not in str(caught.value)


def test_a_missing_file_and_an_unknown_column_are_named(tmp_path: Path) -> None:
    with pytest.raises(JobBookError, match="cannot be read"):
        read_job_book(tmp_path / "nowhere.csv")
    path = written(tmp_path, BOOK)
    with pytest.raises(JobBookError, match="no column headed 'Wishes'"):
        read_job_book(path, {"asked_for": "Wishes"})
    with pytest.raises(JobBookError, match="no field 'wish'"):
        read_job_book(path, {"wish": "Wants"})


def test_a_workbook_is_read_with_its_dates_and_numbers(tmp_path: Path) -> None:
    from datetime import date, datetime

    workbook = openpyxl.Workbook()
    workbook.active.title = "Cover"  # type: ignore[union-attr]
    workbook.active.append(["Our workshop"])  # type: ignore[union-attr]
    sheet = workbook.create_sheet("Jobs")
    sheet.append(["All jobs", None])
    sheet.append(["Job", "Owner", "In", "Out", "Public", "Year"])
    sheet.append([31, "Ada Quill", datetime(2025, 11, 3), date(2025, 12, 1), True, 1978.0])
    path = tmp_path / "jobs.xlsx"
    workbook.save(path)
    (build,) = read_job_book(path).builds
    assert (build.job_number, build.date_in, build.date_out) == ("31", "2025-11-03", "2025-12-01")
    assert build.public and build.year == "1978"


def test_headings_in_two_rows_with_merged_cells_are_read_as_one(tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.append(["Job", "Bike", None, "Dates", None])
    sheet.append([None, "Make", "Model", "In", "Out"])
    for cells in ("A1:A2", "B1:C1", "D1:E1"):
        sheet.merge_cells(cells)
    sheet.append([31, "Orrin", "Heron", 45964, "14.12.2025"])
    path = tmp_path / "jobs.xlsx"
    workbook.save(path)
    book = read_job_book(path)
    (build,) = book.builds
    assert (build.make, build.model, build.date_in, build.date_out) == ("Orrin", "Heron", "2025-11-03", "2025-12-14")
    assert book.problems == ()


def test_headings_divided_below_without_merging_are_read_as_one_row(tmp_path: Path) -> None:
    book = read_job_book(written(tmp_path, "Job,Bike,,When\n,Make,Model,In\n7,Orrin,Heron,3/11/2025\n"))
    assert [(build.make, build.model, build.date_in) for build in book.builds] == [("Orrin", "Heron", "2025-11-03")]
    assert book.problems == ()


def test_a_cell_merged_over_several_rows_counts_for_each(tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    for row in (["Job", "Owner", "Make"], [1, "Ada Quill", "Orrin"], [2, None, "Tarnbeck"], [3, None, "Tarnbeck"]):
        sheet.append(row)
    sheet.merge_cells("B2:B3")
    path = tmp_path / "jobs.xlsx"
    workbook.save(path)
    assert [build.customer for build in read_job_book(path).builds] == ["Ada Quill", "Ada Quill", None]


def test_a_hundred_thousand_rows_take_a_few_seconds(tmp_path: Path) -> None:
    rows = "".join(
        f"{n},Owner {n},Tarnbeck,Otter {n % 9},{n % 28 + 1}/{n % 12 + 1}/2025,tan seat\n" for n in range(100_000)
    )
    path = written(tmp_path, "Job,Client,Make,Model,Date in,Wants\n" + rows)
    began = time.perf_counter()
    assert len(read_job_book(path).builds) == 100_000
    assert time.perf_counter() - began < 15


cell = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=12)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)
@given(rows=st.lists(st.lists(cell, min_size=3, max_size=3), min_size=1, max_size=6))
def test_what_the_csv_writer_writes_is_read_back(tmp_path: Path, rows: list[list[str]]) -> None:
    import csv

    path = tmp_path / "any.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(["Job", "Owner", "Colour"])
        writer.writerows([[f"J{place}", *row[1:]] for place, row in enumerate(rows)])
    book = read_job_book(path)
    assert [build.job_number for build in book.builds] == [f"J{place}" for place in range(len(rows))]
    for build, row in zip(book.builds, rows, strict=True):
        if row[1].strip().lower() in word_set("no_value"):
            assert build.customer is None
            continue
        assert "".join((build.customer or "").split()) == "".join(row[1].split()) or ";" in row[1] + (
            build.customer or ""
        )


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=300)
@given(
    raw=st.one_of(
        st.binary(max_size=300),
        st.text(max_size=300).map(lambda text: ("Job,Owner\n" + text).encode("utf-8", "replace")),
    )
)
def test_any_file_at_all_is_read_or_refused_in_one_line(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "any.csv"
    path.write_bytes(raw)
    _read_or_refused_in_one_line(path)


def _read_or_refused_in_one_line(path: Path) -> None:
    try:
        book = read_job_book(path)
    except JobBookError as error:
        assert "\n" not in str(error)
    else:
        assert all(build.job_number for build in book.builds)


def _workbook(folder: Path) -> bytes:
    workbook = openpyxl.Workbook()
    workbook.active.append(["Job", "Owner", "In"])  # type: ignore[union-attr]
    workbook.active.append([31, "Ada Quill", "3/11/2025"])  # type: ignore[union-attr]
    workbook.save(folder / "whole.xlsx")
    return (folder / "whole.xlsx").read_bytes()


@pytest.mark.filterwarnings("ignore")
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)
@given(changes=st.lists(st.tuples(st.floats(0, 0.999), st.binary(min_size=1, max_size=4)), min_size=1, max_size=5))
def test_any_damaged_workbook_is_read_or_refused_in_one_line(
    tmp_path: Path, changes: list[tuple[float, bytes]]
) -> None:
    raw = bytearray(_workbook(tmp_path))
    for place, new in changes:
        start = int(place * len(raw))
        raw[start : start + len(new)] = new
    path = tmp_path / "damaged.xlsx"
    path.write_bytes(raw)
    _read_or_refused_in_one_line(path)


def test_a_workbook_that_unpacks_to_far_too_much_is_refused(tmp_path: Path) -> None:
    import zipfile

    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as parts, parts.open("xl/worksheets/sheet1.xml", "w") as part:
        for _ in range(420):
            part.write(b"0" * 1_000_000)
    assert path.stat().st_size < 1_000_000
    with pytest.raises(JobBookError, match="MB once unpacked"):
        read_job_book(path)
