from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from media_films import write_film


@pytest.fixture
def film(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes a film of a name into the test's folder."""

    def make(name: str, **how: Any) -> Path:
        return write_film(tmp_path / name, **how)

    return make
