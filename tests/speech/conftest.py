"""The mini model, a minute of the demo's speech, and a user's data folder of the test's own."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path

import numpy as np
import pytest

from diaryidx.media.decode import decode_blocks
from diaryidx.resources import demo_shop_folder, mini_model_folder


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = tmp_path / "home"
    monkeypatch.setenv("DIARYIDX_HOME", str(folder))
    return folder


@pytest.fixture
def model_copy(tmp_path: Path) -> Path:
    """A copy of the mini model that a test may damage."""
    return Path(shutil.copytree(mini_model_folder(), tmp_path / "vosk-model-copy"))


@pytest.fixture(scope="session")
def model_zip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The mini model zipped as a publisher does: everything in one folder."""
    file = tmp_path_factory.mktemp("zip") / "vosk-model-test.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as zipped:
        for path in sorted(mini_model_folder().rglob("*")):
            zipped.write(path, Path("vosk-model-test-0.1") / path.relative_to(mini_model_folder()))
    return file


@pytest.fixture(scope="session")
def speech() -> np.ndarray:
    """Forty seconds of the demo's tutorial: 16 kHz mono int16."""
    film = next(demo_shop_folder().rglob("*brake*.webm"))
    return np.concatenate(list(decode_blocks(film, 0.0, 40.0)))
