"""The engine "packaged": a small English model that comes inside a wheel (extra ``[packaged]``), for ordinary speech.

It gives text with capitals and punctuation, but neither word times nor certainties: times are estimated from where it
is loud, and marked so. It has no speakers either: its numbers depend on what was heard before, so that they would
depend on the number of workers.

It listens in processes of its own (``packaged_worker``), which are replaced after some minutes of sound: the library
keeps memory for every second that it hears (version 0.0.49: about 0.7 MB), and a crash in it must not end an index.
"""

from __future__ import annotations

import json
import subprocess
import sys
import weakref
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from itertools import pairwise
from pathlib import Path
from queue import Empty, LifoQueue

import numpy as np
from numpy.typing import NDArray

from diaryidx.errors import SpeechError
from diaryidx.records import Word
from diaryidx.speech.packaged_worker import MODEL, OPTIONS
from diaryidx.speech.splitting import HOP, PAUSE, SAMPLE_RATE, hop_power, is_silent, loudness, quiet_hops, split

PACKAGE = "moonshine-voice"
WORKER = Path(__file__).with_name("packaged_worker.py")
REPLACED_AFTER = 300.0  # seconds of sound that one process hears; it takes about as long as two of them to start anew

# Pieces of 10 to 20 seconds made the fewest word errors of those tried (2 to 9 up to 15 to 30 seconds: 6.5 % on the
# demo's films against 7.2 to 7.5 %, and the same 2.8 % on LibriVox clips; `tests/bench/bench_speech.py pieces`).
SHORTEST_PIECE, LONGEST_PIECE = 10.0, 20.0  # seconds

# The model answers any noise with words. Own choices, tried on noises and speech:
STEADY = 4.0  # decibels: where it is never louder or softer than this, it hums or hisses and nobody speaks
SLOWEST = 1.2  # seconds of loud sound for each word: fewer words than that were not spoken but guessed


@dataclass
class Worker:
    """A listening process and the seconds of sound that it has heard."""

    process: subprocess.Popen[bytes]
    heard: float = 0.0


class WorkerDied(Exception):
    """A listening process ended instead of answering."""


class PackagedEngine:
    """The packaged model, in as many processes as there are threads listening."""

    name = "packaged"
    model = "the small English model inside the package"

    def __init__(self) -> None:
        """Load the model. Raises SpeechError: the package is not installed or doesn't work on this machine."""
        try:
            installed = version(PACKAGE)
        except PackageNotFoundError:
            raise SpeechError(
                "the engine packaged is not installed; `pip install 'diaryidx[packaged]'` brings it"
            ) from None
        self._idle: LifoQueue[Worker] = LifoQueue()
        self._idle.put(start_worker())
        weakref.finalize(self, stop_workers, self._idle)
        settings = f"{OPTIONS} pieces {SHORTEST_PIECE} {LONGEST_PIECE} gates {STEADY} {SLOWEST}"
        self.fingerprint = f"packaged {PACKAGE} {installed} {MODEL} {settings}"

    def hear(self, samples: NDArray[np.int16]) -> tuple[Word, ...]:
        """Return the words in 16 kHz mono int16 samples, with estimated times in seconds from the first sample.

        Raises SpeechError: the library crashes over this sound, also when asked again.
        """
        words: list[Word] = []
        for piece in split([samples], SHORTEST_PIECE, LONGEST_PIECE):
            if not piece.silent and not is_steady(piece.samples):
                words += place_words(self._text(piece.samples).split(), piece.samples, piece.start)
        return tuple(words)

    def _text(self, samples: NDArray[np.int16]) -> str:
        """Have one piece heard; a process that dies over it is replaced once."""
        for _trial in range(2):
            with suppress(WorkerDied), self._worker() as worker:
                worker.heard += len(samples) / SAMPLE_RATE
                return ask(worker, samples)
        raise SpeechError("the engine packaged crashes over a piece of this sound; listen with a Vosk model instead")

    @contextmanager
    def _worker(self) -> Iterator[Worker]:
        """Lend a process that listens for nobody else; take it back unless it has died or heard enough."""
        try:
            worker = self._idle.get_nowait()
        except Empty:
            worker = start_worker()
        try:
            yield worker
        except BaseException:
            stop_worker(worker)
            raise
        if worker.heard < REPLACED_AFTER:
            self._idle.put(worker)
        else:
            stop_worker(worker)


def start_worker() -> Worker:
    """Start a process and wait until it has loaded the model. Raises SpeechError where it can't."""
    # -P: the folder of the program, this one, is no place to import from. A session of its own: Ctrl-C is for us.
    command = [sys.executable, "-P", str(WORKER)]
    try:
        process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
    except OSError as error:
        raise SpeechError(f"the engine packaged cannot be started ({error})") from None
    worker = Worker(process)
    try:
        read_reply(worker)
    except (WorkerDied, SpeechError) as error:
        stop_worker(worker)
        told = f" ({error})" if str(error) else ""
        raise SpeechError(f"the engine packaged doesn't work on this machine{told}; use a Vosk model") from None
    return worker


def stop_worker(worker: Worker) -> None:
    """End a process; it keeps nothing that could be lost."""
    worker.process.kill()
    worker.process.wait()
    for pipe in (worker.process.stdin, worker.process.stdout):
        if pipe is not None:
            with suppress(OSError):  # what was written to a process that had died
                pipe.close()


def stop_workers(idle: LifoQueue[Worker]) -> None:
    """End all processes that are not listening."""
    while not idle.empty():
        stop_worker(idle.get_nowait())


def ask(worker: Worker, samples: NDArray[np.int16]) -> str:
    """Return the text of a piece. Raises WorkerDied: the process ended over it."""
    content = samples.tobytes()
    assert worker.process.stdin is not None
    try:
        worker.process.stdin.write(len(content).to_bytes(4, "little") + content)
        worker.process.stdin.flush()
    except OSError:
        raise WorkerDied from None
    return read_reply(worker)


def read_reply(worker: Worker) -> str:
    """Return the text of the next reply. Raises WorkerDied: there is none; SpeechError: it tells of an error."""
    assert worker.process.stdout is not None
    line = worker.process.stdout.readline()
    if not line.endswith(b"\n"):
        raise WorkerDied
    content = json.loads(line)
    if "error" in content:
        raise SpeechError(" ".join(str(content["error"]).split()))
    return str(content["text"])


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
