from __future__ import annotations

from pathlib import Path

import pytest
from film_store import fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds.developments import development, developments, refresh_developments, state_said
from diaryidx.errors import NotFound
from diaryidx.records import Build, Mention
from diaryidx.store import writing
from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary


@pytest.fixture
def words(tmp_path: Path) -> Vocabulary:
    path = tmp_path / "words.yaml"
    path.write_text("developments:\n  - {name: swan-neck bracket, say: [the swan neck]}\n")
    return load_vocabulary(path)


def naming(*places: int, name: str = "swan-neck bracket") -> list[Mention]:
    return [Mention("PRODUCT", "swan neck", name, place, 0, 4) for place in places]


@pytest.fixture
def months(store: Database) -> Database:
    writing.save_builds(store, [Build("12", make="Tarnbeck")])
    save_film(
        store, "oct", "2025-10-03",
        [
            topic(line("first up is the otter", fact("done", "seat")), build="12"),
            topic(line("the swan neck, it's only a sketch so far"), line("on the back of an envelope"), kind="shop"),
        ],
        mentions=naming(1),
    )  # fmt: skip
    save_film(
        store, "nov", "2025-11-03",
        [
            topic(line("here it is and it cracked when I stood on it"), kind="development", about="swan-neck bracket"),
            topic(line("nothing to do with it"), line("the otter has our swan neck on"), build="12"),
        ],
        mentions=naming(2),
    )  # fmt: skip
    save_film(
        store, "dec", "2025-12-03",
        [topic(line("forty pounds and in the shop now"), kind="product", about="swan-neck bracket")],
    )  # fmt: skip
    return store


def test_a_thread_runs_through_the_films_with_its_states(months: Database, words: Vocabulary) -> None:
    refresh_developments(months, words)
    (found,) = developments(months.conn)
    assert (found.name, found.state) == ("swan-neck bracket", "on sale")
    assert [(one.recording, one.start, one.state, one.build) for one in found.thread] == [
        ("oct", 5.0, "being designed", None),
        ("nov", 0.0, "being tested", None),
        ("nov", 10.0, None, "12"),
        ("dec", 0.0, "on sale", None),
    ]
    assert found.thread[0].text == "the swan neck, it's only a sketch so far on the back of an envelope"


def test_a_name_that_only_a_film_gave_counts_only_where_it_is_called_a_development(store: Database) -> None:
    """ "Seat" is said of every bike; only the stretch about our own one belongs to the thread."""
    save_film(
        store, "oct", "2025-10-03",
        [
            topic(line("our own seat is a prototype"), kind="development", about="seat"),
            topic(line("this one needs a seat", fact("planned", "seat"))),
        ],
        mentions=[Mention("PART", "seat", "seat", 0, 0, 4), Mention("PART", "seat", "seat", 1, 0, 4)],
    )  # fmt: skip
    refresh_developments(store, load_vocabulary())
    (found,) = developments(store.conn)
    assert [one.text for one in found.thread] == ["our own seat is a prototype"]


def test_records_are_made_anew_and_none_is_left_of_what_is_gone(months: Database, words: Vocabulary) -> None:
    refresh_developments(months, words)
    for film, day in (("oct", "2025-10-03"), ("nov", "2025-11-03"), ("dec", "2025-12-03")):
        save_film(months, film, day, [topic(line("nothing here"), kind="shop")])
    refresh_developments(months, words)
    assert developments(months.conn) == []


def test_one_is_found_by_a_word_of_its_name(months: Database, words: Vocabulary) -> None:
    refresh_developments(months, words)
    assert development(months.conn, "Swan Neck").name == "swan-neck bracket"
    with pytest.raises(NotFound, match="swan-neck bracket"):
        development(months.conn, "tray")


@pytest.mark.parametrize(
    ("said", "state"),
    [
        ("we've given up on it", "dropped"),
        ("it should be in the shop before Easter", "announced"),
        ("it'll be about forty pounds", "announced"),
        ("they're on the website", "on sale"),
        ("the first batch is being cut", "in production"),
        ("it broke on the first ride", "being tested"),
        ("this is mark two", "prototype"),
        ("the idea is that it bolts on", "being designed"),
        ("it's coming along nicely", None),
        ("we idealise trials", None),
    ],
)
def test_how_far_a_thing_is_comes_from_what_is_said(said: str, state: str | None) -> None:
    assert state_said(said) == state
