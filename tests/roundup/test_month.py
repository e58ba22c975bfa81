from __future__ import annotations

import pytest
from film_store import fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.errors import WrongUse
from diaryidx.records import Build, Event, ProductLine, Promise
from diaryidx.roundup.month import LONGEST_CLIP, SHORTEST_CLIP, round_up
from diaryidx.store import writing

OTTER = Build("31", "Ada Quill", "Tarnbeck", "Otter 500", public=True)
HERON = Build("32", "Bram Thistle", "Orrin", "Heron 900", nickname="Bramble", public=True)


@pytest.fixture
def shop(store: Database) -> Database:
    writing.save_builds(store, [OTTER, HERON])
    save_film(
        store,
        "october",
        "2025-10-30",
        [
            topic(
                line("seat is at the trimmer", fact("waiting", "seat")),
                line("tank next", fact("planned", "tank", task="paint")),
                line("loom is coming", fact("waiting", "wiring loom")),
                build="31",
            )
        ],
        title="October diary",
    )
    save_film(
        store,
        "november",
        "2025-12-02",
        [
            topic(line("hello and welcome"), kind="shop"),
            topic(
                line("right the otter"),
                line("the seat is done", fact("done", "seat", finish="tan")),
                line("the tank is being painted", fact("in progress", "tank", task="paint")),
                line("loom still coming", fact("waiting", "wiring loom")),
                line("and we want new tyres", fact("planned", "tyre")),
                build="31",
            ),
            topic(line("bramble is doubtful", fact("done", "exhaust system", certainty=0.3)), build="32"),
        ],
        month="2025-11",
        title="November diary",
        promises=[Promise("we will show you the loom", 5, 10, certainty=0.8), Promise("maybe", 10, 15, certainty=0.2)],
        events=[Event("open day", 0, 5, "2026-05-04", tentative=True)],
    )
    save_film(
        store,
        "news",
        "2025-11-12",
        [topic(line("the new tail tidy"), line("it fits all otters"), kind="product")],
        kind="product news",
        title="News",
        products=[
            ProductLine("gloves", 0, 5, "x"),
            ProductLine("tail tidy", 0, 5, "y", price=39.0, currency="GBP"),
            ProductLine("rumour", 0, 5, "z", certainty=0.2),
        ],
    )
    save_film(store, "chain", "2025-11-20", [topic(line("today it is chains"), kind="tutorial")], kind="tutorial")
    return store


def test_a_month_has_its_films_and_not_those_filmed_in_it(shop: Database) -> None:
    found = round_up(shop.conn, "2025-11")
    assert [film.id for film in found.recordings] == ["news", "chain", "november"]
    assert [film.id for film in round_up(shop.conn, "2025-12").recordings] == []


def test_builds_that_moved_say_what_changed_since_the_films_before(shop: Database) -> None:
    (moved,) = round_up(shop.conn, "2025-11").builds
    assert moved.build == OTTER and not moved.finished
    assert [(one.part, one.status) for one in moved.done] == [("seat", "done")]
    assert [(one.part, one.status) for one in moved.open] == [
        ("tank", "in progress"),
        ("wiring loom", "waiting"),
        ("tyre", "planned"),
    ]
    assert moved.since_last == (
        "the seat: waiting in October 2025, now done; the tank: planned in October 2025, now in progress; "
        "the wiring loom: still waiting, as in October 2025; new on the list: the tyre"
    )


def test_what_was_done_to_a_thing_and_what_comes_next_are_one_piece_of_news(store: Database) -> None:
    writing.save_builds(store, [OTTER])
    then = [topic(line("frame is at the welder", fact("waiting", "frame", task="weld")), build="31")]
    save_film(store, "october", "2025-10-28", then)
    now = [
        line("the frame is welded", fact("done", "frame", task="weld")),
        line("and it gets painted", fact("planned", "frame", task="paint")),
    ]
    save_film(store, "november", "2025-11-28", [topic(*now, build="31")])
    (moved,) = round_up(store.conn, "2025-11").builds
    assert moved.since_last == "the frame: waiting in October 2025, now done, paint next"


def test_a_bike_seen_for_the_first_time_says_so(shop: Database) -> None:
    (moved,) = round_up(shop.conn, "2025-10").builds
    assert moved.since_last == "on film for the first time"


def test_doubtful_statements_products_and_promises_are_left_out(shop: Database) -> None:
    found = round_up(shop.conn, "2025-11")
    assert [moved.build.job_number for moved in found.builds] == ["31"]
    assert [line.product for line in found.products] == ["tail tidy", "gloves"]
    assert [promise.text for promise in found.promises] == ["we will show you the loom"]
    assert [(event.name, event.tentative) for event in found.dates] == [("open day", True)]
    assert [film.id for film in found.tutorials] == ["chain"]


def test_what_is_sure_of_a_bike_that_is_not_moves_none(store: Database) -> None:
    """A statement is no surer than the link of its stretch: 0.8 of 0.6 is below what is told."""
    writing.save_builds(store, [Build("31"), Build("32")])
    said = line("the seat is done", fact("done", "seat", certainty=0.8))
    save_film(
        store, "a", "2025-11-03", [topic(said, build="31", certainty=0.6), topic(said, build="32", certainty=0.9)]
    )
    assert [moved.build.job_number for moved in round_up(store.conn, "2025-11").builds] == ["32"]


def test_a_bike_is_finished_when_the_book_or_the_film_says_so(store: Database) -> None:
    writing.save_builds(
        store,
        [
            OTTER,
            Build("33", date_out="2025-11-08"),
            Build("34", date_out="2025-11-09"),
            Build("35", date_out="2025-12-01"),
        ],
    )
    save_film(
        store,
        "nov",
        "2025-11-25",
        [
            topic(line("the otter is finished and has gone home", fact("done", task="finish")), build="31"),
            topic(line("last bits on this", fact("done", "seat")), build="33"),
            topic(line("seat done", fact("done", "seat")), build="35"),
        ],
    )
    moved = {one.build.job_number: one for one in round_up(store.conn, "2025-11").builds}
    assert {job: one.finished for job, one in moved.items()} == {"31": True, "33": True, "35": False, "34": True}
    assert moved["34"].since_last == "left the workshop on 9 November 2025"


def test_usual_practice_moves_no_bike(store: Database) -> None:
    writing.save_builds(store, [OTTER])
    save_film(
        store,
        "nov",
        "2025-11-25",
        [topic(line("we always grease them", fact("usual practice", "wheel bearings")), build="31")],
    )
    assert round_up(store.conn, "2025-11").builds == ()


@pytest.mark.parametrize("month", ["november", "2025-13", "2025-1", "2025-00", "", "2025-11-03", "202511", "2025-11\n"])
def test_a_wrong_month_is_refused_in_one_line(store: Database, month: str) -> None:
    with pytest.raises(WrongUse) as caught:
        round_up(store.conn, month)
    assert "2025-11" in str(caught.value) and "\n" not in str(caught.value)


def test_a_month_without_films_is_empty_and_no_error(store: Database) -> None:
    found = round_up(store.conn, "1999-01")
    assert found.month == "1999-01" and not (found.recordings or found.builds or found.clips)


def test_clips_are_whole_sentences_of_postable_length_known_bikes_first(store: Database) -> None:
    writing.save_builds(store, [OTTER])
    talk = [line(f"and then some talk {number}") for number in range(20)]
    save_film(
        store,
        "nov",
        "2025-11-25",
        [
            topic(line("hello"), line("welcome back"), line("it is cold"), kind="shop"),
            topic(line("this one"), line("rims done", fact("done", "rim")), line("nice"), title="unknown"),
            topic(
                line("right the otter"),
                *talk,
                line("tank is done", fact("done", "tank")),
                line("so is the seat", fact("done", "seat")),
                build="31",
                title="otter",
            ),
        ],
    )
    clips = round_up(store.conn, "2025-11").clips
    assert [clip.title for clip in clips] == ["otter", "unknown"]
    for clip in clips:
        assert SHORTEST_CLIP <= clip.end - clip.start <= LONGEST_CLIP
        assert clip.start % 5 == 0 and clip.end % 5 == 0  # sentences are five seconds long here
    assert (clips[0].start, clips[0].end) == (135.0, 145.0)  # the two sentences with news, not the talk before
