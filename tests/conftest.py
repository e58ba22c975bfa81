"""What all tests share: where things are, a shop to work in, and no skipping where everything is installed."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from diaryidx.shop import Shop, load_shop
from diaryidx.store.database import open_store

ROOT = Path(__file__).resolve().parent.parent


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Iterator[None]:
    """With ``DIARYIDX_NO_SKIPS`` set, as in CI, a skipped test is a failed one."""
    outcome = yield
    report = outcome.get_result()  # type: ignore[attr-defined]
    if report.skipped and os.environ.get("DIARYIDX_NO_SKIPS"):
        report.outcome = "failed"


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test sees or changes the models that the person running it has installed."""
    monkeypatch.setenv("DIARYIDX_HOME", str(tmp_path / "diaryidx-home"))


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """An empty shop that listens with the mini model."""
    folder = tmp_path / "shop"
    (folder / "recordings").mkdir(parents=True)
    (folder / "shop.toml").write_text('name = "Test workshop"\n[speech]\nengine = "vosk"\nmodel = "mini"\n')
    return load_shop(folder)


@pytest.fixture
def db(shop: Shop) -> Iterator[Database]:
    """The shop's database."""
    opened = open_store(shop.database)
    yield opened
    opened.close()
