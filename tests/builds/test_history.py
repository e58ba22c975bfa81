from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from film_store import Line, fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds.history import history
from diaryidx.builds.standing import systems
from diaryidx.builds.telling import describe_history
from diaryidx.records import Build, History, Statement
from diaryidx.store import reading, writing
from diaryidx.vocabulary.loader import load_vocabulary

BIKE = Build("31", "Ada Quill", "Tarnbeck", "Otter 500", date_in="2025-09-01")


def told(store: Database, *films: tuple[str, list[Line]], build: Build = BIKE) -> History:
    """The history after films of these days, each with these lines about the bike."""
    writing.save_builds(store, [build])
    for date, lines in films:
        save_film(store, f"film-{date}", date, [topic(*lines, build=build.job_number)], title=f"Diary of {date}")
    return history(store.conn, build)


def still_open(found: History) -> list[tuple[str | None, str | None, str]]:
    return [(one.part, one.side, one.status) for one in found.open]


def test_statements_come_in_the_order_of_films_and_time(store: Database) -> None:
    found = told(
        store,
        ("2025-11-03", [line("tank is red", fact("done", "tank", finish="red"))]),
        ("2025-10-03", [line("seat next", fact("planned", "seat")), line("rims off", fact("in progress", "rim"))]),
    )
    assert [one.part for one in found.statements] == ["seat", "rim", "tank"]


def test_the_latest_word_on_a_part_is_what_is_open(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [line("loom is asked for", fact("asked for", "wiring loom"))]),
        ("2025-10-03", [line("waiting for the loom", fact("waiting", "wiring loom"))]),
        ("2025-11-03", [line("loom is going in", fact("in progress", "wiring loom"))]),
    )
    assert still_open(found) == [("wiring loom", None, "in progress")]


def test_what_is_done_or_ruled_out_is_not_open(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [line("seat", fact("asked for", "seat")), line("screen", fact("planned", "screen"))]),
        ("2025-10-03", [line("seat done", fact("done", "seat")), line("no screen", fact("ruled out", "screen"))]),
    )
    assert found.open == ()


def test_a_doubtful_word_settles_nothing(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [line("seat next", fact("planned", "seat"))]),
        ("2025-10-03", [line("seat perhaps", fact("done", "seat", certainty=0.4))]),
    )
    assert still_open(found) == [("seat", None, "planned")]


def test_the_other_side_stays_open_and_both_settles_each(store: Database) -> None:
    start = (
        "2025-09-03",
        [
            line("front rim", fact("planned", "rim", side="front")),
            line("rear rim", fact("planned", "rim", side="rear")),
        ],
    )
    front_done = ("2025-10-03", [line("front rim done", fact("done", "rim", side="front"))])
    assert still_open(told(store, start, front_done)) == [("rim", "rear", "planned")]
    both_done = ("2025-11-03", [line("both rims done", fact("done", "rim", side="both"))])
    assert told(store, start, front_done, both_done).open == ()


def test_a_product_settles_the_wish_for_the_part_of_its_name(store: Database) -> None:
    bike = replace(BIKE, asked_for="heated grips")
    found = told(
        store, ("2025-10-03", [line("the heated grips are on", fact("done", product="heated grips"))]), build=bike
    )
    assert [one.part for one in found.statements] == ["heated grips", None]
    assert found.open == ()


def test_another_task_on_the_same_part_stays_open(store: Database) -> None:
    found = told(
        store,
        (
            "2025-09-03",
            [
                line("paint the tank", fact("planned", "tank", task="paint")),
                line("weld the tank", fact("planned", "tank", task="weld")),
            ],
        ),
        ("2025-10-03", [line("tank is welded", fact("done", "tank", task="weld"))]),
    )
    assert [one.task for one in found.open] == ["paint"]


def test_usual_practice_is_no_part_of_a_history(store: Database) -> None:
    found = told(store, ("2025-09-03", [line("we always fit steel lines", fact("usual practice", "brake lines"))]))
    assert found.statements == () and found.open == ()


def test_wishes_of_the_book_come_first_and_are_open_until_a_film_settles_them(store: Database) -> None:
    bike = replace(BIKE, asked_for="tan seat, black rims and a tail tidy; smaller lights at the back")
    found = told(store, ("2025-10-03", [line("seat is done", fact("done", "seat", finish="tan"))]), build=bike)
    wished = [one for one in found.statements if one.source == "book"]
    assert [one.text for one in wished] == ["tan seat", "black rims", "a tail tidy", "smaller lights at the back"]
    assert all(one.status == "asked for" and one.said_by == "customer" for one in wished)
    assert found.statements[: len(wished)] == tuple(wished)
    assert "tan seat" not in [one.text for one in found.open] and "black rims" in [one.text for one in found.open]


def test_wishes_of_a_finished_bike_are_not_open(store: Database) -> None:
    for done in (
        replace(BIKE, asked_for="tan seat", date_out="2025-12-01"),
        replace(BIKE, asked_for="tan seat", state="Collected"),
    ):
        assert told(store, build=done).open == ()


# --- where films disagree --------------------------------------------------------------------------------------------


def test_two_finishes_of_one_part_in_two_films_are_a_conflict(store: Database) -> None:
    found = told(
        store,
        ("2025-10-03", [line("tank is satin black", fact("done", "tank", finish="satin black"))]),
        ("2025-11-03", [line("the gloss black tank", fact("done", "tank", finish="gloss black"))]),
    )
    assert [(one.finish, other.finish) for one, other in found.conflicts] == [("satin black", "gloss black")]


def test_a_change_of_mind_is_no_conflict(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [line("he wants red", fact("asked for", "tank", finish="red", said_by="customer"))]),
        ("2025-10-03", [line("now he wants blue", fact("asked for", "tank", finish="blue", said_by="customer"))]),
        ("2025-11-03", [line("tank is blue", fact("done", "tank", finish="blue"))]),
    )
    assert found.conflicts == ()


def test_painting_again_as_was_planned_is_no_conflict(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [line("tank is red", fact("done", "tank", finish="red"))]),
        ("2025-10-03", [line("we will do it blue", fact("planned", "tank", finish="blue"))]),
        ("2025-11-03", [line("tank is blue", fact("done", "tank", finish="blue"))]),
    )
    assert found.conflicts == ()


def test_finishes_that_go_together_are_no_conflict(store: Database) -> None:
    found = told(
        store,
        (
            "2025-10-03",
            [line("seat in tan", fact("done", "seat", finish="tan")), line("rim", fact("done", "rim", finish="black"))],
        ),
        (
            "2025-11-03",
            [
                line("leather seat", fact("done", "seat", finish="leather")),
                line("satin black rim", fact("done", "rim", finish="satin black")),
            ],
        ),
    )
    assert found.conflicts == ()


def test_sides_and_doubtful_words_are_no_conflict(store: Database) -> None:
    found = told(
        store,
        (
            "2025-10-03",
            [
                line("front rim gold", fact("done", "rim", finish="gold", side="front")),
                line("tank red", fact("done", "tank", finish="red")),
            ],
        ),
        (
            "2025-11-03",
            [
                line("rear rim black", fact("done", "rim", finish="black", side="rear")),
                line("tank blue", fact("done", "tank", finish="blue", certainty=0.3)),
            ],
        ),
    )
    assert found.conflicts == ()


def test_done_in_one_film_and_still_to_do_in_a_later_one_is_a_conflict_until_it_is_done(store: Database) -> None:
    films = [
        ("2025-10-03", [line("forks are rebuilt", fact("done", "forks", task="rebuild"))]),
        ("2025-11-03", [line("forks to rebuild yet", fact("planned", "forks", task="rebuild"))]),
    ]
    assert len(told(store, *films).conflicts) == 1
    films.append(("2025-12-03", [line("forks are rebuilt now", fact("done", "forks", task="rebuild"))]))
    assert told(store, *films).conflicts == ()


def test_work_done_again_is_no_conflict(store: Database) -> None:
    found = told(
        store,
        ("2025-10-03", [line("rim is painted", fact("done", "rim", task="paint"))]),
        ("2025-11-03", [line("the rim needs painting again", fact("planned", "rim", task="paint"))]),
    )
    assert found.conflicts == ()


def test_two_films_disagree_also_where_the_customer_had_asked_for_one_of_the_finishes(store: Database) -> None:
    films = (
        ("2025-10-03", [line("tank is satin black", fact("done", "fuel tank", finish="satin black"))]),
        ("2025-11-03", [line("the gloss black tank", fact("done", "fuel tank", finish="gloss black"))]),
    )
    for wish in ("gloss black tank", "satin black tank"):
        found = told(store, *films, build=replace(BIKE, asked_for=wish))
        assert [(one.finish, other.finish) for one, other in found.conflicts] == [("satin black", "gloss black")], wish
    assert [(one.kind, one.earlier.source, one.later.finish) for one in found.changes] == [
        ("not as asked", "book", "gloss black")
    ], "the last one is not as asked, and that is told beside the conflict"


def test_what_a_film_said_would_be_there_and_another_film_shows_otherwise_is_a_conflict(store: Database) -> None:
    for status in ("planned", "waiting"):
        found = told(
            store,
            ("2025-10-03", [line("rims go satin black", fact(status, "rim", finish="satin black"))]),
            ("2025-11-03", [line("rims are gloss black", fact("done", "rim", finish="gloss black"))]),
        )
        assert [(one.said_on, other.said_on) for one, other in found.conflicts] == [("2025-10-03", "2025-11-03")]
        assert found.changes == ()


def test_conflict_change_of_mind_change_of_plan_and_not_as_asked_are_each_told_as_what_they_are(
    store: Database,
) -> None:
    bike = replace(BIKE, asked_for="tan seat")
    found = told(
        store,
        ("2025-09-03", [
            line("he wants a red tank", fact("asked for", "fuel tank", finish="red", said_by="customer")),
            line("rims will be gold", fact("planned", "rim", finish="gold")),
            line("frame is satin black", fact("done", "frame", finish="satin black")),
        ]),
        ("2025-10-03", [
            line("now he would like blue", fact("asked for", "fuel tank", finish="blue", said_by="customer")),
            line("we'll do the rims silver", fact("planned", "rim", finish="silver")),
            line("frame is gloss black", fact("done", "frame", finish="gloss black")),
            line("seat is brown", fact("done", "seat", finish="brown")),
        ]),
        build=bike,
    )  # fmt: skip
    lines = describe_history(found, reading.recordings(store.conn))
    sections = {
        heading: lines[lines.index(heading) + 1 : lines.index(heading) + 3]
        for heading in (
            "The films disagree", "Not as the customer asked for", "The customer changed their mind", "The plan changed"
        )
    }  # fmt: skip
    october = "Diary of 2025-10-03, 3 October 2025 at"
    quoted = [tuple(one.split(": ")[1].split(" (plays")[0] for one in pair) for pair in sections.values()]
    assert quoted == [
        ('"frame is satin black"', '"frame is gloss black"'),
        ('"tan seat"', '"seat is brown"'),
        ('"he wants a red tank"', '"now he would like blue"'),
        ('"rims will be gold"', '"we\'ll do the rims silver"'),
    ]
    assert all(october in second for _first, second in sections.values())
    assert sections["Not as the customer asked for"][0].strip().startswith("Job book, 1 September 2025:")


def test_a_finish_by_the_shops_own_name_is_the_same_finish(store: Database, tmp_path: Path) -> None:
    words = tmp_path / "words.yaml"
    words.write_text(
        "finishes:\n  - {name: Harrow bronze, say: [the house colour]}\n"
        "parts:\n  - {name: knee dents, system: fuel and intake}\n  - {name: short battery tray}\n"
    )
    bike = replace(BIKE, asked_for="bronze fuel tank")
    films = (
        ("2025-10-03", [
            line("tank in the house colour", fact("done", "fuel tank", finish="the house colour")),
            line("dents are in", fact("done", "knee dents")),
            line("tray is in", fact("done", "short battery tray")),
        ]),
        ("2025-11-03", [line("the Harrow bronze tank", fact("done", "fuel tank", finish="Harrow bronze"))]),
    )  # fmt: skip
    told(store, *films, build=bike)
    found = history(store.conn, bike, load_vocabulary(words))
    assert found.conflicts == () and found.changes == ()
    where = {part.part: system for system, parts in systems(found).items() for part in parts}
    assert (where["knee dents"], where["short battery tray"]) == ("fuel and intake", "electrics")
    other = ("2025-12-03", [line("the tank is black", fact("done", "fuel tank", finish="black"))])
    told(store, *films, other, build=bike)
    found = history(store.conn, bike, load_vocabulary(words))
    assert [other.finish for _one, other in found.conflicts] == ["black", "black"]


def test_a_voice_note_that_disagrees_is_a_note_and_a_quotation_says_where_it_plays(store: Database) -> None:
    writing.save_builds(store, [BIKE])
    for film, day, finish, kind in (("f", "2025-10-03", "satin", "diary"), ("v", "2025-11-03", "gloss", "bench note")):
        said = line(f"the frame is {finish} black", fact("done", "frame", finish=f"{finish} black"))
        save_film(store, film, day, [topic(said, build="31")], kind=kind)
    lines = describe_history(history(store.conn, BIKE), reading.recordings(store.conn))
    there = lines.index("A film and a note disagree")
    assert lines[there + 1].endswith('at 0:00: "the frame is satin black" (plays at /films/f?t=0.0)')
    assert lines[there + 2].endswith('at 0:00: "the frame is gloss black" (plays at /films/v?t=0.0)')


# --- in words --------------------------------------------------------------------------------------------------------


def test_a_history_reads_as_lines_with_film_minute_and_words(store: Database) -> None:
    bike = replace(BIKE, asked_for="red tank")
    found = told(
        store,
        ("2025-10-03", [line("hello"), line("the seat might be done", fact("done", "seat", certainty=0.4))]),
        ("2025-11-03", [line("waiting for paint", fact("waiting", "tank", task="paint"))]),
        build=bike,
    )
    lines = describe_history(found, reading.recordings(store.conn))
    assert lines[0] == "Job 31: Tarnbeck Otter 500"
    assert (
        "  tank, paint: waiting since 3 November 2025 (Diary of 2025-11-03, 3 November 2025, 0:00) (we think)" in lines
    )
    assert '  0:05  done: seat (not sure)  "the seat might be done"' in lines
    assert "Job book" in lines
    assert all("\n" not in one for one in lines)


def test_a_build_of_which_nothing_is_known_says_so(store: Database) -> None:
    lines = describe_history(told(store, build=replace(BIKE, year="1978", colour="green")), [])
    assert lines == ["Job 31: Tarnbeck Otter 500, 1978, green", "", "Nothing has been said of it on film yet."]


def test_statements_are_grouped_by_the_system_of_their_part() -> None:
    said = [
        Statement("done", "a", part="seat"),
        Statement("done", "b", part="brake pads"),
        Statement("done", "c", part="seat pan"),
        Statement("done", "d", part="thingamajig"),
        Statement("done", "e"),
    ]
    grouped = systems(History(BIKE, tuple(said), (), ()))
    assert list(grouped) == ["wheels and brakes", "seat and bodywork", "the whole bike"], "as one walks round a bike"
    assert [one.part for one in grouped["seat and bodywork"]] == ["seat", "seat pan"]
    assert [one.part for one in grouped["wheels and brakes"]] == ["brake pads"]
    assert [one.part for one in grouped["the whole bike"]] == ["thingamajig"]
