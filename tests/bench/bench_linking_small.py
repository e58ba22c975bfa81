"""How many segments of a small invented archive are tied to a build, and how many of those rightly.

Run as `python -m tests.bench.bench_linking_small [ARCHIVES]`. Beside the linker stand two baselines on the same films:
the exact name match (nickname, model, make, owner or number, where one build alone fits all that is said) and the best
fuzzy match of the whole segment with each row of the job book (rapidfuzz token_set_ratio; always takes the best row).

There the segments are the true ones. A second table has films in which bikes follow each other with few words between
(`run_on_archive`), cut by the real language step, with and without `builds.topics`: how well cuts fall with the first
sentences of topics, and which build statements are tied to. A statement of a bike that is in no job book is right where
it is tied to none.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from rapidfuzz import fuzz

from diaryidx.builds.known import shop_on_the_day
from diaryidx.builds.linking import link
from diaryidx.builds.topics import refine_topics
from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Build, Reading, Segment, Statement
from diaryidx.vocabulary.loader import load_vocabulary
from tests.builds.run_on_archive import RunOnArchive, RunOnFilm, make_run_on_archive
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


# --- films cut by the language step ----------------------------------------------------------------------------------


def read_by_talk(archive: RunOnArchive) -> list[Reading]:
    """The films of an archive as the language step reads them."""
    vocabulary = load_vocabulary(None, archive.builds)
    nlp = build_pipeline(vocabulary)
    return [read_recording(nlp, film.sentences, "diary", film.recording.date, vocabulary) for film in archive.films]


def topic_counts(archive: RunOnArchive, readings: Sequence[Reading], with_book: bool) -> Counter[str]:
    """Cuts right, too many and missed; statements right, wrong and left open; links and their certainty."""
    counts: Counter[str] = Counter()
    earlier: list[Statement] = []
    for film, by_talk in zip(archive.films, readings, strict=True):
        reading = refine_topics(film.recording, film.sentences, by_talk, archive.builds) if with_book else by_talk
        segments = link(
            film.recording,
            reading.segments,
            film.sentences,
            reading.mentions,
            reading.statements,
            archive.builds,
            earlier,
        )
        found, true = {segment.first for segment in segments[1:]}, set(film.starts[1:])
        counts += Counter({"cut": len(found & true), "cut too many": len(found - true), "missed": len(true - found)})
        for segment in segments:
            if segment.build:
                counts += Counter({"links": 1, "links right": _mostly(segment, film)})
        for one in reading.statements:
            build = segments[one.segment or 0].build
            counts[_outcome(build, film.said_of[one.sentence])] += 1
            if build:
                earlier.append(replace(one, build=build, recording=film.recording.id))
    return counts


def _mostly(segment: Segment, film: RunOnFilm) -> bool:
    """Whether a segment is tied to the build of most of its sentences."""
    said_of = film.said_of[segment.first : segment.last + 1]
    return sum(segment.build in builds for builds in said_of) > len(said_of) / 2


def _outcome(build: str | None, true: frozenset[str]) -> str:
    if build in true or (build is None and not true):
        return "right"
    return "wrong" if build else "open"


def topics_line(counts: Counter[str]) -> str:
    f1 = 2 * counts["cut"] / (2 * counts["cut"] + counts["cut too many"] + counts["missed"])
    statements = counts["right"] + counts["wrong"] + counts["open"]
    shares = "  ".join(f"{name} {counts[name] / statements:.3f}" for name in ("right", "wrong", "open"))
    return f"cuts F1 {f1:.3f}  links right {counts['links right'] / max(counts['links'], 1):.3f}  statements {shares}"


def bench_topics(archives: int) -> None:
    for weak in (0.0, 0.75, 1.0):
        totals = {False: Counter[str](), True: Counter[str]()}
        for seed in range(archives):
            archive = make_run_on_archive(seed, weak=weak)
            readings = read_by_talk(archive)
            for with_book, total in totals.items():
                total.update(topic_counts(archive, readings, with_book))
        for with_book, total in totals.items():
            cutter = "with the job book" if with_book else "by talk alone"
            print(f"{weak:.0%} begin in mid-flow, cut {cutter:18} {topics_line(total)}")


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
    bench_topics(archives)


if __name__ == "__main__":
    main()
