"""How a bike stands: parts by system, what is open and on whom it waits, what was changed, what is new since a day."""

from __future__ import annotations

from dataclasses import replace

import pytest
from film_store import Line, fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds.history import history, open_counts
from diaryidx.builds.standing import PartState, news_since, open_in_full, systems
from diaryidx.builds.telling import describe_history
from diaryidx.records import Build, History, Promise
from diaryidx.shapes import history_json
from diaryidx.store import reading, writing

BIKE = Build("31", "Ada Quill", "Tarnbeck", "Otter 500", date_in="2025-09-01")


def told(store: Database, *films: tuple[str, list[Line]], build: Build = BIKE, certainty: float = 0.95) -> History:
    writing.save_builds(store, [build])
    for date, lines in films:
        stretch = topic(*lines, build=build.job_number, certainty=certainty)
        save_film(store, f"film-{date}", date, [stretch], title=f"Diary of {date}")
    return history(store.conn, build)


def only_part(found: History) -> PartState:
    ((part,),) = systems(found).values()
    return part


def changed(found: History) -> list[tuple[str, str | None, str | None]]:
    return [(one.kind, one.earlier.finish, one.later.finish) for one in found.changes]


# --- the state of a part ---------------------------------------------------------------------------------------------


def test_a_part_has_what_is_on_it_its_side_finish_supplier_and_the_day_by_which_it_was_fitted(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [line("waiting", fact("waiting", "rim", side="front", supplier="Kestrel Yard"))]),
        (
            "2025-10-03",
            [
                line(
                    "coated",
                    fact("done", "rim", side="front", task="powder coat", finish="satin black", certainty=0.9),
                ),
                line("in it goes", fact("done", "rim", side="front", task="fit", certainty=0.9)),
            ],
        ),
        ("2025-11-03", [line("looks well", fact("done", "rim", side="front", certainty=0.9))]),
    )
    part = only_part(found)
    assert list(systems(found)) == ["wheels and brakes"]
    assert (part.part, part.side, part.finish, part.supplier) == ("rim", "front", "satin black", "Kestrel Yard")
    assert (part.status, part.fitted, part.tasks) == ("done", "2025-10-03", ("powder coat", "fit"))


def test_a_part_that_is_wanted_otherwise_shows_both_what_is_on_it_and_what_is_to_come(store: Database) -> None:
    found = told(
        store,
        ("2025-10-03", [line("seat is tan", fact("done", "seat", finish="tan"))]),
        ("2025-11-03", [line("he wants black", fact("asked for", "seat", finish="black", said_by="customer"))]),
    )
    part = only_part(found)
    assert (part.finish, part.wanted, part.status) == ("tan", "black", "asked for")


def test_two_sides_are_two_parts_and_an_unnamed_side_is_the_only_one_named(store: Database) -> None:
    found = told(
        store,
        (
            "2025-10-03",
            [
                line("front rim gold", fact("done", "rim", side="front", finish="gold")),
                line("rear rim black", fact("done", "rim", side="rear", finish="black")),
                line("left mirror on", fact("done", "mirrors", side="left")),
                line("mirror polished", fact("done", "mirrors", task="polish")),
            ],
        ),
    )
    shown = [(one.part, one.side, one.finish) for parts in systems(found).values() for one in parts]
    assert shown == [("mirrors", "left", None), ("rim", "front", "gold"), ("rim", "rear", "black")]


def test_a_part_that_may_belong_to_another_bike_is_doubtful_however_well_it_was_understood(store: Database) -> None:
    said = ("2025-10-03", [line("tank done", fact("done", "fuel tank", certainty=0.95))])
    found = told(store, said, certainty=0.6)
    assert only_part(found).certainty == pytest.approx(0.95 * 0.6)
    assert any("fuel tank: done by 3 October 2025 (we think)" in text for text in describe_history(found, []))


# --- what is open ----------------------------------------------------------------------------------------------------


def test_what_waits_says_on_whom_and_since_the_first_film_that_said_so_without_a_break(store: Database) -> None:
    found = told(
        store,
        ("2025-08-03", [line("waiting", fact("waiting", "wiring loom", supplier="Old Yard"))]),
        ("2025-09-03", [line("going in", fact("in progress", "wiring loom"))]),
        ("2025-10-03", [line("waiting again", fact("waiting", "wiring loom", supplier="Kestrel Yard"))]),
        ("2025-11-03", [line("still waiting", fact("waiting", "wiring loom"))]),
    )
    (item,) = open_in_full(found)
    assert (item.since, item.on, item.statement.recording) == ("2025-10-03", "Kestrel Yard", "film-2025-11-03")
    assert "  wiring loom: waiting on Kestrel Yard since 3 October 2025" in "\n".join(describe_history(found, []))


def test_what_is_promised_in_the_same_words_is_promised_for_its_day_and_every_promise_is_told(store: Database) -> None:
    writing.save_builds(store, [BIKE])
    said = line("the seat is done by january", fact("planned", "seat"))
    save_film(
        store,
        "nov",
        "2025-11-03",
        [topic(line("hello"), kind="shop"), topic(said, build="31")],
        promises=[Promise("the seat is done by january", 5.0, 10.0, "2026-01"), Promise("a new film", 0.0, 5.0)],
    )
    found = history(store.conn, BIKE)
    assert [item.promised for item in open_in_full(found)] == ["2026-01"]
    assert [one.text for one in found.promises] == ["the seat is done by january"], "what was promised of this bike"
    assert "seat: planned since 3 November 2025, promised for January 2026" in "\n".join(describe_history(found, []))


def test_a_wish_is_told_in_the_words_of_the_job_book(store: Database) -> None:
    lines = describe_history(told(store, build=replace(BIKE, asked_for="low bars; LED indicators")), [])
    assert lines[3:5] == [
        "  low bars: asked for since 1 September 2025 (job book)",
        "  LED indicators: asked for since 1 September 2025 (job book)",
    ]


def test_a_doubtful_word_replaces_nothing_that_is_known_better(store: Database) -> None:
    found = told(
        store,
        ("2025-10-03", [line("waiting for the tank", fact("waiting", "fuel tank"))]),
        ("2025-11-03", [line("fingers crossed", fact("planned", "fuel tank", certainty=0.3))]),
    )
    assert [one.status for one in found.open] == ["waiting"]


def test_open_items_are_counted_for_many_builds_as_their_histories_have_them(store: Database) -> None:
    other = Build("32", asked_for="tan seat; black rims")
    told(store, ("2025-10-03", [line("tank next", fact("planned", "fuel tank"))]))
    writing.save_builds(store, [other])
    counted = open_counts(store.conn, [BIKE, other])
    assert (
        counted == {one.job_number: len(history(store.conn, one).open) for one in (BIKE, other)} == {"31": 1, "32": 2}
    )


# --- what was changed ------------------------------------------------------------------------------------------------


def test_a_later_wish_of_the_customer_is_a_change_of_mind_and_no_conflict(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [line("he wants red", fact("asked for", "seat", finish="red", said_by="customer"))]),
        ("2025-10-03", [line("now he wants blue", fact("asked for", "seat", finish="blue", said_by="customer"))]),
        ("2025-11-03", [line("it is blue", fact("done", "seat", finish="blue"))]),
    )
    assert (changed(found), found.conflicts) == ([("change of mind", "red", "blue")], ())


def test_a_wish_of_the_job_book_counts_as_the_first_one(store: Database) -> None:
    bike = replace(BIKE, asked_for="tan seat")
    found = told(
        store, ("2025-10-03", [line("now black", fact("asked for", "seat", finish="black", said_by="customer"))]),
        build=bike,
    )  # fmt: skip
    assert changed(found) == [("change of mind", "tan", "black")]
    assert found.changes[0].earlier.source == "book"


def test_a_customer_who_wants_a_thing_no_more_changed_their_mind(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [line("a screen", fact("asked for", "screen", said_by="customer"))]),
        ("2025-10-03", [line("no screen after all", fact("ruled out", "screen", said_by="customer"))]),
    )
    assert (changed(found), found.open) == ([("change of mind", None, None)], ())


def test_another_plan_without_a_word_of_the_customer_is_a_change_of_plan(store: Database) -> None:
    found = told(
        store,
        ("2025-10-03", [line("satin black next", fact("planned", "seat", finish="satin black"))]),
        ("2025-11-03", [line("gloss black next", fact("planned", "seat", finish="gloss black"))]),
    )
    assert (changed(found), found.conflicts) == ([("change of plan", "satin black", "gloss black")], ())


def test_what_was_done_otherwise_than_asked_is_told_until_it_is_done_as_asked(store: Database) -> None:
    films = [
        ("2025-09-03", [line("he wants red", fact("asked for", "seat", finish="red", said_by="customer"))]),
        ("2025-10-03", [line("it is blue", fact("done", "seat", finish="blue"))]),
    ]
    assert changed(told(store, *films)) == [("not as asked", "red", "blue")]
    films.append(("2025-11-03", [line("painted again in red", fact("done", "seat", finish="red"))]))
    assert changed(told(store, *films)) == []


def test_two_done_states_are_a_conflict_and_no_change(store: Database) -> None:
    found = told(
        store,
        ("2025-10-03", [line("satin black", fact("done", "seat", finish="satin black"))]),
        ("2025-11-03", [line("gloss black", fact("done", "seat", finish="gloss black"))]),
    )
    assert len(found.conflicts) == 1 and found.changes == ()


def test_other_sides_fitting_finishes_and_doubtful_words_change_nothing(store: Database) -> None:
    found = told(
        store,
        ("2025-09-03", [
            line("front gold", fact("asked for", "rim", side="front", finish="gold", said_by="customer")),
            line("tan seat", fact("asked for", "seat", finish="tan", said_by="customer")),
            line("red tank", fact("asked for", "fuel tank", finish="red", said_by="customer")),
        ]),
        ("2025-10-03", [
            line("rear black", fact("done", "rim", side="rear", finish="black")),
            line("leather seat", fact("done", "seat", finish="leather")),
            line("blue tank", fact("done", "fuel tank", finish="blue", certainty=0.3)),
        ]),
    )  # fmt: skip
    assert found.changes == ()


# --- since a day -----------------------------------------------------------------------------------------------------

THREE_MONTHS = (
    ("2025-09-03", [line("rims off", fact("in progress", "rim")), line("tank done", fact("done", "fuel tank"))]),
    ("2025-10-03", [line("rims done", fact("done", "rim")), line("seat next", fact("planned", "seat"))]),
    ("2025-11-03", [line("seat done", fact("done", "seat")), line("loom next", fact("planned", "wiring loom"))]),
)


def test_news_since_a_day_is_what_was_settled_and_what_is_open_now(store: Database) -> None:
    found = told(store, *THREE_MONTHS)
    assert [(one.part, one.status) for one in news_since(found, "2025-10-03")] == [
        ("rim", "done"), ("seat", "done"), ("wiring loom", "planned"),
    ]  # fmt: skip
    assert news_since(found, "2025-11-04") == ()


def test_the_last_visit_in_force_is_the_day_from_which_a_history_tells_what_is_new(store: Database) -> None:
    told(store, *THREE_MONTHS)
    for day in ("2025-10-20", "2025-10-10"):
        writing.save_note(store, "31", "The customer came by.", day, "Wes", [], visit=True)
    late = writing.save_note(store, "31", "The customer came by.", "2025-11-20", "Wes", [], visit=True)
    writing.undo_note(store, late.id, "Wes")
    found = history(store.conn, BIKE)
    assert found.last_visit == "2025-10-20"
    lines = describe_history(found, reading.recordings(store.conn))
    place = lines.index("New since 20 October 2025 (the customer's last visit)")
    assert [text.split('  "')[0] for text in lines[place + 1 : place + 3]] == [
        "  Diary of 2025-11-03, 3 November 2025, 0:00: done: seat (we think)",
        "  Diary of 2025-11-03, 3 November 2025, 0:05: planned: wiring loom (we think)",
    ]
    assert any(text == "New since 4 November 2025" for text in describe_history(found, [], "2025-11-04"))
    shape = history_json(found, private=True)
    assert (shape["since"]["date"], shape["since"]["visit"]) == ("2025-10-20", True)
    assert [one["part"] for one in shape["since"]["statements"]] == ["seat", "wiring loom"]


def test_json_has_the_same_state_open_items_and_changes(store: Database) -> None:
    bike = replace(BIKE, asked_for="tan seat")
    found = told(
        store,
        ("2025-10-03", [line("seat is black", fact("done", "seat", finish="black"))]),
        ("2025-11-03", [line("loom", fact("waiting", "wiring loom", supplier="Kestrel Yard"))]),
        build=bike,
    )
    shape = history_json(found, private=True)
    assert [(one["system"], [part["part"] for part in one["parts"]]) for one in shape["systems"]] == [
        ("electrics", ["wiring loom"]), ("seat and bodywork", ["seat"]),
    ]  # fmt: skip
    assert [(one["on"], one["since"]) for one in shape["open"]] == [("Kestrel Yard", "2025-11-03")]
    assert [(one["kind"], one["later"]["finish"]) for one in shape["changes"]] == [("not as asked", "black")]
    assert shape["since"] is None


def test_what_a_person_decided_is_told_as_checked(store: Database) -> None:
    told(store, ("2025-10-03", [line("seat is black", fact("done", "seat", finish="black", certainty=0.9))]))
    store.execute("update segments set decision = 7, certainty = 1.0")
    store.execute("update statements set follows = 1")
    found = history(store.conn, BIKE)
    assert [one.decided for one in found.statements] == [True]
    assert "    seat: black, done by 3 October 2025 (checked by a person)" in describe_history(found, [])
