from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.errors import WrongUse
from diaryidx.media.dates import guess_date, guess_kind, guess_month, guess_title, read_date_tag

TODAY = date(2026, 11, 25)
MTIME = datetime(2026, 11, 18, 12, tzinfo=UTC).timestamp()
FILE_TIME = ("2026-11-18", "file time")

days = st.dates(date(1990, 1, 1), date(2027, 11, 1)).filter(lambda day: day != date(2000, 1, 1))


def guess(name: str, tag: str | None = None, folder: str = "recordings") -> tuple[str, str]:
    return guess_date(Path("/shop") / folder / f"{name}.mp4", tag, MTIME, "Europe/London", today=TODAY)


@pytest.mark.parametrize(
    "name",
    [
        *("2026-10-03", "20261003", "2026_10_03", "2026.10.03 walk", "03.10.2026", "03-10-2026", "3.10.2026"),
        *("VID_20261003_142233", "PXL_20261003_142233123", "20261003142233", "IMG-20261003-WA0007"),
        *("diary 2026-10-03T14.22.33", "DJI_20261003142233_0001", "tank_3-Oct-2026_final", "10-3-2026 and 2026-10-03"),
        *("3 October 2026", "3rd of October 2026", "Oct 3, 2026 diary", "2026 October 3"),
    ],
)  # fmt: skip
def test_a_day_is_read_from_the_name(name):
    assert guess(name) == ("2026-10-03", "file name")


def test_a_day_that_can_only_be_american_is_read_as_such():
    assert guess("10-25-2026") == ("2026-10-25", "file name")


@pytest.mark.parametrize(
    "name",
    [
        *("October 2026 diary", "2026-10 diary", "diary_october_2026", "Diary Oct 2026", "2026 October"),
        *("10-2026 diary", "October", "October diary", "diary for october", "October's round-up", "2026_10_diary"),
        *("October diary 2026",),
    ],
)  # fmt: skip
def test_a_month_is_read_from_the_name(name):
    assert guess(name) == ("2026-10", "file name")


def test_a_month_without_a_year_is_the_last_one_before_the_film_was_made():
    assert guess("December diary") == ("2025-12", "file name")
    assert guess("December diary", "2024-01-04T10:00:00Z") == ("2023-12", "file name")


@pytest.mark.parametrize(
    "name",
    [
        *("1790000000", "1790000000123", "00012345", "GX010123", "part 12 of 2026", "1985-01-01", "2031-01-01"),
        *("20260230", "19700101", "VID_20000101_000012", "may we ask", "march of the bikes", "job 1042 gb1026"),
        *("20261332", "1.2.3", "v2.10.3", "1920x1080", "", "ISO 9001-2015", "120261003", "2026-10-031"),
    ],
)  # fmt: skip
def test_numbers_that_are_no_date_do_not_fool_it(name):
    assert guess(name) == FILE_TIME


def test_the_name_goes_before_the_tag_and_the_tag_before_the_file_time():
    assert guess("2026-10-03", "2026-09-01T10:00:00Z") == ("2026-10-03", "file name")
    assert guess("walk", "2026-09-01T10:00:00Z") == ("2026-09-01", "container tag")
    assert guess("walk") == FILE_TIME


def test_a_tag_gives_the_day_where_the_name_gives_only_its_month():
    assert guess("October 2026 diary", "2026-10-29T10:00:00Z") == ("2026-10-29", "container tag")
    assert guess("October 2026 diary", "2026-11-02T10:00:00Z") == ("2026-10", "file name")


def test_the_folder_is_asked_last_before_the_file_time():
    assert guess("walk", folder="2026-10 October") == ("2026-10", "file name")


@pytest.mark.parametrize(
    "tag", ["1904-01-01T00:00:00Z", "1970-01-01T00:00:00+00:00", "2000-01-01", "2031-05-05", "2026", "", "junk", None]
)
def test_tags_of_clocks_that_were_never_set_are_ignored(tag):
    assert guess("walk", tag) == FILE_TIME


def test_the_day_is_that_of_the_shop_s_time_zone():
    late = "2026-06-30T23:30:00Z"
    assert guess("walk", late) == ("2026-07-01", "container tag")
    assert guess_date(Path("walk.mp4"), late, MTIME, "America/New_York", TODAY) == ("2026-06-30", "container tag")
    assert guess("walk", "2026-06-30T23:30:00-07:00") == ("2026-06-30", "container tag")
    midnight = datetime(2026, 6, 30, 23, 30, tzinfo=UTC).timestamp()
    assert guess_date(Path("walk.mp4"), None, midnight, "Europe/London", TODAY) == ("2026-07-01", "file time")
    with pytest.raises(WrongUse, match="Europe/London"):
        guess_date(Path("walk.mp4"), None, MTIME, "Middle/Earth", TODAY)


@given(days, st.sampled_from(["{:%Y-%m-%d}", "{:%Y%m%d}", "{:%Y_%m_%d}", "{:%d.%m.%Y}", "{:%d-%m-%Y}", "{:%d %B %Y}"]))
def test_every_day_survives_every_way_of_writing_it(day, way):
    for around in ("{}", "diary {}", "VID_{}_142233", "{} walk-round", "({})"):
        assert guess(around.format(way.format(day))) == (day.isoformat(), "file name")


@given(st.text(max_size=60), st.text(max_size=30) | st.none(), st.floats())
def test_any_name_tag_and_time_give_an_iso_date(name, tag, mtime):
    path = Path("/x/recordings") / (name.replace("/", "").replace("\0", "") or "a")
    found, source = guess_date(path, tag, mtime, "Europe/London", TODAY)
    assert source in ("file name", "container tag", "file time")
    date.fromisoformat(found if len(found) == 10 else f"{found}-01")
    title = guess_title(path, tag)
    assert title.isprintable() and title.strip() and title.encode()
    assert guess_kind(path, tag)


@given(st.datetimes(datetime(1990, 1, 1), datetime(2027, 1, 1)))
def test_date_tags_are_read_in_the_ways_that_cameras_write_them(moment):
    moment = moment.replace(microsecond=0)
    for way in ("%Y-%m-%dT%H:%M:%S", "%Y:%m:%d %H:%M:%S", "%Y%m%dT%H%M%S", "%Y/%m/%d %H:%M:%S"):
        assert read_date_tag(moment.strftime(way)) == moment.isoformat()
    assert read_date_tag(moment.strftime("%Y-%m-%d %H:%M:%S UTC")) == moment.isoformat() + "+00:00"


def test_the_month_of_a_date():
    assert (guess_month("2026-10-03"), guess_month("2026-10")) == ("2026-10", "2026-10")


@pytest.mark.parametrize(
    ("path", "title", "kind"),
    [
        ("2026-10 diary.mp4", None, "diary"),
        ("October walk-round.mp4", None, "diary"),
        ("Diaries/20261003.mp4", None, "diary"),
        ("HowTo_brake-pads.mp4", None, "tutorial"),
        ("how to change pads.webm", None, "tutorial"),
        ("brake pad tutorial with questions.mp4", None, "tutorial"),
        ("Q&A.mp4", None, "questions"),
        ("q and a october.mp4", None, "questions"),
        ("FAQ_3.mp4", None, "questions"),
        ("product-news.mp4", None, "product news"),
        ("New Recording 12.m4a", None, "bench note"),
        ("note job 1042.m4a", None, "bench note"),
        ("VID_20261003.mp4", "Our November vlog", "diary"),
        ("snews.mp4", None, "other"),
        ("keynote.mp4", None, "other"),
        ("VID_20261003.mp4", None, "other"),
    ],
)
def test_the_kind_is_guessed_from_plain_words(path, title, kind):
    assert guess_kind(Path("/shop/recordings") / path, title) == kind


@pytest.mark.parametrize(
    ("path", "duration", "has_picture", "kind"),
    [
        ("job 2304 tank.m4a", 40.0, False, "bench note"),
        ("AUD-20261103-0003.opus", 40.0, False, "bench note"),
        ("greenbottle.amr", 9.0, False, "bench note"),
        ("kl19xyz tank.ogg", 9.0, False, "bench note"),
        ("Recording 20261117_1642.3gp", 30.0, False, "bench note"),
        ("JOB-2304.mp3", 30.0, False, "bench note"),
        ("job no 2304.mp4", 30.0, True, "bench note"),
        ("October.m4a", 3600.0, False, "other"),
        ("20261103.3gp", 40.0, True, "other"),
        ("song.mp3", 40.0, False, "other"),
        ("jobs done.mp4", 40.0, True, "other"),
        ("diaries/2026-10.m4a", 300.0, False, "diary"),
        ("how to job 12.m4a", 40.0, False, "tutorial"),
    ],
)
def test_a_short_recording_from_a_telephone_is_a_bench_note(path, duration, has_picture, kind):
    assert guess_kind(Path("/shop/recordings") / path, None, duration=duration, has_picture=has_picture) == kind


@pytest.mark.parametrize(
    ("name", "title", "expected"),
    [
        ("2026-10-03_october_diary.mp4", None, "October diary"),
        ("2026-10-03T14.22 walk.mp4", None, "Walk"),
        ("VID_20261003_142233.mp4", None, "VID_20261003_142233"),
        ("20261003.mp4", None, "20261003"),
        ("a.mp4", "  The bronze\none ", "The bronze one"),
        ("front pads.mp4", "Untitled project", "Front pads"),
        ("two\nlines.mp4", None, "Two lines"),
        ("caf\udce9.mp4", None, "Caf\\udce9"),
        ("front pads.mp4", "VID_2026.mp4", "Front pads"),
    ],
)
def test_the_title_is_what_a_person_would_call_it(name, title, expected):
    assert guess_title(Path(name), title) == expected


@pytest.mark.parametrize(
    ("date", "name", "month"),
    [
        ("2026-11-02", "2026-11-02 October diary", "2026-10"),
        ("2026-10-30", "October diary", "2026-10"),
        ("2026-01-03", "December diary", "2025-12"),
        ("2026-11-02", "August diary, filmed late", "2026-11"),
        ("2026-04-02", "how to march a bike through the door", "2026-04"),
        ("2026-10", "tutorial", "2026-10"),
    ],
)
def test_a_diary_filmed_after_its_month_belongs_to_the_month_in_its_name(date: str, name: str, month: str) -> None:
    assert guess_month(date, name) == month
