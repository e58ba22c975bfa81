from __future__ import annotations

import csv
import dataclasses
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlite_utils import Database

from diaryidx.builds.job_book import JobBook, read_job_book
from diaryidx.builds.job_import import ImportPlan, all_confirmed, apply_import, parse_columns, plan_import
from diaryidx.errors import JobBookError, WrongUse
from diaryidx.records import Build
from diaryidx.shop import Settings
from diaryidx.store import reading, writing

STORED = [
    Build("0031", "Ada Quill", "Tarnbeck", "Otter 500", registration="KL19 XYZ", state="in the workshop", public=True),
    Build("32", "Bram Thistle", "Orrin", "Heron 900", colour="green"),
    Build("33", "Cleo Marl", "Orrin", "Wren"),
]


def book_of(folder: Path, text: str, **options: Any) -> JobBook:
    path = folder / "book.csv"
    path.write_text(text, encoding="utf-8")
    return read_job_book(path, **options)


def changes(plan: ImportPlan) -> dict[str, dict[str, tuple[Any, Any]]]:
    return {
        change.build.job_number: {one.field: (one.old, one.new) for one in change.changes} for change in plan.changed
    }


def test_a_plan_tells_each_field_old_and_new(tmp_path: Path) -> None:
    book = book_of(tmp_path, "Job,State,Date out,Colour\n31,delivered,2025-12-01,\n32,,,green\n40,booked in,,red\n")
    plan = plan_import(book, STORED)
    assert changes(plan) == {"0031": {"state": ("in the workshop", "delivered"), "date_out": (None, "2025-12-01")}}
    assert [(one.build.job_number, one.line, one.build.colour) for one in plan.new] == [("40", 4, "red")]
    assert plan.unchanged == 1


def test_an_empty_cell_and_a_missing_column_erase_nothing(tmp_path: Path) -> None:
    plan = plan_import(book_of(tmp_path, "Job,Owner,Reg,State\n0031,-,n/a,delivered\n"), STORED)
    (build,) = plan.builds
    assert build == dataclasses.replace(STORED[0], state="delivered")
    assert build.public, "no column says whether it may be public, so what was said before holds"


def test_empty_cells_erase_when_asked_but_only_in_columns_that_are_there(tmp_path: Path) -> None:
    plan = plan_import(book_of(tmp_path, "Job,Owner,Reg,OK to publish\n0031,,,\n"), STORED, clear=True)
    (build,) = plan.builds
    assert (build.customer, build.registration) == (None, None)
    assert (build.model, build.state, build.public) == ("Otter 500", "in the workshop", True)


def test_what_is_not_in_the_table_is_not_deleted(store: Database, tmp_path: Path) -> None:
    writing.save_builds(store, STORED)
    apply_import(store, plan_import(book_of(tmp_path, "Job,Owner\n50,Dov\n"), STORED), remember=False)
    assert [build.job_number for build in reading.builds(store.conn)] == ["32", "33", "50", "0031"]


def test_repeating_an_import_changes_nothing(store: Database, tmp_path: Path) -> None:
    book = book_of(tmp_path, "Job,Bike,In,Public\n31,Tarnbeck Otter 500,3/11/2025,no\n60,1978 Orrin Wren,,yes\n")
    writing.save_builds(store, STORED)
    apply_import(store, plan_import(book, STORED), remember=False)
    again = plan_import(book, reading.builds(store.conn))
    assert (again.builds, again.unchanged) == ([], 2)


def test_a_number_that_lost_its_zeros_is_the_same_job_unless_both_are_in_the_table(tmp_path: Path) -> None:
    (build,) = plan_import(book_of(tmp_path, "Job,Colour\n31,blue\n"), STORED).builds
    assert build.job_number == "0031"
    both = plan_import(book_of(tmp_path, "Job,Colour\n31,blue\n0031,red\n"), STORED)
    assert {(one.job_number, one.colour) for one in both.builds} == {("31", "blue"), ("0031", "red")}


def test_two_rows_that_land_on_one_job_are_told_and_the_first_is_kept(tmp_path: Path) -> None:
    plan = plan_import(book_of(tmp_path, "Job,Colour\n31,blue\n031,red\n"), STORED)
    assert [(one.job_number, one.colour) for one in plan.builds] == [("0031", "blue")]
    assert plan.book.problems == ("line 3: job 031 is job 0031 once more; line 2 was kept",)
    assert plan.unchanged == 0


def test_a_number_keeps_the_zeros_that_its_cell_shows(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in (("Job", "Colour"), (12, "red"), (345, "blue")):
        book.active.append(row)
    book.active["A2"].number_format = "0000"
    book.save(tmp_path / "jobs.xlsx")
    assert [one.job_number for one in read_job_book(tmp_path / "jobs.xlsx").builds] == ["0012", "345"]


def test_confirmed_columns_are_kept_and_a_new_heading_is_asked_about(store: Database, tmp_path: Path) -> None:
    text = "No.,Whose,Remark\n7,Ada,tan seat\n"
    book = book_of(tmp_path, text, columns=parse_columns(["customer=Whose", "asked for=Remark"]))
    assert not all_confirmed(store, book)
    apply_import(store, plan_import(book, []), remember=True)
    again = book_of(tmp_path, text.replace("Whose", "WHOSE "), confirmed=reading.job_columns(store.conn))
    assert again.columns == {"job_number": "No.", "customer": "WHOSE", "asked_for": "Remark"}
    assert all_confirmed(store, again)
    more = book_of(tmp_path, "No.,Whose,Remark,Paint\n7,Ada,x,red\n", confirmed=reading.job_columns(store.conn))
    assert more.columns["colour"] == "Paint"
    assert not all_confirmed(store, more)


def test_a_heading_that_a_person_said_fills_nothing_is_not_guessed_again(store: Database, tmp_path: Path) -> None:
    text = "Job,Owner,Reg\n7,Ada,AB12 CDE\n"
    apply_import(
        store, plan_import(book_of(tmp_path, text, columns=parse_columns(["registration="])), []), remember=True
    )
    assert "registration" not in book_of(tmp_path, text, confirmed=reading.job_columns(store.conn)).columns


@pytest.mark.parametrize("wrong", ["customer", "wish=Wants", "=Owner"])
def test_a_mapping_that_is_none_names_the_fields(wrong: str) -> None:
    with pytest.raises(WrongUse, match="job_number"):
        parse_columns([wrong])


def test_a_sheet_is_chosen_by_name_and_a_wrong_size_in_the_file_cuts_nothing(tmp_path: Path) -> None:
    workbook = openpyxl.Workbook()
    workbook.active.title = "2024"  # type: ignore[union-attr]
    for sheet, job in ((workbook.active, 1), (workbook.create_sheet("Now"), 2)):
        sheet.append(["Job", "Owner", "Reg"])  # type: ignore[union-attr]
        sheet.append([job, "Ada", "AB12 CDE"])  # type: ignore[union-attr]
    path = tmp_path / "two.xlsx"
    workbook.save(path)
    assert [build.job_number for build in read_job_book(path, sheet="now").builds] == ["2"]
    with pytest.raises(JobBookError, match=r"no sheet 'Old'.*'2024', 'Now'"):
        read_job_book(path, sheet="Old")
    with pytest.raises(JobBookError, match=r"a \.csv has no sheets"):
        book_of(tmp_path, "Job,Owner\n1,Ada\n", sheet="Now")
    _claim_one_cell(path)
    assert [build.registration for build in read_job_book(path).builds] == ["AB12 CDE"]


def _claim_one_cell(path: Path) -> None:
    """Rewrite a workbook so that its sheets claim to have one cell, as some programs write them."""
    import re
    import zipfile

    with zipfile.ZipFile(path) as old:
        files = {name: old.read(name) for name in old.namelist()}
    with zipfile.ZipFile(path, "w") as new:
        for name, content in files.items():
            if name.startswith("xl/worksheets/"):
                content, count = re.subn(rb'<dimension ref="[^"]+"', b'<dimension ref="A1"', content)
                assert count == 1
            new.writestr(name, content)


@pytest.mark.parametrize(
    ("month_first", "first", "second"), [(False, "2025-11-03", "2025-12-24"), (True, "2025-03-11", "2025-12-24")]
)
def test_dates_follow_the_shop_where_the_column_does_not_tell(
    tmp_path: Path, month_first: bool, first: str, second: str
) -> None:
    text = "Job,In,Due\n1,3/11/2025,\n2,5/6/25,24 December 2025\n"
    builds = book_of(tmp_path, text, month_first=month_first).builds
    assert (builds[0].date_in, builds[1].promised) == (first, second)


@pytest.mark.parametrize("month_first", [False, True])
def test_a_column_that_shows_its_order_outranks_the_shop(tmp_path: Path, month_first: bool) -> None:
    day = book_of(tmp_path, "Job,In\n1,3/11/2025\n2,25/6/2025\n", month_first=month_first).builds[0]
    month = book_of(tmp_path, "Job,In\n1,3/11/2025\n2,6/25/2025\n", month_first=month_first).builds[0]
    assert (day.date_in, month.date_in) == ("2025-11-03", "2025-03-11")


@pytest.mark.parametrize(
    ("typed", "iso"),
    [("20251103", "2025-11-03"), ("3-Nov-25", "2025-11-03"), ("Mon 3 Nov 2025", "2025-11-03"), ("45964", "2025-11-03"),
     ("3.11.25", "2025-11-03"), ("2025/11/3", "2025-11-03"), ("Nov 2025", "2025-11"), ("tbc", None), ("asap!", None)],
)  # fmt: skip
def test_dates_as_people_type_them(tmp_path: Path, typed: str, iso: str | None) -> None:
    book = book_of(tmp_path, f"Job,Due\n1,{typed}\n")
    assert (book.builds[0].promised, book.problems) == (iso, ())


@pytest.mark.parametrize(
    ("options", "month_first"),
    [({}, False), ({"spelling": "american"}, True), ({"timezone": "America/Denver"}, True),
     ({"timezone": "America/Toronto"}, False), ({"timezone": "America/Indiana/Knox"}, True)],
)  # fmt: skip
def test_the_order_of_dates_comes_from_the_shops_settings(options: dict[str, str], month_first: bool) -> None:
    assert Settings(**options).month_first is month_first  # type: ignore[arg-type]


def test_headings_repeated_on_every_page_are_no_rows(tmp_path: Path) -> None:
    book = book_of(tmp_path, "Job,Owner\n1,Ada\nJob,Owner\n2,Bram\n")
    assert [build.job_number for build in book.builds] == ["1", "2"]
    assert book.problems == ()


TEXT = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=12)
ROW = st.fixed_dictionaries(
    {"owner": TEXT, "colour": TEXT, "state": TEXT, "public": st.sampled_from(["yes", "no", ""])}
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)
@given(st.lists(ROW, max_size=6), st.lists(ROW, max_size=6), st.booleans())
def test_importing_any_table_twice_is_importing_it_once_and_loses_no_job(
    tmp_path: Path, before: list[dict[str, str]], after: list[dict[str, str]], clear: bool
) -> None:
    stored: list[Build] = []
    for table in (before, after):
        path = tmp_path / "any.csv"
        with path.open("w", newline="", encoding="utf-8") as file:
            writer = csv.writer(file)
            writer.writerow(["Job", "Owner", "Colour", "State", "Public"])
            writer.writerows([f"J{place}", *row.values()] for place, row in enumerate(table))
        book = read_job_book(path)
        known = {build.job_number: build for build in stored}
        plan = plan_import(book, stored, clear=clear)
        merged = known | {build.job_number: build for build in plan.builds}
        assert known.keys() <= merged.keys() and len(book.rows) == len(table)
        if not clear:
            for number, old in known.items():
                for name, value in dataclasses.asdict(old).items():
                    assert value is None or dataclasses.asdict(merged[number])[name] is not None
        stored = list(merged.values())
        assert plan_import(book, stored, clear=clear).builds == []
