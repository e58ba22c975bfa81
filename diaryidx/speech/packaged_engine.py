"""The engine "packaged": a small English model that comes inside a wheel (extra ``[packaged]``), for ordinary speech.

It gives text with capitals and punctuation, but neither word times nor certainties: times are estimated from where it
is loud, and marked so. Its own cutting is left off: it cuts every ten seconds within words, and what its detector of
speech finds depends on what it heard before, so that the words would depend on the number of workers. The same is true
of its speaker numbers, which are therefore not used.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from importlib.metadata import version
from itertools import pairwise
from queue import Empty, LifoQueue
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diaryidx.errors import SpeechError
from diaryidx.media.files import reason
from diaryidx.records import Word
from diaryidx.speech.splitting import HOP, PAUSE, SAMPLE_RATE, hop_power, is_silent, loudness, quiet_hops, split

PACKAGE = "moonshine-voice"
MODEL = "tiny-en"

# Pieces of 5 to 15 seconds made the fewest word errors of those tried (2 to 30 seconds; tests/bench/bench_speech.py).
SHORTEST_PIECE, LONGEST_PIECE = 5.0, 15.0  # seconds

# The model answers any noise with words. Own choices, tried on noises and speech:
STEADY = 4.0  # decibels: where it is never louder or softer than this, it hums or hisses and nobody speaks
SLOWEST = 1.2  # seconds of loud sound for each word: fewer words than that were not spoken but guessed


class PackagedEngine:
    """The packaged model. Each thread takes a recogniser from a pool; its results live until its next call."""

    name = "packaged"
    model = "the small English model inside the package"

    def __init__(self) -> None:
        """Load the model. Raises SpeechError: the package is not installed or doesn't work on this machine."""
        self._pool: LifoQueue[Any] = LifoQueue()
        self._pool.put(_load())
        settings = f"pieces {SHORTEST_PIECE} {LONGEST_PIECE} gates {STEADY} {SLOWEST}"
        self.fingerprint = f"packaged {PACKAGE} {version(PACKAGE)} {MODEL} {settings}"

    def hear(self, samples: NDArray[np.int16]) -> tuple[Word, ...]:
        """Return the words in 16 kHz mono int16 samples, with estimated times in seconds from the first sample."""
        words: list[Word] = []
        with self._recogniser() as recogniser:
            for piece in split([samples], SHORTEST_PIECE, LONGEST_PIECE):
                if piece.silent or is_steady(piece.samples):
                    continue
                text = _text(recogniser, piece.samples)
                words += place_words(text.split(), piece.samples, piece.start)
        return tuple(words)

    @contextmanager
    def _recogniser(self) -> Iterator[Any]:
        try:
            recogniser = self._pool.get_nowait()
        except Empty:
            recogniser = _load()
        try:
            yield recogniser
        finally:
            self._pool.put(recogniser)


def is_steady(sound: NDArray[np.int16]) -> bool:
    """Return whether a sound of at least half a second neither swells nor fades, as speech always does."""
    heard = loudness(hop_power(sound))[2:-2]
    if len(heard) < 50:
        return is_silent(sound)
    low, high = np.percentile(heard, [5, 95])
    return bool(high - low < STEADY)


def place_words(tokens: list[str], sound: NDArray[np.int16], start: float) -> list[Word]:
    """Spread a piece's words over the stretches in which somebody speaks, by their numbers of letters.

    Args:
        tokens: the words as the engine wrote them; those without a letter or digit are no words.
        sound: the piece's samples.
        start: of the piece in seconds.

    Returns no words if there are too few for so much sound.
    """
    spoken = [token for token in tokens if any(character.isalnum() for character in token)]
    spans = spoken_spans(sound)
    loud = sum(ends - begins for begins, ends in spans)
    if not spoken or loud > SLOWEST * len(spoken):
        return []
    words: list[Word] = []
    for (begins, ends), group in zip(spans, share_out(spoken, spans), strict=True):
        edges = np.cumsum([0.0, *(len(token) + 1.0 for token in group)])
        times = (start + begins + (ends - begins) * edges / max(edges[-1], 1.0)).round(3).tolist()
        words += [Word(token, times[at], times[at + 1], None, True) for at, token in enumerate(group)]
    return words


def spoken_spans(sound: NDArray[np.int16]) -> list[tuple[float, float]]:
    """Return where, in seconds, it is loud, pauses of less than 400 ms included; all of it if that can't be told."""
    power = hop_power(sound)
    quiet = quiet_hops(power) if len(power) else None
    if quiet is None or quiet.all():
        return [(0.0, len(sound) / SAMPLE_RATE)]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], (~quiet).astype(np.int8), [0]]))).reshape(-1, 2)
    spans = [edges[0].tolist()]
    for begins, ends in edges[1:].tolist():
        if begins - spans[-1][1] < PAUSE:
            spans[-1][1] = ends
        else:
            spans.append([begins, ends])
    return [(begins * HOP / SAMPLE_RATE, ends * HOP / SAMPLE_RATE) for begins, ends in spans]


def share_out(tokens: list[str], spans: list[tuple[float, float]]) -> list[list[str]]:
    """Divide words among the spans by the spans' lengths; a pause rather lies after a punctuation mark."""
    letters = np.cumsum([0.0, *(len(token) + 1.0 for token in tokens)])
    after_mark = np.array([0.5 if token[-1:] in ".,;:?!" else 1.0 for token in ["", *tokens]])
    passed = np.cumsum([ends - begins for begins, ends in spans])
    cuts = [0]
    for share in passed[:-1] / passed[-1] * letters[-1]:
        cost = np.abs(letters - share) * after_mark
        cuts.append(cuts[-1] + int(np.argmin(cost[cuts[-1] :])))
    return [tokens[first:last] for first, last in pairwise([*cuts, len(tokens)])]


def _load() -> Any:
    """Load a recogniser that is never freed: freeing one whose detector of speech is off ends the process (0.0.49)."""
    try:
        package: Any = import_module("moonshine_voice")  # untyped, and missing where the extra isn't installed
        transcriber = package.Transcriber
    except ImportError:
        raise SpeechError(
            "the engine packaged is not installed; `pip install 'diaryidx[packaged]'` brings it"
        ) from None
    except OSError as error:
        raise SpeechError(f"the engine packaged doesn't work on this machine ({reason(error)})") from None
    options = {"vad_threshold": 0, "identify_speakers": "false", "return_audio_data": "false"}
    try:
        recogniser: Any = transcriber(str(package.get_model_path(MODEL)), package.ModelArch.TINY, options=options)
    except Exception as error:  # its own exceptions share no base that could be imported before it
        raise SpeechError(f"the engine packaged cannot load its model ({reason(error)}); install it again") from None
    recogniser.close = lambda: None
    return recogniser


def _text(recogniser: Any, sound: NDArray[np.int16]) -> str:
    floats = (sound.astype(np.float32) / 32768.0).tolist()
    lines = recogniser.transcribe_without_streaming(floats, SAMPLE_RATE).lines
    return " ".join(line.text for line in lines)
