"""Ties a voice note from the bench to its job: by its file's name, else by what the rest of it says."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import PurePosixPath

from diaryidx.builds.deciding import Outcome
from diaryidx.builds.finding import plain_number, plain_registration
from diaryidx.records import Build, Recording, Segment, Subject

#: How sure a name makes it that somebody typed for this purpose, and what one bike named in a note tells of its rest
#: (our own estimates).
TYPED, SAID_ELSEWHERE = 0.97, 0.85
_JOB = re.compile(r"\b(?:job|order)\W*(?:no|nr|num|number)?\W*#?\W*([a-z]{0,3}-?\d[\d-]*[a-z]?)\b", re.IGNORECASE)
_SHORTEST_PLATE = 4
_LONGEST_PLATE_WORDS = 3


def tie_voice_note(
    film: Recording, segments: Sequence[Segment], builds: Sequence[Build], outcomes: Sequence[Outcome | None]
) -> list[Segment]:
    """Tie the topics of a voice note to the job that its file is named after.

    A name that fits several jobs, or another job than the words do, is no answer: the topic then says which it could
    be. Without a name, the one bike that a note is about somewhere is the one that it is about elsewhere.

    :param segments: as `builds.linking` tied them by what is said.
    :param outcomes: what people decided about each segment, which stays; none means nothing.
    :returns: the same segments in the same order; those of a recording of another kind as they are.
    """
    if film.kind != "bench note":
        return list(segments)
    named = named_in_file(film.path, builds)
    decided = list(outcomes) or [None] * len(segments)
    spoken = {segment.build for segment in segments if segment.build}
    tied = []
    for segment, outcome in zip(segments, decided, strict=True):
        if segment.subject.kind != "build" or (outcome and (outcome.build or outcome.no_build)):
            tied.append(segment)
            continue
        fitting = {job: why for job, why in named.items() if not (outcome and job in outcome.refused)}
        if fitting:
            tied.append(_by_name(segment, fitting))
        elif len(spoken) == 1 and segment.build is None and not (outcome and spoken & outcome.refused):
            (job,) = spoken
            tied.append(_tied(segment, job, SAID_ELSEWHERE, f"the rest of this note is about job {job}"))
        else:
            tied.append(segment)
    return tied


def named_in_file(path: str, builds: Sequence[Build]) -> dict[str, str]:
    """The jobs that a file's name may stand for, with the reason in words that spell nothing private out.

    The surest kind of name decides: "job 2304", then a registration, then a nickname, then a number alone.
    """
    stem = PurePosixPath(path).stem
    for found in (_by_job(stem, builds), _by_plate(stem, builds), _by_nickname(stem, builds), _by_number(stem, builds)):
        if jobs := dict(found):
            return jobs
    return {}


def _by_job(stem: str, builds: Sequence[Build]) -> Iterator[tuple[str, str]]:
    numbers = {plain_number(number) for number in _JOB.findall(stem.replace("_", " "))}
    for build in builds:
        if plain_number(build.job_number) in numbers:
            yield build.job_number, f"its file is named after job {build.job_number}"


def _by_plate(stem: str, builds: Sequence[Build]) -> Iterator[tuple[str, str]]:
    words = re.findall(r"[^\W_]+", stem)
    joined = {
        plain_registration("".join(words[start : start + length]))
        for start in range(len(words))
        for length in range(1, _LONGEST_PLATE_WORDS + 1)
    }
    for build in builds:
        plate = plain_registration(build.registration or "")
        if len(plate) >= _SHORTEST_PLATE and plate in joined:
            yield build.job_number, "its file is named after its registration"


def _by_nickname(stem: str, builds: Sequence[Build]) -> Iterator[tuple[str, str]]:
    words = f" {_plain(stem)} "
    for build in builds:
        nickname = re.sub(r"^(?:the|an?) ", "", _plain(build.nickname or ""))
        if nickname and f" {nickname} " in words:
            yield build.job_number, f"its file is named after “{build.nickname}”"


def _by_number(stem: str, builds: Sequence[Build]) -> Iterator[tuple[str, str]]:
    """A number alone, of three digits or more, that is part of no date or time."""
    alone = {plain_number(number) for number in re.findall(r"(?<![\w.:-])\d{3,6}(?![\w.:-])", stem.replace("_", " "))}
    for build in builds:
        if plain_number(build.job_number) in alone:
            yield build.job_number, f"its file is named “{build.job_number}”"


def _by_name(segment: Segment, fitting: dict[str, str]) -> Segment:
    candidates = list(dict.fromkeys([*fitting, *([segment.build] if segment.build else [])]))
    if len(candidates) == 1:
        return _tied(segment, candidates[0], TYPED, fitting[candidates[0]])
    could_be = "could be " + " or ".join(f"job {job}" for job in candidates)
    evidence = tuple(dict.fromkeys((could_be, *fitting.values(), *segment.evidence)))
    return replace(segment, build=None, subject=Subject("build"), certainty=1 / len(candidates), evidence=evidence)


def _tied(segment: Segment, job: str, certainty: float, why: str) -> Segment:
    said = [reason for reason in segment.evidence if not reason.startswith("could be")]
    return replace(
        segment,
        build=job,
        subject=Subject("build", job),
        certainty=max(certainty, segment.certainty if segment.build == job else 0.0),
        evidence=tuple(dict.fromkeys((why, *said))),
    )


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", text.lower()))
