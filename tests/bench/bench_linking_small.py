"""How many segments of a small invented archive are tied to a build, and how many of those rightly.

Run as `python -m tests.bench.bench_linking_small [ARCHIVES]`. Beside the linker stand two baselines on the same films:
the exact name match (nickname, model, make, owner or number, where one build alone fits all that is said) and the best
fuzzy match of the whole segment with each row of the job book (rapidfuzz token_set_ratio; always takes the best row).
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from rapidfuzz import fuzz

from diaryidx.builds.known import shop_on_the_day
from diaryidx.builds.linking import link
from diaryidx.records import Build, Segment, Statement
from tests.builds.small_archive import Film, make_archive

Linker = Callable[[Film, Sequence[Build], Sequence[Statement]], list[Segment]]


@dataclass(frozen=True)
class Outcome:
    """One segment: whether it had a name, the build it was tied to, the best guess, how sure, and the truth."""

    named: bool
    build: str | None
    best: str | None
    certainty: float
    truth: str | None


def by_linker(film: Film, builds: Sequence[Build], earlier: Sequence[Statement]) -> list[Segment]:
    return link(film.recording, film.segments, film.sentences, film.mentions, film.statements, builds, earlier)


def by_exact_name(film: Film, builds: Sequence[Build], earlier: Sequence[Statement]) -> list[Segment]:
    names = shop_on_the_day(builds, {build.job_number: 1.0 for build in builds}, []).names
    linked = []
    for segment in film.segments:
        padded = f" {_text(film, segment).replace(chr(39) + 's', '')} "
        fitting = [jobs for kind in names.values() for name, jobs in kind.items() if f" {name} " in padded]
        only = frozenset.intersection(*fitting) if fitting else frozenset()
        job = next(iter(only)) if len(only) == 1 else None
        linked.append(replace(segment, build=job, certainty=float(job is not None)))
    return linked


def by_fuzzy_row(film: Film, builds: Sequence[Build], earlier: Sequence[Statement]) -> list[Segment]:
    rows = {build.job_number: _row(build) for build in builds}
    linked = []
    for segment in film.segments:
        text = _text(film, segment)
        ratios = {job: fuzz.token_set_ratio(text, row) for job, row in rows.items()}
        job = max(ratios, key=lambda number: ratios[number])
        linked.append(replace(segment, build=job, certainty=ratios[job] / 100))
    return linked


def _text(film: Film, segment: Segment) -> str:
    return " ".join(one.text for one in film.sentences[segment.first : segment.last + 1])


def _row(build: Build) -> str:
    return " ".join(filter(None, (build.nickname, build.make, build.model, build.customer, build.asked_for))).lower()


def outcomes(linker: Linker, archives: int) -> list[Outcome]:
    found = []
    for seed in range(archives):
        archive = make_archive(seed)
        earlier: list[Statement] = []
        for film in archive.films:
            linked = linker(film, archive.builds, earlier)
            for segment, truth, named in zip(linked, film.truth, film.named, strict=True):
                asked = [one.split()[3] for one in segment.evidence if one.startswith("could be job")]
                best = segment.build or next(iter(asked), None)
                found.append(Outcome(named, segment.build, best, segment.certainty, truth))
            jobs = {place: segment.build for place, segment in enumerate(linked) if segment.build}
            earlier += [replace(one, build=jobs[one.segment or 0]) for one in film.statements if one.segment in jobs]
    return found


def summary(found: Sequence[Outcome]) -> str:
    known = [one for one in found if one.truth]
    links = [one for one in found if one.build]
    right = [one for one in links if one.build == one.truth]
    unnamed_links = [one for one in links if not one.named]
    unnamed_right = [one for one in right if not one.named]
    return (
        f"linked {len(links) / len(known):.3f}  precision {len(right) / max(len(links), 1):.3f}  "
        f"recall {len(right) / len(known):.3f}  without a name: precision "
        f"{len(unnamed_right) / max(len(unnamed_links), 1):.3f}  "
        f"recall {len(unnamed_right) / sum(not one.named for one in known):.3f}"
    )


def calibration(found: Sequence[Outcome]) -> tuple[float, list[str]]:
    """The expected calibration error over ten buckets (Naeini et al., AAAI 2015), and a line a bucket."""
    sure = [one for one in found if one.best]
    error, lines = 0.0, []
    for tenth in range(10):
        bucket = [one for one in sure if min(int(one.certainty * 10), 9) == tenth]
        if bucket:
            said = sum(one.certainty for one in bucket) / len(bucket)
            right = sum(one.best == one.truth for one in bucket) / len(bucket)
            error += abs(said - right) * len(bucket) / len(sure)
            lines.append(f"  said {said:.2f}  right {right:.2f}  of {len(bucket)}")
    return error, lines


def main() -> None:
    archives = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    for name, linker in (("linker", by_linker), ("exact name", by_exact_name), ("best fuzzy row", by_fuzzy_row)):
        began = time.perf_counter()
        found = outcomes(linker, archives)
        took = time.perf_counter() - began
        error, lines = calibration(found)
        print(f"{name:15} {summary(found)}  calibration error {error:.3f}  {took:.1f} s, {len(found)} segments")
        if linker is by_linker:
            print("\n".join(lines))


if __name__ == "__main__":
    main()
