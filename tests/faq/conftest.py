from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from diaryidx.store.database import open_store
from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary

sys.path.insert(0, str(Path(__file__).parents[1] / "builds"))  # for film_store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Database]:
    """An empty shop database of its own, on disk."""
    db = open_store(tmp_path / "shop.db")
    yield db
    db.conn.close()


@pytest.fixture
def films(store: Database) -> Database:
    """A database with the invented films."""
    from invented_films import save_films

    save_films(store)
    return store


@pytest.fixture(scope="session")
def vocabulary() -> Vocabulary:
    return load_vocabulary()
