"""Words that are proposed for teaching, in an invented shop."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from diaryidx.builds.relinking import relink
from diaryidx.records import Sentence
from diaryidx.shop import Shop, load_shop
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from diaryidx.suggesting import Suggestion, suggest
from diaryidx.teaching import decide, plan_teaching, plan_undoing
from tests.taught_archive import BOOK, save_film

#: "pliver" and "skell tham" are heard for nothing that the shop's words have; the rest is plain talk.
FILMS = {
    "may": (
        "2026-05-02",
        ("the skell tham tank is off", "and we made a cup of tea", "the pliver seat is at the painter"),
    ),
    "june": (
        "2026-06-02",
        ("a new wiring loom for the skell tham", "the dab chick tank is done", "a quern fitted to the seat"),
    ),
    "july": ("2026-07-02", ("we fitted the pliver mudguard and the skell tham headlight", "the dab chick is next")),
}


@pytest.fixture(scope="module")
def seeded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Shop, Database]]:
    folder = tmp_path_factory.mktemp("suggesting") / "shop"
    (folder / "recordings").mkdir(parents=True)
    (folder / "shop.toml").write_text('[speech]\nengine = "vosk"\nmodel = "mini"\n')
    shop = load_shop(folder)
    db = open_store(shop.database)
    writing.save_builds(db, BOOK)
    for name, (date, lines) in FILMS.items():
        save_film(shop, db, name, date, lines)
    relink(db)
    yield shop, db
    db.close()


def sentences_of(db: Database, name: str) -> list[Sentence]:
    return reading.sentences(db.conn, name)


def by_words(found: list[Suggestion]) -> dict[str, Suggestion]:
    return {one.heard: one for one in found}


def test_rare_words_that_keep_turning_up_beside_trade_words_are_proposed(seeded: tuple[Shop, Database]) -> None:
    found = by_words(suggest(*seeded))
    assert found["skell tham"].meant is None
    assert (found["skell tham"].count, found["skell tham"].films) == (3, 3)
    assert {line.recording for line in found["skell tham"].examples} == {"may", "june", "july"}
    assert not {"cup", "tea", "that", "wiring loom", "mudguard", "painter"} & found.keys()


def test_what_keeps_turning_up_comes_before_what_was_heard_once(seeded: tuple[Shop, Database]) -> None:
    counts = [one.count for one in suggest(*seeded) if one.meant is None]
    assert counts[0] == 3
    assert counts[-1] == 1


def test_what_nearly_sounds_like_a_term_is_proposed_with_it(seeded: tuple[Shop, Database]) -> None:
    """Either it was so clear that it was put right by itself, or a person is asked; never both."""
    shop, db = seeded
    alike = {one.heard: one.meant for one in suggest(shop, db) if one.meant is not None}
    put_right = {
        repair.heard: repair.meant for name in FILMS for one in sentences_of(db, name) for repair in one.repairs
    }
    assert {**put_right, **alike}["pliver"].startswith("Plover")
    assert not put_right.keys() & alike.keys()


def test_a_stretch_is_proposed_once_with_its_longest_words(seeded: tuple[Shop, Database]) -> None:
    heard = [one.heard for one in suggest(*seeded)]
    assert len(heard) == len(set(heard))
    assert not {"skell", "tham"} & set(heard)


def test_what_was_decided_on_is_proposed_no_more(seeded: tuple[Shop, Database]) -> None:
    shop, db = seeded
    decide(shop, db, plan_teaching(shop, db, "skell tham", "Skeltham"), None)
    assert "skell tham" not in by_words(suggest(shop, db))
    decide(shop, db, plan_undoing(shop, db, "skell tham"), None)
    assert "skell tham" not in by_words(suggest(shop, db))


def test_only_so_many_are_proposed(seeded: tuple[Shop, Database]) -> None:
    found = suggest(*seeded, limit=1)
    assert sum(one.meant is None for one in found) <= 1
    assert sum(one.meant is not None for one in found) <= 1


def test_an_empty_shop_has_nothing_to_propose(shop: Shop, db: Database, tmp_path: Path) -> None:
    assert suggest(shop, db) == []
