"""Learns the weights of where films turn and of what is talk about no bike, on working seeds of invented archives.

Logistic models with a Gaussian prior around weights chosen by hand (`linking_by_hand.yaml`), so that what is rare in
the archives stays as it was chosen. Turns are learned on two archives whose sentences were written by different hands,
one of them without pauses: `fixtures.archive` and the short films of `tests.builds.run_on_archive`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cache

import numpy as np

from diaryidx.builds.known import Matrix, Vector, shop_on_the_day
from diaryidx.builds.linking import in_shop, near
from diaryidx.builds.said import said_by_sentence
from diaryidx.builds.talk import talk_signs
from diaryidx.builds.turns import pauses, turn_signs
from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Build, Reading, Recording, Sentence
from diaryidx.vocabulary.loader import load_vocabulary
from tests.bench.archive_readings import read_archive
from tests.bench.linking import BIKES
from tests.builds.run_on_archive import make_run_on_archive

#: The variance of the prior around weights chosen by hand.
VARIANCE = 0.5
#: What a sign says in the archive because it was made so stays as it was chosen.
AS_CHOSEN = ("near an end",)
#: The seeds of the run-on archive that are learned from; the tests use others.
RUN_ON_SEEDS = range(700, 707)
#: What a sentence of film tells the fit: its signs, what is known besides as log odds, and whether it is so.
Example = tuple[Sequence[str], float, bool]


def fitted_turns(seeds: Sequence[int], by_hand: Mapping[str, float]) -> dict[str, float]:
    """The weights of the signs of a turn."""
    return _fitted([*_turns_of_archive(seeds), *_turns_of_run_on()], by_hand)


def fitted_talk(seeds: Sequence[int], by_hand: Mapping[str, float]) -> dict[str, float]:
    """The weights of the signs of talk about no bike; the share of such talk in the archive is left out of them."""
    examples = list(_talk_of_archive(seeds))
    share = np.mean([so for _, _, so in examples])
    return _fitted([(signs, float(np.log(share / (1 - share))), so) for signs, _, so in examples], by_hand)


def _turns_of_archive(seeds: Sequence[int]) -> Iterator[Example]:
    for seed in seeds:
        for film in read_archive(seed):
            if film.recording.kind == "diary":
                starts = {true.first for true in film.film.segments}
                yield from _turns_of(film.recording, film.sentences, film.reading, film.book, starts)


@cache
def _turns_of_run_on() -> list[Example]:
    found: list[Example] = []
    for seed in RUN_ON_SEEDS:
        archive = make_run_on_archive(seed)
        vocabulary = load_vocabulary(None, archive.builds)
        nlp = build_pipeline(vocabulary)
        for film in archive.films:
            reading = read_recording(nlp, film.sentences, "diary", film.recording.date, vocabulary)
            found += _turns_of(film.recording, film.sentences, reading, archive.builds, set(film.starts))
    return found


def _turns_of(
    recording: Recording, sentences: Sequence[Sentence], reading: Reading, book: Sequence[Build], starts: set[int]
) -> Iterator[Example]:
    builds = near([replace(build, state=None) for build in book], recording.date, sentences)
    shop = shop_on_the_day(builds, {build.job_number: in_shop(build, recording.date) for build in builds}, ())
    said = said_by_sentence(sentences, reading.mentions, reading.statements)
    cuts = {segment.first for segment in reading.segments}
    signs, paused = list(turn_signs(sentences, said, cuts, shop)), np.log(pauses(sentences))
    for place in range(1, len(sentences)):
        yield signs[place], float(paused[place]), place in starts


def _talk_of_archive(seeds: Sequence[int]) -> Iterator[Example]:
    for seed in seeds:
        for film in read_archive(seed):
            if film.recording.kind == "diary":
                said = said_by_sentence(film.sentences, film.reading.mentions, film.reading.statements)
                signs = list(talk_signs(said, film.reading))
                for true in film.film.segments:
                    for place in range(true.first, true.last + 1):
                        yield signs[place], 0.0, true.about not in BIKES


def _fitted(examples: Sequence[Example], by_hand: Mapping[str, float], rounds: int = 20) -> dict[str, float]:
    """The weights of highest posterior probability, by Newton's method."""
    place = {name: number for number, name in enumerate(by_hand)}
    features: Matrix = np.zeros((len(examples), len(place)))
    for row, (signs, _, _) in enumerate(examples):
        features[row, [place[name] for name in signs]] = 1.0
    known, so = np.array([one for _, one, _ in examples]), np.array([one for _, _, one in examples], dtype=float)
    prior: Vector = np.array(list(by_hand.values()))
    strength = np.array([1e6 if name in AS_CHOSEN else 1 / VARIANCE for name in by_hand])
    weights = prior.copy()
    for _ in range(rounds):
        chances = 1 / (1 + np.exp(-(features @ weights + known)))
        hessian = (features * (chances * (1 - chances))[:, None]).T @ features + np.diag(strength)
        step = np.linalg.solve(hessian, features.T @ (so - chances) + (prior - weights) * strength)
        weights = weights + step * min(1.0, 2.0 / np.abs(step).max())
    return {name: round(float(value), 2) for name, value in zip(by_hand, weights, strict=True)}
