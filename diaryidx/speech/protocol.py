"""What every speech engine can do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from diaryidx.records import Word

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


class Engine(Protocol):
    """Something that hears words in sound.

    ``name`` is what people and settings call it, ``model`` says which model it listens with. ``fingerprint`` changes
    when anything changes that may change the words, so heard stretches can be stored under it.
    """

    @property
    def name(self) -> str:
        """The engine as settings name it: "vosk", "packaged"."""

    @property
    def model(self) -> str:
        """The model as a person would name it."""

    @property
    def fingerprint(self) -> str:
        """Engine, model and settings in one key: equal keys give equal words for equal sound."""

    def hear(self, samples: NDArray[np.int16]) -> tuple[Word, ...]:
        """Return the words in 16 kHz mono int16 samples, in order; times in seconds from the first sample.

        May be called from several threads at once, and the words depend on the samples alone.
        """
