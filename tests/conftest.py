"""What all tests share: where things are, a shop to work in, and no skipping where everything is installed."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlite_utils import Database

from diaryidx.indexing import index
from diaryidx.resources import demo_shop_folder
from diaryidx.shop import Shop, load_shop
from diaryidx.store.database import open_store
from tests.sound import excerpt

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


@pytest.fixture(scope="session")
def minute(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The first 80 seconds of the demo's tutorial, as a sound file with its date in its name."""
    film = next(demo_shop_folder().rglob("*brake*.webm"))
    return excerpt(film, tmp_path_factory.mktemp("minute") / "2026-05-04 brakes tutorial.wav", seconds=80.0)


@pytest.fixture(scope="session")
def heard_once(minute: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder with that minute indexed; copy it, don't change it."""
    folder = tmp_path_factory.mktemp("heard") / "shop"
    (folder / "recordings").mkdir(parents=True)
    (folder / "shop.toml").write_text('[speech]\nengine = "vosk"\nmodel = "mini"\n')
    shutil.copy2(minute, folder / "recordings" / minute.name)
    shop = load_shop(folder)
    db = open_store(shop.database)
    assert [one.outcome for one in index(shop, db)] == ["indexed"]
    db.close()
    return folder


@pytest.fixture
def heard(heard_once: Path, tmp_path: Path) -> Shop:
    """A copy of the indexed shop to change."""
    folder = tmp_path / "heard-shop"
    shutil.copytree(heard_once, folder, copy_function=shutil.copy2)
    return load_shop(folder)
