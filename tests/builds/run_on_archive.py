"""Walk-rounds of the small invented archive as people really talk: bikes follow each other with few words between.

Where `small_archive` opens each bike clearly, here most begin in mid-flow: by a name inside the first sentence, by a
colour or a part, by "and that one", or by nothing at all. Films greet and say goodbye, speak of other bikes in passing
and show two alike together. The truth is kept sentence by sentence. The sentences are written for a listener, not
from the program's list of phrases; some of them are on it, as in any shop's talk, and some are not.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from diaryidx.records import Build, Recording, Sentence
from tests.builds.small_archive import (
    FILLERS,
    NAMED,
    OPENINGS,
    SAYINGS,
    WISHES,
    job_book,
    mishear,
    plan,
    recording,
    spoken_names,
)

COLOURS = ["red", "blue", "orange", "silver", "green", "yellow", "white", "maroon"]
# (how a bike begins, whether it names the bike)
RUN_ON = [
    ("the {model} has its wheels back on now", True), ("{owner} one is beside that on the floor", True),
    ("we did manage to get {owner} on the ramp this week", True), ("now the {colour} one", False),
    ("then the one with {thing}", False), ("and this one as well", False), ("that one there is not far behind", False),
    ("{nickname} has not moved since last time", True), ("the {colour} {model} is back off the dyno", True),
    ("so what about the {model}", True), ("and then {owner}", True), ("here is another {make}", True),
    ("tucked in behind is a {colour} one", False), ("still on the floor over by the door this thing", False),
    ("what else {thing} on this", False), ("the {model} next to it is all in bits", True),
    ("{owner} came in on a trailer on monday", True), ("and you remember the {colour} one", False),
]  # fmt: skip
IN_PASSING = ["it is the same as the one we did on the {model}", "he wants it like {owner} one",
    "a bit like the {model} really", "we pinched that off {owner} bike"]  # fmt: skip
TOGETHER = ["and these two here", "then we have a pair of them", "these two came in together"]
ONE_OF_THEM = ["the one with {thing}", "on the {colour} one", "the other one", "the left hand one"]
HELLO = ["hello everybody and welcome back", "it has been raining all month", "the kettle is on so here we go"]
GOODBYE = ["right that is about it for this month", "thanks to everybody who came on the open day",
    "see you next time"]  # fmt: skip


@dataclass(frozen=True)
class RunOnFilm:
    """One walk-round as sentences. ``said_of`` are the job numbers of which each may be; ``starts`` are the topics'."""

    recording: Recording
    sentences: list[Sentence] = field(default_factory=list)
    said_of: list[frozenset[str]] = field(default_factory=list)
    starts: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class RunOnArchive:
    """The shop's job book and its films, oldest first."""

    builds: list[Build]
    films: list[RunOnFilm]


def make_run_on_archive(seed: int = 7, builds: int = 30, months: int = 6, misheard: float = 0.05,
                        weak: float = 0.75) -> RunOnArchive:  # fmt: skip
    """Draw an archive from a seed; ``weak`` is the share of bikes that nothing clearly opens."""
    chance = random.Random(seed)
    book = [
        replace(build, colour=chance.choice(COLOURS)) if chance.random() < 0.6 else build
        for build in job_book(chance, builds)
    ]
    return RunOnArchive(book, [_walk_round(chance, month, book, misheard, weak) for month in range(1, months + 1)])


def _walk_round(chance: random.Random, month: int, book: Sequence[Build], misheard: float, weak: float) -> RunOnFilm:
    day = f"2025-0{month}-25"
    here = [one for one in book if (one.date_in or "") <= day and (one.date_out is None or one.date_out >= day)]
    shown: list[Build | None] = list(chance.sample(here, k=min(10, len(here))))
    if chance.random() < 0.5:
        shown.insert(chance.randrange(len(shown)), None)
    pair = next(((one, two) for one in here for two in here if _alike(one, two) and one not in shown[:3]), None)
    lines = _Lines(chance, RunOnFilm(recording(month, day)), misheard, book)
    lines.topic(HELLO, frozenset())
    for build in shown:
        if pair and build in pair:
            if build is pair[0]:
                lines.two_together(*pair)
        else:
            lines.bike(build, chance.random() < weak)
    lines.topic(GOODBYE, frozenset())
    return lines.film


def _alike(one: Build, two: Build) -> bool:
    return one.job_number < two.job_number and (one.make, one.model) == (two.make, two.model)


@dataclass(frozen=True)
class _Lines:
    """The writing of one film."""

    chance: random.Random
    film: RunOnFilm
    misheard: float
    book: Sequence[Build]

    def topic(self, lines: Sequence[str], truth: frozenset[str]) -> None:
        self.film.starts.append(len(self.film.sentences))
        for line in lines:
            self.say(line, truth)

    def say(self, line: str, truth: frozenset[str]) -> None:
        start = self.film.sentences[-1].end if self.film.sentences else 0.0
        text = mishear(self.chance, line, self.misheard)
        self.film.sentences.append(Sentence(start, start + 4.0, text, text, certainty=0.9))
        self.film.said_of.append(truth)

    def bike(self, build: Build | None, weak: bool) -> None:
        truth = frozenset({build.job_number}) if build else frozenset()
        lines = [self.opening(build, weak)]
        lines += [self.of_a_part(build) for _ in range(self.chance.randint(2, 4))]
        if self.chance.random() < 0.6:
            lines.insert(self.chance.randint(1, len(lines)), self.chance.choice(FILLERS))
        if self.chance.random() < 0.15:
            other = self.filled(self.chance.choice(IN_PASSING), self.chance.choice(self.book))
            lines.insert(self.chance.randint(2, len(lines)), other)
        self.topic(lines, truth)

    def two_together(self, one: Build, two: Build) -> None:
        self.topic([self.chance.choice(TOGETHER)], frozenset({one.job_number, two.job_number}))
        for build in (one, two, self.chance.choice([one, two])):
            pointer = self.filled(self.chance.choice(ONE_OF_THEM), build)
            self.say(f"{pointer} {self.of_a_part(build)}", frozenset({build.job_number}))

    def of_a_part(self, build: Build | None) -> str:
        own = build is not None and self.chance.random() < 0.75
        things = plan(build) if own and build is not None else [said for _, said, _ in WISHES]
        return self.chance.choice(SAYINGS)[1].format(thing=self.chance.choice(things))

    def opening(self, build: Build | None, weak: bool) -> str:
        if build is None:
            known = [saying for saying, names in RUN_ON if not names and "{" not in saying]
            return self.chance.choice(known if weak else OPENINGS)
        if not weak:
            return self.filled(self.chance.choice(OPENINGS + NAMED), build)
        return self.filled(self.chance.choice(RUN_ON)[0], build)

    def filled(self, saying: str, build: Build) -> str:
        """A saying with what this bike has; another way of pointing where it has no such name."""
        if "{nickname}" in saying and not build.nickname:
            saying = saying.replace("{nickname}", "the {model}")
        if "{colour}" in saying and not build.colour:
            saying = saying.replace("{colour} {model}", "{model}").replace("{colour}", "other")
        return saying.format(
            **spoken_names(self.chance, build), colour=build.colour, thing=self.chance.choice(plan(build))
        )
