"""How many topics of an invented archive are tied to builds, and how many of those rightly, beside two baselines.

Run as `python -m tests.bench.linking [SEED ...]`; without seeds, those set aside for reporting. The archive is
`fixtures.archive`: two years, 60 builds, half of the segments without any name, one word in ten misheard. Films are
read by the real language step in order of their dates with the job book of the day, and linked with what was understood
before. The linker gets the true segments, and in a second table topics as the pipeline cuts them.

Beside it stand, on the same segments, the exact name match (nickname, model, make, customer, number, where one build in
the shop alone fits all that is said) and the best fuzzy match of the whole segment with a row of the job book of a
build in the shop (rapidfuzz token_set_ratio, always the best row).

``linked``: true segments about a build of the job book that are tied to a build. ``precision``: links that are right,
of all: most of what the segment says of bikes is of that build; one of a bike that is in no job book is wrong. ``top
3``: true segments whose build is among the first three candidates of the segment that covers most of it. ``calibration
error``: of the likeliest candidate of every segment that has one, over ten equal bins of its certainty (the expected
calibration error of Naeini et al., AAAI 2015). Statements: those of bikes; where a bike is in no job book, none is
right. Intervals: 95 %, bootstrap over films.
"""

from __future__ import annotations

import random
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from rapidfuzz import fuzz

from diaryidx.builds.known import shop_on_the_day
from diaryidx.builds.linking import in_shop, is_walk, link, shown_in_order, walk_after
from diaryidx.builds.relinking import tied
from diaryidx.builds.topics import refine_topics
from diaryidx.records import Build, Candidate, Reading, Segment, Statement, Subject
from tests.bench.archive_readings import ReadFilm, read_archive

REPORT_SEEDS = range(101, 111)
#: What of a film's truth is about a bike; those without a build are in no job book.
BIKES = ("build", "unbooked", "demonstrator")
BINS = 10
#: In the shop for the baselines: those that left longer ago than a month are no candidates.
IN_SHOP = 0.25


@dataclass(frozen=True)
class Past:
    """What films before said, tied to builds, and the order in which they showed them."""

    said: list[Statement]
    walk: list[str]


Linker = Callable[[ReadFilm, Reading, Past], list[Segment]]


@dataclass(frozen=True)
class Outcome:
    """One true segment about a bike: its build, what the segment that covers most of it was tied to, and candidates."""

    film: str
    named: bool
    truth: str | None
    build: str | None
    best: tuple[str, ...]


@dataclass(frozen=True)
class Guess:
    """The likeliest build of a segment: its certainty, whether it is right (`is_of`), and if it is tied to it."""

    film: str
    certainty: float
    right: bool
    linked: bool


@dataclass(frozen=True)
class Said:
    """A statement of one bike: whether it is tied to its build, to another one or to none."""

    film: str
    tied: Literal["right", "wrong", "open"]


@dataclass(frozen=True)
class Results:
    """What came of some archives."""

    outcomes: list[Outcome]
    guesses: list[Guess]
    said: list[Said]


def by_linker(film: ReadFilm, reading: Reading, past: Past) -> list[Segment]:
    recording, sentences = film.recording, film.sentences
    return link(
        recording,
        reading.segments,
        sentences,
        reading.mentions,
        reading.statements,
        film.book,
        past.said,
        walk=past.walk,
    )


def by_exact_name(film: ReadFilm, reading: Reading, past: Past) -> list[Segment]:
    builds = _here(film)
    names = shop_on_the_day(builds, {build.job_number: 1.0 for build in builds}, []).names
    linked = []
    for segment in reading.segments:
        padded = f" {_text(film, segment).replace(chr(39) + 's', '')} "
        fitting = [jobs for kind in names.values() for name, jobs in kind.items() if f" {name} " in padded]
        only = sorted(frozenset.intersection(*fitting) if fitting else frozenset())
        linked.append(_linked(segment, only, 1.0 if len(only) == 1 else 0.0))
    return linked


def by_fuzzy_row(film: ReadFilm, reading: Reading, past: Past) -> list[Segment]:
    rows = {build.job_number: _row(build) for build in _here(film)}
    linked = []
    for segment in reading.segments:
        text = _text(film, segment)
        ratios = {job: fuzz.token_set_ratio(text, row) for job, row in rows.items()}
        ranked = sorted(rows, key=lambda job: -ratios[job])
        linked.append(_linked(segment, ranked, ratios[ranked[0]] / 100))
    return linked


def _here(film: ReadFilm) -> list[Build]:
    return [build for build in film.book if in_shop(build, film.recording.date) >= IN_SHOP]


def _linked(segment: Segment, ranked: Sequence[str], certainty: float) -> Segment:
    if segment.subject.kind != "build":
        return segment
    candidates = tuple(Candidate(job, "", certainty if place == 0 else 0.0) for place, job in enumerate(ranked[:3]))
    build = ranked[0] if ranked and certainty else None
    return replace(segment, build=build, certainty=certainty, candidates=candidates)


def _text(film: ReadFilm, segment: Segment) -> str:
    return " ".join(one.text for one in film.sentences[segment.first : segment.last + 1]).lower()


def _row(build: Build) -> str:
    return " ".join(filter(None, (build.nickname, build.make, build.model, build.customer, build.asked_for))).lower()


# --- what is linked --------------------------------------------------------------------------------------------------


def true_topics(film: ReadFilm) -> Reading:
    """The reading of a film with its true segments."""
    segments = tuple(
        Segment(
            film.sentences[true.first].start,
            film.sentences[true.last].end,
            true.first,
            true.last,
            "",
            Subject("build" if true.about in BIKES else "shop"),
        )
        for true in film.film.segments
    )
    return _with_segments(film.reading, segments)


def _with_segments(reading: Reading, segments: tuple[Segment, ...]) -> Reading:
    """A reading with other segments; what was said of one about a bike is said of a bike."""
    segment_of = [number for number, one in enumerate(segments) for _ in range(one.first, one.last + 1)]
    statements = [
        replace(one, segment=segment_of[one.sentence], subject=segments[segment_of[one.sentence]].subject)
        for one in reading.statements
    ]
    return replace(reading, segments=segments, statements=tuple(statements))


def cut_topics(film: ReadFilm) -> Reading:
    """The reading of a film with topics as the pipeline cuts them."""
    return refine_topics(film.recording, film.sentences, film.reading, film.book)


def run(films: Sequence[ReadFilm], topics: Callable[[ReadFilm], Reading], linker: Linker) -> Results:
    """Link all films of an archive in order."""
    found = Results([], [], [])
    past = Past([], [])
    for film in films:
        reading = topics(film)
        segments = linker(film, reading, past)
        found.outcomes.extend(_outcomes(film, segments))
        found.guesses.extend(_guesses(film, segments))
        said = [tied(replace(one, recording=film.recording.id), segments) for one in reading.statements]
        found.said.extend(_said(film, said))
        past = Past([*past.said, *said], _next_walk(past.walk, segments))
    return found


def _next_walk(walk: list[str], segments: Sequence[Segment]) -> list[str]:
    order = shown_in_order(segments)
    return walk_after(walk, order) if is_walk(order) else walk


def _outcomes(film: ReadFilm, segments: Sequence[Segment]) -> Iterator[Outcome]:
    for true in film.film.segments:
        if true.about in BIKES:
            overlap = {place: _overlap(true.first, true.last, one) for place, one in enumerate(segments)}
            segment = segments[max(overlap, key=overlap.__getitem__)]
            best = tuple(one.job_number for one in segment.candidates)
            yield Outcome(film.film.id, bool(true.names), true.build, segment.build, best)


def _guesses(film: ReadFilm, segments: Sequence[Segment]) -> Iterator[Guess]:
    for segment in segments:
        if segment.candidates:
            best = segment.candidates[0]
            right = is_of(film, segment, best.job_number)
            yield Guess(film.film.id, best.certainty or 0.0, right, segment.build is not None)


def _said(film: ReadFilm, statements: Sequence[Statement]) -> Iterator[Said]:
    truth = {place: true for true in film.film.segments for place in range(true.first, true.last + 1)}
    for one in statements:
        true = truth[one.sentence]
        if one.status != "usual practice" and true.about in BIKES:
            right = one.build == true.build
            yield Said(film.film.id, "right" if right else "open" if one.build is None else "wrong")


def _overlap(first: int, last: int, segment: Segment) -> int:
    return max(0, min(last, segment.last) - max(first, segment.first) + 1)


def is_of(film: ReadFilm, segment: Segment, build: str) -> bool:
    """Whether most of what a segment says of bikes is truly of a build; chat that it runs into is of none."""
    bikes = [
        (true.build, _overlap(true.first, true.last, segment)) for true in film.film.segments if true.about in BIKES
    ]
    return 2 * sum(size for job, size in bikes if job == build) > sum(size for _, size in bikes)


# --- how well --------------------------------------------------------------------------------------------------------


def measures(results: Results) -> dict[str, float]:
    """Shares in percent, the calibration error as a share."""
    of_book = [one for one in results.outcomes if one.truth]
    unnamed = [one for one in of_book if not one.named]
    unbooked = [one for one in results.outcomes if not one.truth]
    return {
        "linked": _percent(one.build is not None for one in of_book),
        "precision": _percent(one.right for one in results.guesses if one.linked),
        "linked rightly": _percent(one.build == one.truth for one in of_book),
        "top 3": _percent(one.truth in one.best[:3] for one in of_book),
        "first": _percent(one.truth in one.best[:1] for one in of_book),
        "calibration error": calibration(results.guesses)[0],
        "unnamed: linked": _percent(one.build is not None for one in unnamed),
        "unnamed: right of linked": _percent(one.build == one.truth for one in unnamed if one.build),
        "unnamed: top 3": _percent(one.truth in one.best[:3] for one in unnamed),
        "in no book: linked": _percent(one.build is not None for one in unbooked),
        "statements at the right build": _percent(one.tied == "right" for one in results.said),
        "statements at a wrong build": _percent(one.tied == "wrong" for one in results.said),
    }


def _percent(found: Iterable[bool]) -> float:
    values = list(found)
    return 100 * sum(values) / max(len(values), 1)


def calibration(guesses: Sequence[Guess]) -> tuple[float, list[str]]:
    """The expected calibration error, and a line a bin."""
    error, lines = 0.0, []
    for number in range(BINS):
        inside = [one for one in guesses if min(int(one.certainty * BINS), BINS - 1) == number]
        if inside:
            said = sum(one.certainty for one in inside) / len(inside)
            right = sum(one.right for one in inside) / len(inside)
            error += abs(said - right) * len(inside) / len(guesses)
            lines.append(f"  says {said:.2f}, is right {right:.2f}, of {len(inside)}")
    return error, lines


def intervals(archives: Sequence[Results], rounds: int = 100) -> dict[str, tuple[float, float]]:
    """The 95 % interval of each measure, by drawing films again."""
    rng, drawn = random.Random(1), []
    by_film: dict[tuple[int, str], Results] = defaultdict(lambda: Results([], [], []))
    for number, results in enumerate(archives):
        for kind in ("outcomes", "guesses", "said"):
            for one in getattr(results, kind):
                getattr(by_film[number, one.film], kind).append(one)
    films = list(by_film.values())
    for _ in range(rounds):
        drawn.append(measures(joined(rng.choices(films, k=len(films)))))
    values = {name: sorted(one[name] for one in drawn) for name in drawn[0]}
    return {name: (found[round(rounds * 0.025)], found[round(rounds * 0.975) - 1]) for name, found in values.items()}


def joined(results: Iterable[Results]) -> Results:
    """Several results as one."""
    every = list(results)
    return Results(
        [one for each in every for one in each.outcomes],
        [one for each in every for one in each.guesses],
        [one for each in every for one in each.said],
    )


def main(seeds: Sequence[int]) -> None:
    for cutter, topics in (("true segments", true_topics), ("topics as cut", cut_topics)):
        show(
            cutter,
            {name: [run(read_archive(seed), topics, linker) for seed in seeds] for name, linker in LINKERS.items()},
        )


def show(cutter: str, runs: Mapping[str, Sequence[Results]]) -> None:
    """Print the table of one way of cutting, and the linker's certainty bin by bin."""
    spread = {name: intervals(archives) for name, archives in runs.items()}
    found = {name: measures(joined(archives)) for name, archives in runs.items()}
    print(f"| {cutter} | {' | '.join(runs)} |\n| --- |{' --- |' * len(runs)}")
    for measure in found["linker"]:
        print(f"| {measure} | {' | '.join(_cell(measure, found[name], spread[name]) for name in runs)} |")
    print("\n".join(calibration(joined(runs["linker"]).guesses)[1]), end="\n\n")


def _cell(measure: str, found: Mapping[str, float], spread: Mapping[str, tuple[float, float]]) -> str:
    places = 3 if "error" in measure else 1
    low, high = spread[measure]
    return f"{found[measure]:.{places}f} ({low:.{places}f}-{high:.{places}f})"


LINKERS: dict[str, Linker] = {"linker": by_linker, "exact name": by_exact_name, "best fuzzy row": by_fuzzy_row}

if __name__ == "__main__":
    main([int(seed) for seed in sys.argv[1:]] or list(REPORT_SEEDS))
