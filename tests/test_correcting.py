from __future__ import annotations

import pytest
from sqlite_utils import Database

from diaryidx.correcting import correct
from diaryidx.errors import NotFound, WrongUse
from diaryidx.store import reading, writing

ROW = writing.RecordingRow(
    "film", "film.webm", 1, 2, "h", "Film", "other", "2026-05-02", "file time", "2026-05", 9.0, True
)


@pytest.fixture
def film(db: Database) -> Database:
    writing.save_recording(db, ROW)
    return db


def test_a_corrected_date_moves_the_film_to_its_month(film: Database) -> None:
    corrected = correct(film, "film", {"date": "2026-03-31"})
    assert (corrected.date, corrected.month, corrected.date_from) == ("2026-03-31", "2026-03", "a person")


def test_a_month_may_differ_from_the_filming_date(film: Database) -> None:
    corrected = correct(film, "film", {"date": "2026-03-31", "month": "2026-04"})
    assert (corrected.date, corrected.month) == ("2026-03-31", "2026-04")


@pytest.mark.parametrize(
    "corrections",
    [
        {"date": "2026-02-30"},
        {"date": "2026-W10-1"},
        {"date": "20260301"},
        {"date": "31.03.2026"},
        {"month": "2026-13"},
        {"month": "March"},
        {"kind": "opera"},
        {"title": "  "},
        {"address": "javascript:alert(1)"},
        {"address": "example"},
    ],
)
def test_a_wrong_correction_is_refused_and_nothing_is_kept(film: Database, corrections: dict[str, str]) -> None:
    with pytest.raises(WrongUse):
        correct(film, "film", {"title": "New title", **corrections})
    assert reading.recording(film.conn, "film").title == "Film"


def test_a_film_that_is_not_there_cannot_be_corrected(film: Database) -> None:
    with pytest.raises(NotFound):
        correct(film, "movie", {"title": "x"})
