"""One seeded site for all tests of this room."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing

import httpx
import pytest

from diaryidx.shop import Shop
from tests.site.people import as_role
from tests.site.running import running
from tests.site.seeded_shop import seeded_shop


@pytest.fixture(scope="session")
def seeded(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return seeded_shop(tmp_path_factory.mktemp("seeded") / "shop")


@pytest.fixture(scope="session")
def site(seeded: Shop) -> Iterator[httpx.Client]:
    """A client of the seeded shop's site; redirects are not followed."""
    with running(seeded) as address, httpx.Client(base_url=address, trust_env=False, timeout=20) as client:
        yield client


@pytest.fixture
def address(shop: Shop) -> Iterator[str]:
    """Where the site of a test's own shop is; nobody is let in without signing in."""
    with running(shop, open_door=False) as found:
        yield found


@pytest.fixture
def bram(address: str) -> Iterator[httpx.Client]:
    """The browser of somebody on the staff of that shop."""
    with closing(as_role(address, "staff")) as client:
        yield client
