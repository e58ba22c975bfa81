from __future__ import annotations

import pytest

from diaryidx.wording import clock, how_sure


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (0, "0:00"),
        (-3, "0:00"),
        (59.99, "0:59"),
        (60, "1:00"),
        (754.2, "12:34"),
        (3600, "1:00:00"),
        (36_061, "10:01:01"),
    ],
)
def test_moments_are_shown_as_a_player_shows_them(seconds: float, shown: str) -> None:
    assert clock(seconds) == shown


def test_certainty_is_put_in_words() -> None:
    assert [how_sure(value) for value in (None, 0.2, 0.5, 0.84, 0.85)] == [
        "not measured", "not sure", "we think", "we think", "sure",
    ]  # fmt: skip
