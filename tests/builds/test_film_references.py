"""Which film is meant: by month, kind, title and talk; earlier ones only, and none where it is in doubt."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from sqlite_utils import Database

from diaryidx.builds.film_references import FilmFacts, refresh_references, resolve
from diaryidx.builds.wishes import stems
from diaryidx.correcting import correct
from diaryidx.film_records import FilmReference, Remarks
from diaryidx.records import Reading, Sentence
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store


def film(name: str, kind: str, date: str, title: str = "", **shares: float) -> FilmFacts:
    return FilmFacts(name, kind, date, date[:7], frozenset(stems(title)), shares)


FILMS = (
    film("july-diary", "diary", "2025-07-30", "July diary", exhaust=0.1),
    film("fork-seals", "tutorial", "2025-08-10", "How to change fork seals", seals=0.3),
    film("august-diary", "diary", "2025-08-29", "August diary", seals=0.02),
    film("brakes", "tutorial", "2025-09-03", "Bleeding the brakes"),
    film("answers", "questions", "2025-09-14", "Your questions answered"),
    film("bench", "bench note", "2025-09-20", "Bench note"),
    film("september-diary", "diary", "2025-09-28", "September diary"),
    film("october-diary", "diary", "2025-10-27", "October diary"),
    film("wheels", "tutorial", "2025-11-09", "Building wheels"),
    film("november-diary", "diary", "2025-11-28", "November diary"),
)
HERE = FILMS[7]
NEXT_MONTH = {"span": "month", "relative": "next"}
LAST_MONTH = {"span": "month", "relative": "last"}


def said(text: str, **known: Any) -> FilmReference:
    return FilmReference(text, 1.0, 2.0, 0, certainty=0.9, **known)


@pytest.mark.parametrize(
    ("reference", "meant"),
    [
        (said("the film we made on fork seals", about=("fork", "seals"), terms=("seals",)), "fork-seals"),
        (said("as we said last month", when=LAST_MONTH), "september-diary"),
        (said("in the July film", when={"month": 7}), "july-diary"),
        (said("last month's tutorial", kind="tutorial", when=LAST_MONTH), "brakes"),
        (said("the question and answer film", kind="questions"), "answers"),
        (said("in the last diary", kind="diary", nth="last"), "september-diary"),
        (said("last time", nth="last"), "september-diary"),
        (said("a tutorial on that", kind="tutorial", around=("brakes", "bleed")), "brakes"),
        (said("a film on wheels next month", about=("wheels",), when=NEXT_MONTH, coming=True), "wheels"),
        (said("in the next diary", kind="diary", coming=True), "november-diary"),
        (said("about three weeks ago", when={"days": -24, "loose": True}), "september-diary"),
    ],
)  # fmt: skip
def test_the_film_that_is_meant(reference: FilmReference, meant: str) -> None:
    found = resolve(reference, HERE, FILMS)
    assert found.film == meant and found.film_certainty >= 0.5 and found.likely == ()


@pytest.mark.parametrize(
    "reference",
    [
        said("the film we made on wheels", about=("wheels",)),  # that film came later
        said("a film about gearboxes", about=("gearboxes",)),
        said("in the May diary", kind="diary", when={"month": 5}),
        said("a tutorial", kind="tutorial"),
        said("we'll make a film about the tank", about=("tank",), coming=True),
    ],
)
def test_what_is_in_doubt_stays_without_a_film(reference: FilmReference) -> None:
    found = resolve(reference, HERE, FILMS)
    assert found.film is None and found.film_certainty == 0.0


def test_two_films_that_fit_as_well_are_both_kept_as_likely() -> None:
    twins = (*FILMS, film("fork-seals-two", "tutorial", "2025-09-30", "Fork seals again"))
    found = resolve(said("the film on fork seals", about=("fork", "seals")), HERE, twins)
    assert (found.film, set(found.likely)) == (None, {"fork-seals", "fork-seals-two"})


def test_a_diary_filmed_after_its_month_counts_months_from_its_own() -> None:
    late = replace(HERE, id="late", date="2025-11-02", month="2025-10")
    films = (*(one for one in FILMS if one.id != "october-diary"), late)
    assert resolve(said("as we said last month", when=LAST_MONTH), late, films).film == "september-diary"


def test_a_film_without_a_date_is_never_meant_and_means_none() -> None:
    undated = replace(HERE, date=None, month=None)
    assert resolve(said("in the last diary", nth="last", kind="diary"), undated, FILMS).film is None


# --- the archive -----------------------------------------------------------------------------------------------------


def _store(db: Database, name: str, date: str, kind: str, title: str, *references: FilmReference) -> None:
    row = writing.RecordingRow(name, f"{name}.mp4", 1, 1, name, title, kind, date, "file name", date[:7], 60.0, True)
    writing.save_recording(db, row)
    read = Reading(kind, remarks=Remarks(references=references))  # type: ignore[arg-type]
    writing.save_reading(db, name, [Sentence(0.0, 2.0, "hello", "hello")], read, reading_key="k")


def _meant(db: Database) -> list[str | None]:
    return [one.film for one in reading.film_references(db.conn)]


def test_references_are_settled_again_when_films_are_added_or_corrected(db: Database) -> None:
    _store(db, "october", "2025-10-27", "diary", "October", said("the film on fork seals", about=("fork", "seals")))
    refresh_references(db)
    assert _meant(db) == [None]
    _store(db, "forks", "2025-08-10", "tutorial", "Changing fork seals")
    refresh_references(db)
    assert _meant(db) == ["forks"]
    assert [one.recording for one in reading.film_references(db.conn, film="forks")] == ["october"]
    correct(db, "forks", {"date": "2025-12-01"})  # it was made later, so it cannot be meant
    assert _meant(db) == [None]


@pytest.fixture
def db(tmp_path: Any) -> Any:
    store = open_store(tmp_path / "shop.db")
    yield store
    store.close()
