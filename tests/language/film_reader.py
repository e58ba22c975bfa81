"""The type of the ``read`` fixture: lines of talk, a kind of film and a date in, a Reading out."""

from __future__ import annotations

from collections.abc import Callable

from diaryidx.records import Reading

Reader = Callable[..., Reading]
