"""A job book that changes: only films that may say its names are read again, and it comes to the same as all anew."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlite_utils import Database

from diaryidx import naming
from diaryidx.builds import relinking, review
from diaryidx.builds.relinking import relink
from diaryidx.language import pipeline
from diaryidx.naming import changed_phrases, follow_names, mark_names
from diaryidx.records import Build, Decision, Reading
from diaryidx.shop import Shop, load_shop
from diaryidx.store import decisions, reading, writing
from diaryidx.store.database import open_store
from diaryidx.teaching import decide, plan_teaching
from diaryidx.understanding import Understanding, known_on, understanding_of
from diaryidx.vocabulary import Vocabulary, load_vocabulary
from fixtures.archive import Archive, make_archive
from tests.bench.large_archive import invented_shop, read_film
from tests.bench.large_archive import save_film as keep_film
from tests.taught_archive import everything_said, save_film, texts

BOOK = (
    Build("31", "Wilmot Garth", "Ostrel", "Plover 600", nickname="Brackwater", date_in="2025-01-10", asked_for="tank"),
    Build("32", "Ena Tolley", "Ostrel", "Dabchick 250", date_in="2025-02-01", asked_for="new loom"),
)
SPRING = ("this month we begin with the plover", "the tank is off", "then stoneacre's loom is done", "the seat is on")
AUTUMN = ("the plover is nearly there", "the tank is back", "then stone acre came in with bent forks", "the loom waits")
KEY = "key"


@pytest.fixture(autouse=True, scope="module")
def one_pipeline_for_the_same_words() -> Iterator[None]:
    """Loading the pipeline takes a second."""
    really, made = pipeline.build_pipeline, dict[object, object]()

    def remembered(vocabulary: Vocabulary) -> object:
        if vocabulary.fingerprint not in made:
            made[vocabulary.fingerprint] = really(vocabulary)
        return made[vocabulary.fingerprint]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline, "build_pipeline", remembered)
        yield


def understanding(shop: Shop, db: Database) -> Understanding:
    return understanding_of(shop, db, reading.builds(db.conn))


def follow(shop: Shop, db: Database) -> list[str]:
    read = follow_names(db, understanding(shop, db), KEY)
    relink(db, shop.words)
    return read


@pytest.fixture
def two_films(shop: Shop) -> Iterator[Database]:
    """A film of spring and one of autumn, both of a shop of two bikes."""
    db = open_store(shop.database)
    writing.save_builds(db, BOOK)
    mark_names(db, understanding(shop, db))
    save_film(shop, db, "spring", "2025-04-02", SPRING)
    save_film(shop, db, "autumn", "2025-10-02", AUTUMN)
    relink(db, shop.words)
    yield db
    db.close()


# --- what is read again ----------------------------------------------------------------------------------------------


def test_a_row_that_says_nothing_new_of_names_has_no_film_read_again(shop: Shop, two_films: Database) -> None:
    writing.save_builds(two_films, [replace(BOOK[0], state="finished", asked_for="tank; bent forks", colour="red")])
    assert follow(shop, two_films) == []


def test_a_new_name_has_those_films_read_again_that_say_it_or_were_misheard_since_it_is_known(
    shop: Shop, two_films: Database
) -> None:
    assert follow(shop, two_films) == []
    writing.save_builds(
        two_films, [Build("33", "Odo Marsh", "Quern", "Stint", nickname="Stoneacre", date_in="2025-09-20")]
    )
    assert follow(shop, two_films) == ["spring", "autumn"]
    assert texts(two_films, "autumn")[2] == "then Stoneacre came in with bent forks"
    named = [one.sentence for one in reading.mentions(two_films.conn, "spring") if one.label == "NICKNAME"]
    assert named == [2]
    assert follow(shop, two_films) == []


def test_what_was_said_before_the_shop_met_a_bike_is_not_put_right_to_its_name(shop: Shop, two_films: Database) -> None:
    writing.save_builds(two_films, [Build("33", nickname="Stoneacre", date_in="2025-11-20")])
    assert follow(shop, two_films) == ["spring"]
    assert texts(two_films, "autumn")[2] == AUTUMN[2]
    writing.save_builds(two_films, [Build("33", nickname="Stoneacre", date_in="2025-10-20")])  # a month before it came
    assert follow(shop, two_films) == ["autumn"]
    assert texts(two_films, "autumn")[2] == "then Stoneacre came in with bent forks"


def test_a_name_that_is_taken_back_is_no_name_any_more(shop: Shop, two_films: Database) -> None:
    before = everything_said(two_films)
    writing.save_builds(two_films, [replace(BOOK[1], nickname="Stoneacre")])
    assert follow(shop, two_films) == ["spring", "autumn"]
    assert everything_said(two_films) != before
    writing.save_builds(two_films, [BOOK[1]])
    assert follow(shop, two_films) == ["spring", "autumn"]
    assert everything_said(two_films) == before


def test_what_a_killed_run_left_undone_the_next_one_does(
    shop: Shop, two_films: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    writing.save_builds(two_films, [Build("33", nickname="Stoneacre", date_in="2025-09-20")])

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(naming, "understand", killed)
        follow(shop, two_films)
    assert follow(shop, two_films) == ["spring", "autumn"]


def test_a_correction_taught_meanwhile_leaves_a_film_due(shop: Shop, two_films: Database) -> None:
    writing.save_builds(two_films, [Build("33", nickname="Stoneacre", date_in="2025-09-20")])
    mark_names(two_films, understanding(shop, two_films))
    decide(shop, two_films, plan_teaching(shop, two_films, "the loom waits", "the loom is waiting"), "Ena")
    assert "autumn" in follow(shop, two_films)
    assert texts(two_films, "autumn")[2:] == ["then Stoneacre came in with bent forks", "the loom is waiting"]


def test_a_film_without_a_date_knows_all_names() -> None:
    assert known_on(BOOK, None) == list(BOOK)
    assert known_on(BOOK, "2025-01-05") == list(BOOK)
    assert known_on(BOOK, "2024-12-20") == [BOOK[0]]
    assert known_on([Build("40")], "1999-01-01") == [Build("40")]


def test_a_word_that_two_models_share_changes_what_it_means() -> None:
    one = load_vocabulary(builds=[Build("1", model="Curlew 700")])
    two = load_vocabulary(builds=[Build("1", model="Curlew 700"), Build("2", model="Curlew 850")])
    assert {"curlew", "curlew 850"} <= changed_phrases(one, two)
    assert "curlew 700" not in changed_phrases(one, two)


# --- the short way and the long way ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def invented() -> Archive:
    return make_archive(3, months=4, builds=14)


@pytest.fixture(scope="module")
def before_once(invented: Archive, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The archive read and tied with its own job book."""
    shop = invented_shop(tmp_path_factory.mktemp("before") / "shop")
    filled(shop, invented, list(invented.job_book())).close()
    return shop.folder


@pytest.fixture
def before(before_once: Path, tmp_path: Path) -> Shop:
    shutil.copytree(before_once, tmp_path / "followed")
    return load_shop(tmp_path / "followed")


def filled(shop: Shop, archive: Archive, book: list[Build]) -> Database:
    """The archive read and tied from nothing with a job book."""
    db = open_store(shop.database)
    writing.save_builds(db, book)
    known = understanding(shop, db)
    mark_names(db, known)
    for film in archive.films():
        keep_film(db, film, *read_film(known, film), KEY)
    decide_some(db)
    relink(db, shop.words)
    return db


def decide_some(db: Database) -> None:
    """What people say of some stretches; all of it at moments that do not hang on where the machine cuts."""
    films = sorted(one.id for one in reading.recordings(db.conn) if one.kind == "diary")
    evidence: dict[str, object] = {}
    for film, kind, start, end, what in (
        (films[1], "link", 60.0, 120.0, {"build": "303"}),
        (films[1], "not a build", 150.0, 200.0, {}),
        (films[2], "split", 90.0, 90.0, {}),
        (films[3], "link", 30.0, 100.0, {"not": "304"}),
    ):
        decisions.decide(db, film, kind, start, end, "Ada", what, evidence)  # type: ignore[arg-type]


def stored(db: Database) -> dict[str, list[tuple[object, ...]]]:
    """All that is known of the films, without row numbers."""
    found = everything_said(db)
    for table in ("topics", "talk_topics"):
        sql = f"select recording_id, place, first, last, title, subject_kind, subject_id, certainty from {table}"
        found[table] = sorted(db.execute(sql).fetchall(), key=repr)
    asked = "select g.recording_id, g.first, g.last, g.candidates, g.decision, t.text, t.follows, t.subject_kind"
    sql = f"{asked}, t.subject_id, t.certainty from segments g left join statements t on t.segment_id = g.id"
    found["stated in"] = sorted(db.execute(sql).fetchall(), key=repr)
    found["states"] = sorted(db.execute("select * from link_states").fetchall(), key=repr)
    found["due"] = db.execute("select id from recordings where links_due or names_due").fetchall()
    return found


def changed_book(archive: Archive, how: str) -> list[Build]:
    """The job book before a change, and as it is after it."""
    book = list(archive.job_book())
    number = 1  # it is in the shop all the time
    one = book[number]
    change = {
        "wishes": replace(one, asked_for="quilted seat in tan; gold rims; braided hoses"),
        "names": replace(one, nickname="Thimble", customer="Orla Penhallow", model="Heron 650"),
        "left": replace(one, date_out=archive.dates[0]),
        "later": replace(one, date_in=archive.dates[-1]),
        "state": replace(one, state="finished", promised="2027-01-01"),
    }
    return [*book[:number], change[how], *book[number + 1 :]]


@pytest.mark.parametrize("how", ["wishes", "names", "left", "later", "state"])
def test_whatever_changes_in_a_job_row_films_come_out_as_read_and_tied_from_nothing(
    invented: Archive, before: Shop, tmp_path: Path, how: str
) -> None:
    after = changed_book(invented, how)
    anew = filled(invented_shop(tmp_path / "anew"), invented, after)
    db = open_store(before.database)
    assert stored(db) != stored(anew)
    writing.save_builds(db, after)
    assert len(follow(before, db)) < len(reading.recordings(db.conn))
    assert stored(db) == stored(anew)
    anew.close()
    db.close()


def test_with_a_new_job_row_films_come_out_as_read_and_tied_from_nothing(
    invented: Archive, before_once: Path, tmp_path: Path
) -> None:
    after = list(invented.job_book())
    shop = invented_shop(tmp_path / "without")
    db = filled(shop, invented, [row for row in after if row != after[-2]])
    anew = open_store(before_once / "shop.db")
    assert stored(db) != stored(anew)
    writing.save_builds(db, after)
    assert len(follow(shop, db)) < len(reading.recordings(db.conn))
    assert stored(db) == stored(anew)
    anew.close()
    db.close()


def test_a_decision_made_while_topics_are_cut_again_holds(before: Shop, invented: Archive) -> None:
    db = open_store(before.database)
    writing.save_builds(db, changed_book(invented, "wishes"))
    really, made = relinking.cut_again, list[Decision]()

    def cut_while_somebody_decides(*arguments: object) -> Reading:
        if not made:
            other = open_store(before.database)
            made.append(review.decide(other, review.items(other.conn, 1)[0].id, "assign", "Bram", "302"))
            other.close()
        return really(*arguments)  # type: ignore[arg-type]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(relinking, "cut_again", cut_while_somebody_decides)
        relink(db, before.words)
    (decision,) = made
    (film,) = decisions.recordings_of(db.conn, decision.film)
    middle = (decision.start + decision.end) / 2
    at = next(one for one in reading.segments(db.conn, recording_id=film) if one.start <= middle < one.end)
    assert (at.build, at.certainty) == ("302", 1.0)
    db.close()
