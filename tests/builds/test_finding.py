from __future__ import annotations

from pathlib import Path

import pytest
from film_store import fact, line, save_film, topic
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlite_utils import Database

from diaryidx.builds.finding import find_build, plain_registration
from diaryidx.errors import NotFound
from diaryidx.records import Build
from diaryidx.store import writing
from diaryidx.vocabulary.loader import load_vocabulary

BOOK = [
    Build(
        "209",
        "Ada Quill",
        "Tarnbeck",
        "Otter 500",
        "1978",
        "KL19 XYZ",
        "1M8GDM9AXKP042788",
        "bronze",
        asked_for="quilted seat; satin black rims",
    ),
    Build("0210", "Bram Thistle", "Tarnbeck", "Otter 500", registration="O1 BOB", colour="green", asked_for="tan seat"),
    Build("211", "Ada Holm", "Orrin", "Heron 900", nickname="The Goblin", asked_for="red tank, high pipes"),
    Build("A-12", "Dov Larkspur", "Fell & Moss", "Stoat", asked_for="heated grips"),
    Build("HL/0409", "Jörg Müller", "Orrin", "Kestrel", nickname="Señorita", vin="JS1GR7JA502100311"),
]


@pytest.fixture
def book(store: Database) -> Database:
    writing.save_builds(store, BOOK)
    save_film(
        store,
        "nov",
        "2025-11-03",
        [topic(line("the yokes are polished", fact("done", "yokes", task="polish")), build="A-12")],
    )
    return store


@pytest.mark.parametrize(
    ("typed", "job"),
    [
        ("209", "209"),
        ("#209", "209"),
        ("job 209", "209"),
        ("Job no. 0209", "209"),
        ("210", "0210"),
        ("a12", "A-12"),
        ("KL19XYZ", "209"),
        ("kl19 xyz", "209"),
        ("KLI9-XYZ", "209"),
        ("01BOB", "0210"),
        ("oi b0b", "0210"),
        ("1M8GDM9AXKP042788", "209"),
        ("042788", "209"),
        ("kp04 2788", "209"),
        ("the goblin", "211"),
        ("Goblin", "211"),
        ("goblin's", "211"),
        ("Bram Thistle", "0210"),
        ("mrs holm", "211"),
        ("Thistle", "0210"),
        ("Fell and Moss", "A-12"),
        ("fell & moss stoat", "A-12"),
        ("heron 900", "211"),
        ("the bronze one with the quilted seat", "209"),
        ("the one with the red tank", "211"),
        ("green otter", "0210"),
        ("which had the polished yokes", "A-12"),
        ("bram's bike", "0210"),
        ("the thistle job", "0210"),
        ("job two oh nine", "209"),
        ("the bronze one, kl19 xyz", "209"),
        ("OI BOB green", "0210"),
        ("muller", "HL/0409"),
        ("Mueller", "HL/0409"),
        ("MÜLLER", "HL/0409"),
        ("Jorg Muller's", "HL/0409"),
        ("the muller job", "HL/0409"),
        ("senorita", "HL/0409"),
        ("409", "HL/0409"),
        ("0409", "HL/0409"),
        ("HL 409", "HL/0409"),
        ("hl-0409", "HL/0409"),
        ("VIN 1M8GDM9AXKP042788", "209"),
        ("vin: 042788", "209"),
        ("frame number 042788", "209"),
        ("VIN ending 042788", "209"),
        ("JSIGR7JA5O21OO311", "HL/0409"),
        ("reg KL19 XYZ", "209"),
        ("Reg. no. kli9xyz", "209"),
        ("registration: O1BOB", "0210"),
        ("number plate o1 bob", "0210"),
    ],
)
def test_what_people_type_finds_the_build(book: Database, typed: str, job: str) -> None:
    found = find_build(book.conn, typed)
    assert isinstance(found, Build), found
    assert found.job_number == job


def test_a_bike_is_found_by_the_shops_own_words(book: Database, tmp_path: Path) -> None:
    words = tmp_path / "words.yaml"
    words.write_text(
        "finishes:\n  - {name: Harrow bronze, say: [house colour]}\nnicknames:\n  - {name: Bramble, job: '210'}\n"
        "parts:\n  - {name: quilted solo, say: [bumpad]}\n"
    )
    writing.save_builds(book, [Build("31", make="Orrin", colour="house colour", asked_for="bumpad")])
    shops = load_vocabulary(words)
    for typed, job in (("the harrow bronze one with the quilted solo", "31"), ("Bramble", "0210")):
        found = find_build(book.conn, typed, shops)
        assert isinstance(found, Build) and found.job_number == job, typed
    with pytest.raises(NotFound):
        find_build(book.conn, "Bramble")


@pytest.mark.parametrize(
    ("typed", "jobs"),
    [
        ("otter 500", ["0210", "209"]),
        ("Ada", ["209", "211"]),
        ("Tarnbeck", ["0210", "209"]),
        ("the one with a seat", ["0210", "209"]),
    ],
)
def test_words_that_fit_several_builds_give_candidates_with_reasons(
    book: Database, typed: str, jobs: list[str]
) -> None:
    found = find_build(book.conn, typed)
    assert isinstance(found, list)
    assert sorted(candidate.job_number for candidate in found) == jobs
    assert all(candidate.why for candidate in found)


def test_reasons_are_told_in_the_words_that_were_typed(book: Database) -> None:
    found = find_build(book.conn, "the ones with the seats")
    assert isinstance(found, list)
    assert [one.why.partition(": ")[2] for one in found] == ["fits “seats”"] * 2


@pytest.mark.parametrize("typed", ["999", "purple sidecar with wings", "", "   ", "zz99 zzz"])
def test_what_fits_nothing_is_said_in_one_line_with_advice(book: Database, typed: str) -> None:
    with pytest.raises(NotFound) as caught:
        find_build(book.conn, typed)
    assert "jobs list" in str(caught.value) and "\n" not in str(caught.value)


def test_an_empty_book_says_how_to_fill_it(store: Database) -> None:
    with pytest.raises(NotFound, match="jobs import"):
        find_build(store.conn, "209")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)
@given(st.text(max_size=60))
def test_any_text_finds_something_or_says_that_nothing_fits(book: Database, typed: str) -> None:
    try:
        found = find_build(book.conn, typed)
    except NotFound as error:
        assert "\n" not in str(error)
    else:
        assert isinstance(found, Build) or len(found) > 1


@given(st.text(alphabet="ABCDEFGHJKLMNPQRSTUVWXYZ 0123456789", min_size=1))
def test_letters_and_digits_that_look_alike_are_one_in_a_registration(plate: str) -> None:
    typed = plate.lower().replace("0", "o").replace("1", "i").replace(" ", "-")
    assert plain_registration(typed) == plain_registration(plate)
