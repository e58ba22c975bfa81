"""Learns what linking.yaml holds, on working seeds of the invented archive.

Run as `python -m tests.bench.fit_linking SEED ...`.

Where films turn and what is talk about no bike is learned first (`fit_turns.py`). The weights are those of a
conditional logit model (McFadden 1974) of the build of each segment, true ones and those as cut that are of one bike,
among all builds of the job book of the day and "none of these", given the build of the segment before and that a bike
is shown once. They are found by Newton's method with a Gaussian prior (variance 1) around weights chosen by hand
(`linking_by_hand.yaml`), so that what is rare in the archive stays as it was chosen. Last comes the curve of certainty.
`tests/bench/linking.py` reports on other seeds.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import yaml

from diaryidx.builds import clues as clues_room
from diaryidx.builds.clues import clues, learned
from diaryidx.builds.known import Matrix, Vector, shop_on_the_day
from diaryidx.builds.linking import SHOW_FROM, again_signs, in_shop, near, weigh
from diaryidx.builds.said import said_by_sentence
from diaryidx.builds.turns import turns
from diaryidx.records import Reading, Segment
from tests.bench.archive_readings import ReadFilm, read_archive
from tests.bench.fit_turns import fitted_talk, fitted_turns
from tests.bench.linking import BIKES, Past, by_linker, cut_topics, is_of, run, true_topics

FILE = Path(clues_room.__file__).with_name("linking.yaml")
BY_HAND = Path(__file__).with_name("linking_by_hand.yaml")
TWICE = -50.0
#: Names weigh at least so much (own choice): on film they are misheard and said of the next bike already, from which
#: the fit would learn to trust a part that somebody asked for more than a bike's own name.
LEAST = {"name: nickname": 1.1, "name: model": 1.8, "name: make": 1.3, "name: job number": 1.0}
#: The signs of certainty that are counts of what speaks against a build; all others grow with what speaks for it.
COUNTED_AGAINST = ("against", "by others alone")
PURE = 0.8


@dataclass(frozen=True)
class Choice:
    """One true segment: features of each build and last of none of these, and which of them is true."""

    features: Matrix
    taken: Vector
    true: int


def choices_of(seed: int, names: Sequence[str], steps: tuple[int, int]) -> list[Choice]:
    """The choices of an archive, of its true segments and of those as cut, each film with the past as the linker made
    it.
    """
    found: list[Choice] = []

    def linker(film: ReadFilm, reading: Reading, past: Past) -> list[Segment]:
        found.extend(_choices(film, reading, past, names, steps))
        return by_linker(film, reading, past)

    for topics in (true_topics, cut_topics):
        run(read_archive(seed), topics, linker)
    return found


def _choices(
    film: ReadFilm, reading: Reading, past: Past, names: Sequence[str], steps: tuple[int, int]
) -> Iterator[Choice]:
    builds = near(film.book, film.recording.date, film.sentences)
    weights = {build.job_number: in_shop(build, film.recording.date) for build in builds}
    shop = shop_on_the_day(builds, weights, past.said, None, film.recording.date)
    said = said_by_sentence(film.sentences, reading.mentions, reading.statements)
    walk = [shop.columns[job] for job in past.walk if job in shop.columns]
    number = {name: place for place, name in enumerate(names)}
    cut = {one.first for one in reading.segments} != {true.first for true in film.film.segments}
    about = [place for place, one in enumerate(reading.segments) if one.subject.kind == "build"]
    turning = turns(film.sentences, said, set(), film.recording.kind, shop)
    again = again_signs(about, [float(turning[reading.segments[place].first]) for place in about])
    shown: int | None = None  # the build shown last, and what the segment before was of
    before: int | None = None
    taken = np.zeros(len(shop.builds) + 1)
    for segment, signs in zip((reading.segments[place] for place in about), ({}, *again), strict=False):
        features = np.zeros((len(shop.builds) + 1, len(names)))
        features[:-1, number["in the shop"]] = np.log(shop.weights)
        features[-1, number["unknown"]] = 1.0
        features[-1, number["no bike"]] = float(cut)
        for clue in clues(said[segment.first : segment.last + 1], shop):
            for name, values in clue.features.items():
                if name:
                    features[:-1, number[name]] += values
            for name, value in clue.unknown.items():
                features[-1, number[name]] += value
        for name, value in signs.items() if cut else ():
            features[before, number[name]] += value
        _add_steps(features, walk, shown, names, steps)
        job = most_of(film, segment)
        column = shop.columns.get(job, -1) if job else len(shop.builds)
        if column < 0:  # not thought of; nothing is learned from it
            before, shown = len(shop.builds), shown
            continue
        used = taken.copy()
        if before is not None:
            used[before] = 0.0
        if not used[column] and is_pure(film, segment):
            yield Choice(features, used * TWICE, column)
        before = column
        if job:
            shown, taken[column] = column, 1.0


def most_of(film: ReadFilm, segment: Segment) -> str | None:
    """The build of which most of a segment is, None where it is of a bike of no job book, or of none."""
    sizes = _sizes(film, segment)
    return max(sizes, key=lambda job: sizes[job]) if sizes.total() else None


def is_pure(film: ReadFilm, segment: Segment) -> bool:
    """Whether a segment speaks of one bike at most, but for a sentence in five."""
    sizes = _sizes(film, segment)
    return not sizes or max(sizes.values()) >= PURE * sizes.total()


def _sizes(film: ReadFilm, segment: Segment) -> Counter[str | None]:
    """How many sentences of a segment are of which build."""
    sizes: Counter[str | None] = Counter()
    for true in film.film.segments:
        if true.about in BIKES:
            sizes[true.build] += max(0, min(true.last, segment.last) - max(true.first, segment.first) + 1)
    return sizes


def _add_steps(
    features: Matrix, walk: Sequence[int], before: int | None, names: Sequence[str], steps: tuple[int, int]
) -> None:
    """Features of the order of the walk before, the last columns: steps forward, then back."""
    if before not in walk:
        return
    first = len(names) - sum(steps)
    for place, column in enumerate(walk):
        step = place - walk.index(before)
        if step > 0:
            features[column, first + min(step, steps[0]) - 1] = 1.0
        elif step < 0:
            features[column, first + steps[0] + min(-step, steps[1]) - 1] = 1.0


def fitted(choices: Sequence[Choice], prior: Vector, rounds: int = 12) -> Vector:
    """The weights of highest posterior probability, by Newton's method."""
    weights = prior.copy()
    for _ in range(rounds):
        gradient, hessian = prior - weights, np.eye(len(prior))
        for choice in choices:
            scores = choice.features @ weights + choice.taken
            chances = np.exp(scores - np.logaddexp.reduce(scores))
            mean = chances @ choice.features
            gradient += choice.features[choice.true] - mean
            hessian += (choice.features * chances[:, None]).T @ choice.features - np.outer(mean, mean)
        step = np.linalg.solve(hessian, gradient)
        weights += step * min(1.0, 2.0 / np.abs(step).max())
        if np.abs(step).max() < 1e-3:
            break
    return weights


def log_loss(choices: Sequence[Choice], weights: Vector) -> float:
    """The mean surprise of the truth, in nats."""
    losses = []
    for choice in choices:
        scores = choice.features @ weights + choice.taken
        losses.append(np.logaddexp.reduce(scores) - scores[choice.true])
    return float(np.mean(losses))


def main(seeds: Sequence[int]) -> None:
    kept = learned()
    chosen = yaml.safe_load(BY_HAND.read_text(encoding="utf-8"))
    kept["turns"], kept["talk"] = fitted_turns(seeds, chosen["turns"]), fitted_talk(seeds, chosen["talk"])
    forward, backward = kept["steps"]["forward"], kept["steps"]["backward"]
    steps = (len(forward), len(backward))
    names = [*kept["weights"], *(f"step {number}" for number in range(sum(steps)))]
    prior = np.array([*chosen["weights"].values(), *chosen["steps"]["forward"], *chosen["steps"]["backward"]])
    now = np.array([*kept["weights"].values(), *forward, *backward])
    choices = [choice for seed in seeds for choice in choices_of(seed, names, steps)]
    weights = fitted(choices, prior)
    print(
        f"{len(choices)} segments, log loss before {log_loss(choices, now):.4f}, now {log_loss(choices, weights):.4f}"
    )
    rounded = [
        round(max(float(value), LEAST.get(name, -np.inf)), 2) for name, value in zip(names, weights, strict=True)
    ]
    kept["weights"] = dict(zip(kept["weights"], rounded, strict=False))
    kept["steps"] = {"forward": rounded[-sum(steps) : len(rounded) - steps[1]], "backward": rounded[-steps[1] :]}
    head = FILE.read_text(encoding="utf-8").split("weights:")[0]
    FILE.write_text(head + yaml.safe_dump(kept, sort_keys=False, width=120), encoding="utf-8")
    clues_room.learned.cache_clear()
    clues_room.weight.cache_clear()
    kept["certainty"] = fitted_certainty([pair for seed in seeds for pair in certainties_of(seed)])
    FILE.write_text(head + yaml.safe_dump(kept, sort_keys=False, width=120), encoding="utf-8")
    print(FILE.read_text(encoding="utf-8"))


def certainties_of(seed: int) -> list[tuple[Vector, bool]]:
    """Of the likeliest build of each segment, truly cut and by the pipeline: its signs, and if it is right."""
    found: list[tuple[Vector, bool]] = []

    def linker(film: ReadFilm, reading: Reading, past: Past) -> list[Segment]:
        cleared = [replace(one, build=None) for one in reading.segments]
        for one in weigh(
            film.recording, reading, film.sentences, film.book, past.said, [None] * len(cleared), walk=past.walk
        ):
            best = int(np.argmax(one.chances[:-1]))
            features = np.array(list(one.signs(best).values()))
            right = is_of(film, reading.segments[one.place], one.builds[best].job_number)
            if one.chances[best] >= SHOW_FROM:
                found.append((features, right))
        return by_linker(film, reading, past)

    for topics in (true_topics, cut_topics):
        run(read_archive(seed), topics, linker)
    return found


def fitted_certainty(pairs: Sequence[tuple[Vector, bool]], rounds: int = 50) -> dict[str, float]:
    """A logistic curve from chances to how often they are right (Platt 1999), by Newton's method.

    Without a constant, so that two builds that are equally likely stay so.
    """
    chosen = yaml.safe_load(BY_HAND.read_text(encoding="utf-8"))["certainty"]
    names = np.array(list(chosen))
    features, right = np.array([one for one, _ in pairs]), np.array([one for _, one in pairs], dtype=float)
    start = weights = np.array(list(chosen.values()))
    for _ in range(rounds):
        said = 1 / (1 + np.exp(-features @ weights))
        hessian = (features * (said * (1 - said))[:, None]).T @ features + np.eye(len(start))
        step = np.linalg.solve(hessian, features.T @ (right - said) + start - weights)
        weights = weights + step * min(1.0, 0.3 / np.abs(step).max())
        weights = np.where(np.isin(names, COUNTED_AGAINST), np.minimum(weights, 0.0), np.maximum(weights, 0.0))
    return {name: round(float(value), 3) for name, value in zip(chosen, weights, strict=True)}


if __name__ == "__main__":
    main([int(seed) for seed in sys.argv[1:]])
