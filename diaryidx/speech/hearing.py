"""Have stretches of sound heard on several cores at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, replace
from typing import Any

from diaryidx.records import Word
from diaryidx.speech.protocol import Engine
from diaryidx.speech.splitting import Stretch


@dataclass(frozen=True)
class Job:
    """A stretch to be heard; ``key`` is whatever the caller knows it by."""

    key: Any
    stretch: Stretch


@dataclass(frozen=True)
class Heard:
    """The words of one stretch, with times from the start of the film in seconds."""

    key: Any
    stretch_number: int
    start_sample: int
    end_sample: int
    start: float
    end: float
    words: tuple[Word, ...]


def hear_all(jobs: Iterable[Job], engine: Engine, workers: int) -> Iterator[Heard]:
    """Yield the words of every job as soon as they are heard, in any order.

    Engines let go of Python's global lock while they listen, so threads use all cores and share one model. Jobs are
    taken from ``jobs`` (which decodes films as it goes) only as fast as they are heard: at most ``2 * workers + 2``
    stretches are held, and some always wait, so that no worker ever waits for the decoder. Words depend on the stretch
    alone, not on the number of workers.

    When the caller stops (closes the generator, or Ctrl-C), what waits is dropped and what is being heard is awaited.

    Raises whatever ``jobs`` or the engine raises.
    """
    if workers < 1:
        raise ValueError("at least one worker must listen")
    waiting: set[Future[Heard]] = set()
    executor = ThreadPoolExecutor(workers, thread_name_prefix="hearing")
    try:
        for job in jobs:
            waiting.add(executor.submit(_hear, job, engine))
            timeout = 0 if len(waiting) < 2 * workers + 2 else None
            done, waiting = wait(waiting, timeout, return_when=FIRST_COMPLETED)
            yield from _results(done)
        while waiting:
            done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            yield from _results(done)
    finally:
        executor.shutdown(wait=True, cancel_futures=True)


def _results(done: Iterable[Future[Heard]]) -> Iterator[Heard]:
    """What was heard, then the first thing that went wrong: no finished stretch is lost to another's end."""
    for future in sorted(done, key=lambda future: future.exception() is not None):
        yield future.result()


def _hear(job: Job, engine: Engine) -> Heard:
    """Hear one stretch and move its words to film time."""
    stretch = job.stretch
    words = () if stretch.silent else engine.hear(stretch.samples)
    moved = tuple(replace(word, start=stretch.start + word.start, end=stretch.start + word.end) for word in words)
    return Heard(job.key, stretch.number, stretch.start_sample, stretch.end_sample, stretch.start, stretch.end, moved)
