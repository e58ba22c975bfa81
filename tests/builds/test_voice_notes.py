from __future__ import annotations

import dataclasses

import pytest
from film_store import fact, line, save_film, topic
from hypothesis import given
from hypothesis import strategies as st
from sqlite_utils import Database

from diaryidx.builds.deciding import Outcome
from diaryidx.builds.relinking import relink
from diaryidx.builds.voice_notes import named_in_file, tie_voice_note
from diaryidx.records import Build, Recording, Segment, Subject
from diaryidx.store import reading, writing

BUILDS = [
    Build("2304", "Ada Quill", "Tarnbeck", "Otter", registration="KL19 XYZ", nickname="The Goblin"),
    Build("2310", "Bram Thistle", "Orrin", "Wren", registration="O1 BOB"),
    Build("A-12", make="Heron", nickname="Sunday"),
    Build("20", make="Stoat"),
]


@pytest.mark.parametrize(
    ("path", "job"),
    [
        ("job 2304 tank.m4a", "2304"),
        ("voice notes/Job-2304.opus", "2304"),
        ("job_no_2304_tank.amr", "2304"),
        ("order #2310.ogg", "2310"),
        ("job a12 forks.m4a", "A-12"),
        ("2026-11-03 job 20.m4a", "20"),
        ("KL19XYZ.m4a", "2304"),
        ("kl19 xyz tank.m4a", "2304"),
        ("klI9-xyz.3gp", "2304"),
        ("01bob.m4a", "2310"),
        ("goblin tank.m4a", "2304"),
        ("the_goblin.m4a", "2304"),
        ("sunday-forks.m4a", "A-12"),
        ("2310 wiring.m4a", "2310"),
        ("2310_tank.m4a", "2310"),
    ],
)
def test_a_file_name_that_people_give_names_the_job(path: str, job: str) -> None:
    assert list(named_in_file(path, BUILDS)) == [job]


@pytest.mark.parametrize(
    "path",
    ["tank.m4a", "Recording 20261117_1642.m4a", "2026-11-20.m4a", "20 tank.m4a", "rec-2304.m4a", "12.30.20.m4a",
     "goblins.m4a", "job 99.m4a", "job 23041.m4a", "Recording 12.m4a"],
)  # fmt: skip
def test_other_names_name_no_job(path: str) -> None:
    assert named_in_file(path, BUILDS) == {}


def test_the_reason_spells_no_registration_out() -> None:
    assert "KL19" not in str(named_in_file("kl19xyz.m4a", BUILDS).values())


@given(st.text(max_size=40))
def test_any_name_is_read_without_error(name: str) -> None:
    assert set(named_in_file(name, BUILDS)) <= {build.job_number for build in BUILDS}


def note(path: str, **changes: str) -> Recording:
    film = Recording("n", path, "n", "bench note", "2026-11-03", None, "2026-11", 30.0, False, None, "indexed")
    return dataclasses.replace(film, **changes)  # type: ignore[arg-type]


def about(build: str | None = None, certainty: float = 0.0, *evidence: str, kind: str = "build") -> Segment:
    return Segment(0.0, 9.0, 0, 1, "x", Subject(kind, build), build, certainty, evidence)  # type: ignore[arg-type]


def test_a_named_note_is_tied_with_its_reason_and_what_was_said_stays_beside_it() -> None:
    tied = tie_voice_note(
        note("job 2304.m4a"), [about(), about("2304", 0.99, "said 'otter'"), about(kind="shop")], BUILDS, []
    )
    assert [(one.build, one.certainty) for one in tied] == [("2304", 0.97), ("2304", 0.99), (None, 0.0)]
    assert tied[1].evidence == ("its file is named after job 2304", "said 'otter'")


def test_a_name_against_the_words_is_asked_about() -> None:
    (asked,) = tie_voice_note(note("job 2304.m4a"), [about("2310", 0.9, "said 'wren'")], BUILDS, [])
    assert asked.build is None
    assert asked.evidence == ("could be job 2304 or job 2310", "its file is named after job 2304", "said 'wren'")


def test_one_bike_named_in_a_note_is_the_bike_of_the_rest_of_it() -> None:
    tied = tie_voice_note(
        note("x.m4a"), [about("2310", 0.9), about(None, 0.2, "could be job 20 or job 2304")], BUILDS, []
    )
    assert [one.build for one in tied] == ["2310", "2310"]
    assert tied[1].evidence == ("the rest of this note is about job 2310",)
    two = tie_voice_note(note("x.m4a"), [about("2310", 0.9), about("20", 0.9), about()], BUILDS, [])
    assert two[2].build is None


def test_what_a_person_decided_stays() -> None:
    decided = [
        Outcome(1, "by Wes", build="20"),
        Outcome(2, "by Wes", no_build=True),
        Outcome(3, "x", refused=frozenset({"2304"})),
    ]
    tied = tie_voice_note(note("job 2304.m4a"), [about("20", 1.0), about(), about()], BUILDS, decided)
    assert [one.build for one in tied] == ["20", None, "20"]


def test_films_of_other_kinds_are_left_alone() -> None:
    assert tie_voice_note(note("job 2304.mp4", kind="diary"), [about()], BUILDS, []) == [about()]


def test_a_note_is_tied_when_it_is_stored_and_again_when_its_file_is_renamed(store: Database) -> None:
    writing.save_builds(store, BUILDS)
    save_film(
        store, "memo", "2026-11-03", [topic(line("new pads are in", fact("done", "brake pads")))], kind="bench note"
    )
    relink(store)
    assert reading.statements(store.conn)[0].build is None
    writing.move_recording(store, "memo", "job 2310 pads.m4a", 1, 1)
    assert reading.links_due(store.conn)
    relink(store)
    assert reading.statements(store.conn)[0].build == "2310"
    assert reading.segments(store.conn)[0].evidence == ("its file is named after job 2310",)
