from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from diaryidx.store.database import open_store

sys.path.insert(0, str(Path(__file__).parents[1] / "builds"))  # for film_store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Database]:
    """An empty shop database of its own, on disk."""
    db = open_store(tmp_path / "shop.db")
    yield db
    db.conn.close()
