from __future__ import annotations

import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest

from diaryidx.records import Word
from diaryidx.speech.hearing import Job, hear_all
from diaryidx.speech.splitting import SAMPLE_RATE, Stretch


class Listener:
    """An engine that hears one word, named after the first sample, after a moment; counts how many listen at once."""

    name, model, fingerprint = "listener", "none", "listener"

    def __init__(self, moment: float = 0.01) -> None:
        self.moment = moment
        self.lock = threading.Lock()
        self.listening = self.most = self.asked = 0

    def hear(self, samples: np.ndarray) -> tuple[Word, ...]:
        with self.lock:
            self.asked += 1
            self.listening += 1
            self.most = max(self.most, self.listening)
        time.sleep(self.moment)
        with self.lock:
            self.listening -= 1
        return (Word(str(samples[0]), 0.5, 1.0, 0.9),)


def stretch(number: int, silent: bool = False) -> Stretch:
    start = number * 2 * SAMPLE_RATE
    return Stretch(number, start, start + 2 * SAMPLE_RATE, np.full(2 * SAMPLE_RATE, number, np.int16), silent)


def jobs(count: int) -> Iterator[Job]:
    return (Job("film", stretch(number)) for number in range(count))


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_every_stretch_is_heard_once_at_film_time_by_any_number_of_workers(workers):
    engine = Listener()
    heard = sorted(hear_all(jobs(20), engine, workers), key=lambda one: one.stretch_number)
    assert [one.stretch_number for one in heard] == list(range(20))
    assert [one.words for one in heard] == [(Word(str(n), 2 * n + 0.5, 2 * n + 1.0, 0.9),) for n in range(20)]
    assert [(one.start, one.end_sample) for one in heard] == [(2.0 * n, (2 * n + 2) * SAMPLE_RATE) for n in range(20)]
    assert engine.most == workers


def test_stretches_are_decoded_only_as_fast_as_they_are_heard():
    taken = finished = 0
    most = 0

    def lazily() -> Iterator[Job]:
        nonlocal taken, most
        for job in jobs(40):
            taken += 1
            most = max(most, taken - finished)
            yield job

    for _heard in hear_all(lazily(), Listener(0.001), 2):
        finished += 1
    assert most <= 2 * 2 + 3
    assert taken == finished == 40


def test_results_come_while_later_stretches_are_still_being_decoded():
    def slowly() -> Iterator[Job]:
        for job in jobs(4):
            time.sleep(0.05)
            yield job

    events = hear_all(slowly(), Listener(0.001), 1)
    began = time.perf_counter()
    next(events)
    assert time.perf_counter() - began < 0.19
    assert len(list(events)) == 3


def test_silence_is_not_given_to_the_engine():
    engine = Listener()
    [heard] = hear_all([Job("film", stretch(3, silent=True))], engine, 2)
    assert (heard.words, heard.start, engine.asked) == ((), 6.0, 0)


def test_stopping_early_drops_what_waits():
    engine = Listener(0.02)
    events = hear_all(jobs(1000), engine, 2)
    next(events)
    began = time.perf_counter()
    events.close()
    assert time.perf_counter() - began < 0.5
    assert engine.asked <= 8
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("hearing")]


def test_ctrl_c_in_the_decoder_leaves_no_thread_behind():
    def interrupted() -> Iterator[Job]:
        yield from jobs(3)
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        list(hear_all(interrupted(), Listener(), 2))
    assert not [thread for thread in threading.enumerate() if thread.name.startswith("hearing")]


def test_an_engine_s_error_is_told():
    class Broken(Listener):
        def hear(self, samples: np.ndarray) -> tuple[Word, ...]:
            raise MemoryError("no room")

    with pytest.raises(MemoryError, match="no room"):
        list(hear_all(jobs(10), Broken(), 2))
