"""How many segments of a small invented archive are tied to a build, and how many of those rightly.

Run as `python -m tests.bench.bench_linking_small [SEEDS]`. Beside the linker stand two baselines on the same films: the
exact name match (nickname, model, make, owner's surname, job number; only where one build alone fits) and the best
fuzzy match of the whole segment against each row of the job book (rapidfuzz token_set_ratio, best row always taken).
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from rapidfuzz import fuzz

from diaryidx.builds.clues import _names
from diaryidx.builds.linking import link
from diaryidx.records import Build, Segment, Statement
from tests.builds.small_archive import Film, make_archive

Linker = Callable[[Film, Sequence[Build], Sequence[Statement]], list[Segment]]


def by_linker(film: Film, builds: Sequence[Build], earlier: Sequence[Statement]) -> list[Segment]:
    return link(film.recording, film.segments, film.sentences, film.mentions, film.statements, builds, earlier)


def by_exact_name(film: Film, builds: Sequence[Build], earlier: Sequence[Statement]) -> list[Segment]:
    names = _names(builds)
    linked = []
    for segment in film.segments:
        text = " ".join(one.text for one in film.sentences[segment.first : segment.last + 1])
        padded = f" {text.replace(chr(39) + 's', '')} "
        fitting = [jobs for kind in names.values() for name, jobs in kind.items() if f" {name} " in padded]
        only = set.intersection(*map(set, fitting)) if fitting else set()
        job = next(iter(only)) if len(only) == 1 else None
        linked.append(replace(segment, build=job, certainty=float(job is not None)))
    return linked


def by_fuzzy_row(film: Film, builds: Sequence[Build], earlier: Sequence[Statement]) -> list[Segment]:
    rows = {
        build.job_number: " ".join(
            filter(None, (build.nickname, build.make, build.model, build.customer, build.asked_for))
        )
        for build in builds
    }
    linked = []
    for segment in film.segments:
        text = " ".join(one.text for one in film.sentences[segment.first : segment.last + 1])
        job = max(rows, key=lambda number: fuzz.token_set_ratio(text, rows[number].lower()))
        linked.append(replace(segment, build=job, certainty=0.5))
    return linked


def score(linker: Linker, seeds: Sequence[int]) -> dict[str, float]:
    counts: Counter[str] = Counter()
    buckets: dict[int, list[tuple[float, bool]]] = {}
    for seed in seeds:
        archive = make_archive(seed)
        earlier: list[Statement] = []
        for film in archive.films:
            linked = linker(film, archive.builds, earlier)
            for segment, truth, named in zip(linked, film.truth, film.named, strict=True):
                counts["all"] += 1
                counts["known"] += truth is not None
                counts["linked"] += segment.build is not None
                counts["right"] += segment.build is not None and segment.build == truth
                counts["unnamed"] += not named and truth is not None
                counts["unnamed right"] += not named and truth is not None and segment.build == truth
                counts["unnamed linked"] += not named and segment.build is not None
                if segment.certainty:
                    best = segment.build or next(
                        (e.split()[3] for e in segment.evidence if e.startswith("could")), None
                    )
                    buckets.setdefault(min(int(segment.certainty * 10), 9), []).append(
                        (segment.certainty, best == truth)
                    )
            by_place = dict(enumerate(linked))
            earlier += [
                replace(one, build=by_place[one.segment or 0].build)
                for one in film.statements
                if by_place[one.segment or 0].build
            ]
    error = sum(abs(sum(c for c, _ in b) - sum(r for _, r in b)) for b in buckets.values()) / max(
        sum(len(b) for b in buckets.values()), 1
    )
    if linker is by_linker:
        for bucket, items in sorted(buckets.items()):
            print(
                f"  said {sum(c for c, _ in items) / len(items):.2f}  right {sum(r for _, r in items) / len(items):.2f}  of {len(items)}"
            )
    return {
        "linked": counts["linked"] / counts["known"],
        "precision": counts["right"] / max(counts["linked"], 1),
        "recall": counts["right"] / counts["known"],
        "unnamed precision": counts["unnamed right"] / max(counts["unnamed linked"], 1),
        "unnamed recall": counts["unnamed right"] / counts["unnamed"],
        "calibration error": error,
    }


def main() -> None:
    seeds = range(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
    for name, linker in (("linker", by_linker), ("exact name", by_exact_name), ("best fuzzy row", by_fuzzy_row)):
        began = time.perf_counter()
        row = score(linker, list(seeds))
        took = time.perf_counter() - began
        print(f"{name:15}", "  ".join(f"{key} {value:.3f}" for key, value in row.items()), f"  {took:.1f} s")


if __name__ == "__main__":
    main()
