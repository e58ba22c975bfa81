from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from film_store import fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds import relinking
from diaryidx.builds.linking import link
from diaryidx.builds.relinking import relink
from diaryidx.records import Build, Recording, Segment
from diaryidx.store import reading, writing

BOOK = [
    Build("201", "Ada Quill", "Tarnbeck", "Otter 500", asked_for="tan seat, satin black rims"),
    Build("202", "Bram Thistle", "Orrin", "Heron 900", nickname="Bramble", asked_for="red tank"),
    Build("203", "Cleo Wainfleet", "Fell & Moss", "Stoat", asked_for="service"),
]
YOKES = line("the yokes are polished", fact("done", "yokes", task="polish"))
CARBS = line("carbs are rebuilt", fact("in progress", "carburettor", task="rebuild"))


def builds_of(store: Database, film: str) -> list[str | None]:
    return [segment.build for segment in reading.segments(store.conn, recording_id=film)]


def test_segments_and_their_statements_are_tied_and_habits_are_not(store: Database) -> None:
    writing.save_builds(store, BOOK)
    habit = line("we always grease them", fact("usual practice", "wheel bearings"))
    save_film(store, "nov", "2025-11-03", [topic(line("bramble next"), YOKES, habit)])
    relink(store)
    assert builds_of(store, "nov") == ["202"]
    tied = {one.part: one.build for one in reading.statements(store.conn)}
    assert tied == {"yokes": "202", "wheel bearings": None}


def test_an_older_film_is_read_first_so_that_a_later_one_knows_what_it_said(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(store, "a-late", "2025-12-03", [topic(line("this one here"), YOKES, CARBS)])
    save_film(store, "z-early", "2025-11-03", [topic(line("cleo wainfleet's stoat"), YOKES, CARBS)])
    relink(store)
    assert builds_of(store, "z-early") == ["203"]
    assert builds_of(store, "a-late") == ["203"]


def test_films_of_one_day_and_without_a_day_know_nothing_of_each_other(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(store, "a", "2025-11-03", [topic(line("the stoat"), YOKES, CARBS)])
    save_film(store, "b", "2025-11-03", [topic(line("this one here"), YOKES, CARBS)])
    save_film(store, "c", None, [topic(line("this one here"), YOKES, CARBS)])
    relink(store)
    assert (builds_of(store, "b"), builds_of(store, "c")) == ([None], [None])


def test_a_second_time_changes_nothing_and_a_new_job_row_is_taken_in(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(
        store,
        "nov",
        "2025-11-03",
        [topic(line("bramble next"), YOKES), topic(line("and the alder petrel"), line("hello"))],
    )
    relink(store)
    before = reading.segments(store.conn)
    changes = store.conn.total_changes
    relink(store)
    assert reading.segments(store.conn) == before
    assert store.conn.total_changes == changes
    writing.save_builds(store, [Build("204", make="Alder", model="Petrel")])
    relink(store)
    assert builds_of(store, "nov") == ["202", "204"]


def test_links_go_when_their_reason_goes(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(store, "nov", "2025-11-03", [topic(line("bramble next"), YOKES)])
    relink(store)
    writing.save_builds(store, [Build("202", "Bram Thistle", "Orrin", "Heron 900")])
    relink(store)
    assert builds_of(store, "nov") == [None]
    assert [one.build for one in reading.statements(store.conn)] == [None]


# --- only what may change is tied again ------------------------------------------------------------------------------

MONTHS = [f"2025-{month:02d}-03" for month in range(1, 13)]
LATE = Build(
    "205", "Dov Larkspur", "Tarnbeck", "Otter 500", date_in="2025-09-01", asked_for="polish the yokes, carbs rebuilt"
)


def save_year(store: Database) -> None:
    """A year of films of a shop whose bikes come and go."""
    stays = [("2025-01-01", "2025-05-20"), ("2025-03-01", "2025-10-01"), ("2025-02-01", None)]
    writing.save_builds(
        store, [replace(build, date_in=came, date_out=left) for build, (came, left) in zip(BOOK, stays, strict=True)]
    )
    for number, day in enumerate(MONTHS):
        named = [line("the otter"), line("bramble next"), line("the stoat")]
        topics = [
            topic(
                named[0] if number % 2 else line("this one here"),
                line("the tan seat", fact("done", "seat", finish="tan")),
            ),
            topic(named[1], line("the red tank", fact("planned", "tank", finish="red"))),
            topic(named[2] if number % 3 == 0 else line("and that one"), YOKES, CARBS),
        ]
        save_film(store, f"film-{number:02d}", day, topics[number % 2 :])


def links_of(store: Database) -> object:
    return [replace(one, id=None) for one in reading.segments(store.conn)], [
        (one.recording, one.text, one.build) for one in reading.statements(store.conn)
    ]


def tied_again(store: Database, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The films that `relink` looks at."""
    films: list[str] = []

    def watched(film: Recording, *args: Any, **options: Any) -> list[Segment]:
        films.append(film.id)
        return link(film, *args, **options)

    with monkeypatch.context() as patch:
        patch.setattr(relinking, "link", watched)
        relink(store)
    return films


def from_scratch(store: Database) -> object:
    """The links that come of tying every film again."""
    with store.conn:
        store.execute("delete from link_states")
        store.execute("delete from link_basis")
    relink(store)
    return links_of(store)


def test_a_new_job_row_touches_the_films_of_its_stay_alone_and_comes_to_the_same(
    store: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    save_year(store)
    assert len(tied_again(store, monkeypatch)) == 12
    assert tied_again(store, monkeypatch) == []
    writing.save_builds(store, [LATE])
    assert tied_again(store, monkeypatch) == [f"film-{number:02d}" for number in range(7, 12)]
    found = links_of(store)
    assert found == from_scratch(store)


@pytest.mark.parametrize(
    "change",
    [
        lambda store: writing.save_builds(
            store, [replace(BOOK[2], date_in="2025-02-01", asked_for="polish the yokes")]
        ),
        lambda store: writing.save_builds(store, [replace(BOOK[0], date_in="2025-06-01", date_out=None)]),
        lambda store: writing.save_builds(store, [replace(LATE, nickname="Bramble", date_in="2026-06-01")]),
        lambda store: writing.correct_recording(store, "film-03", {"date": "2025-11-20"}),
        lambda store: save_film(store, "film-02", MONTHS[2], [topic(line("bramble next"), YOKES, CARBS)]),
        lambda store: save_film(
            store, "new", "2025-04-20", [topic(line("bramble next"), YOKES), topic(line("the stoat"))]
        ),
    ],
    ids=["wishes", "stay", "a name from afar", "a film's date", "what a film says", "a film in between"],
)
def test_whatever_changes_the_links_are_those_of_tying_all_films_again(
    store: Database, change: Callable[[Database], None]
) -> None:
    save_year(store)
    relink(store)
    before = links_of(store)
    change(store)
    relink(store)
    found = links_of(store)
    assert found == from_scratch(store)
    assert found != before


def test_the_shops_own_words_for_parts_tie_films_and_a_change_of_them_ties_again(
    store: Database, tmp_path: Path
) -> None:
    words = tmp_path / "words.yaml"
    words.write_text("parts:\n- {name: yokes, say: [doohickey, top clamps]}\n")
    book = [Build("301", asked_for="doohickey polished; carbs rebuilt"), Build("302", asked_for="tan seat; red tank")]
    writing.save_builds(store, [*book, *(Build(str(310 + n), asked_for="service") for n in range(6))])
    save_film(store, "nov", "2025-11-03", [topic(line("this one"), line("top clamps polished"), CARBS)])
    relink(store)
    shipped = reading.segments(store.conn)[0]
    relink(store, words)
    own = reading.segments(store.conn)[0]
    assert own.certainty > shipped.certainty and own.build == "301"
