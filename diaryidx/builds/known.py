"""What is known of each build before a film: its names, what was asked for, and what earlier films said of it."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import numpy.typing as npt

from diaryidx.builds.finding import plain_number, plain_registration
from diaryidx.builds.spoken import tokens
from diaryidx.builds.wishes import finish_sorts, shipped_vocabulary, stems, wishes
from diaryidx.builds.word_lists import word_set
from diaryidx.builds.wording import describe
from diaryidx.records import Build, Statement
from diaryidx.vocabulary.loader import everyday_words, find_terms
from diaryidx.vocabulary.shop_terms import say_number

#: The kinds of names by which a bike is known on film.
NAME_KINDS = ("nickname", "model", "make", "customer", "job number", "registration")
#: A thing known only from earlier films counts less than what was asked for: it may have been tied to the wrong build,
#: unless a person did that.
EARLIER_WEIGHT = 0.6
_SHORTEST_REGISTRATION = 4

Key = tuple[str, str]
Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


@dataclass(slots=True)
class Thing:
    """Something known of a build or said of a bike: a part with all that goes with it. ``told`` says it to a person."""

    told: str
    weight: float = 1.0
    keys: set[Key] = field(default_factory=set)

    @property
    def has_part(self) -> bool:
        """Whether it names a part or a product."""
        return any(kind in ("part", "name") for kind, _ in self.keys)

    @property
    def finish(self) -> str:
        """Its finishes as one text."""
        return " ".join(sorted(name for kind, name in self.keys if kind == "finish"))


@dataclass(frozen=True, slots=True)
class KnownThings:
    """All things known of all builds, one row each: ``build`` is the place of its build, ``by_key`` finds rows.

    ``weight_of_build`` is the weight of all things of each build.
    """

    told: Sequence[str]
    finish: Sequence[str]
    weight: Vector
    has_part: npt.NDArray[np.bool_]
    build: Places
    weight_of_build: Vector
    by_key: Mapping[Key, Places]


@dataclass(frozen=True, slots=True)
class Shop:
    """The builds as a film of one day may speak of them.

    ``weights`` says how likely each is in the shop that day, in the order of ``builds``; ``columns`` are their places
    by job number; ``names`` is ``{kind: {name as said: job numbers}}``, ``first_names`` those of customers alone.
    """

    builds: Sequence[Build]
    columns: Mapping[str, int]
    weights: Vector
    names: Mapping[str, Mapping[str, frozenset[str]]]
    first_names: Mapping[str, frozenset[str]]
    things: KnownThings

    def share(self, jobs: Iterable[str]) -> float:
        """The share of the bikes in the shop that these are."""
        return max(float(sum(self.weights[self.columns[job]] for job in jobs)), 1e-6) / float(self.weights.sum())


def shop_on_the_day(builds: Sequence[Build], weights: Mapping[str, float], earlier: Sequence[Statement]) -> Shop:
    """Gather what is known of each build before a film: the job book, and what earlier films said.

    :param weights: how likely each build is in the shop, above 0, by job number.
    """
    known: dict[str, dict[str, Thing]] = {build.job_number: {} for build in builds}
    for build in builds:
        for wish in wishes(build):
            add_statement(known[build.job_number], wish, f"asked for: {wish.text}", 1.0)
        if build.colour:
            known[build.job_number]["colour"] = Thing(f"is {build.colour}", 0.5, set(_finish_keys(build.colour)))
    for statement in earlier:
        if statement.build in known and statement.status != "usual practice" and statement.source != "book":
            weight = 1.0 if statement.decided else EARLIER_WEIGHT
            add_statement(known[statement.build], statement, f"said before: {describe(statement)}", weight)
    return Shop(
        builds,
        {build.job_number: column for column, build in enumerate(builds)},
        np.array([weights[build.job_number] for build in builds]),
        _names(builds),
        _first_names(builds),
        _in_rows([list(known[build.job_number].values()) for build in builds]),
    )


def _in_rows(known: Sequence[Sequence[Thing]]) -> KnownThings:
    """The things of each build as one table."""
    rows = [(thing, column) for column, things in enumerate(known) for thing in things]
    by_key: dict[Key, list[int]] = defaultdict(list)
    for row, (thing, _) in enumerate(rows):
        for key in thing.keys:
            by_key[key].append(row)
    weight = np.array([thing.weight for thing, _ in rows], dtype=np.float64)
    build = np.array([column for _, column in rows], dtype=np.intp)
    return KnownThings(
        [thing.told for thing, _ in rows],
        [thing.finish for thing, _ in rows],
        weight,
        np.array([thing.has_part for thing, _ in rows], dtype=bool),
        build,
        np.bincount(build, weight, len(known)).astype(np.float64),
        {key: np.array(places, dtype=np.intp) for key, places in by_key.items()},
    )


def add_statement(
    things: dict[str, Thing], statement: Statement, told: str, weight: float, words: Iterable[str] = ()
) -> None:
    """Add a wish or statement to the thing that has the same part, so that a thing said ten times is known once."""
    keys = set(statement_keys(statement)) | {("word", word) for word in words}
    if keys:
        name = statement.part or statement.product or statement.task or statement.text
        things.setdefault(name, Thing(told, weight)).keys.update(keys)


def statement_keys(statement: Statement) -> Iterator[Key]:
    """The words of a statement or wish that tell it from another, by their kind."""
    for kind, name in (
        ("part", statement.part),
        ("task", statement.task),
        ("side", statement.side),
        ("name", statement.product),
        ("supplier", statement.supplier),
    ):
        if name:
            yield kind, name.lower()
    yield from _finish_keys(statement.finish)
    if statement.source == "book":  # a film's sentence has many words beside what is stated in it
        yield from (("word", word) for word in other_words(statement.text))


def _finish_keys(finish: str | None) -> Iterator[Key]:
    """The terms of a finish, each by itself: "satin black" is satin and black."""
    for names in finish_sorts(finish).values() if finish else ():
        yield from (("finish", name) for name in sorted(names))


@cache
def other_words(text: str) -> tuple[str, ...]:
    """Telling words of a text that the trade has no term for, without endings."""
    covered = {word for start, end, _ in find_terms(shipped_vocabulary(), text) for word in stems(text[start:end])}
    return tuple(word for word in dict.fromkeys(stems(text)) if word not in covered and len(word) > 2)


def _names(builds: Sequence[Build]) -> dict[str, dict[str, frozenset[str]]]:
    """``{kind: {name as said: job numbers}}``, for names that are not everyday words."""
    found: dict[str, dict[str, set[str]]] = {kind: defaultdict(set) for kind in NAME_KINDS}
    everyday = everyday_words()
    for build in builds:
        forms = {
            "nickname": _said_forms("nickname", build.nickname),
            "make": _said_forms("make", build.make),
            "model": _said_forms("model", build.model),
            "customer": _customer_forms(build.customer or ""),
        }
        for kind, names in forms.items():
            for name in names:
                if name not in everyday:
                    found[kind][name].add(build.job_number)
        found["job number"][plain_number(build.job_number)].add(build.job_number)
        if len(plate := plain_registration(build.registration or "")) >= _SHORTEST_REGISTRATION:
            found["registration"][plate].add(build.job_number)
    return {kind: {name: frozenset(jobs) for name, jobs in names.items()} for kind, names in found.items()}


def _said_forms(kind: str, text: str | None) -> Iterator[str]:
    """A name as it is written, with its number as it is said, and a model by its word alone: "otter five hundred"."""
    name = spoken_name(kind, text or "")
    if not name:
        return
    yield name
    number = re.search(r"(?<!\S)\d{1,4}(?!\S)", name)
    if number:
        yield from (name.replace(number.group(), words, 1) for words in say_number(int(number.group())))
    first = name.split(" ")[0]
    if kind == "model" and len(first) > 3 and first.isalpha():
        yield first


def _customer_forms(customer: str) -> Iterator[str]:
    """A customer's whole name and surname. First names are taken only where a mention has found one."""
    words = person_words(customer)
    if len(words) > 1:
        yield " ".join(words)
    if words and len(words[-1]) > 2 and words[-1] not in shipped_vocabulary().phrases:
        yield words[-1]


def _first_names(builds: Sequence[Build]) -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = defaultdict(set)
    for build in builds:
        for name in person_words(build.customer or "")[:1]:
            found[name].add(build.job_number)
    return {name: frozenset(jobs) for name, jobs in found.items()}


def person_words(name: str) -> list[str]:
    """The words of a person's name, without titles and possessives."""
    words = [word.removesuffix("'s") for word in tokens(name)]
    return [word for word in words if word not in word_set("titles")]


def spoken_name(kind: str, name: str) -> str:
    """A name as it is looked up: its words, a nickname without its article."""
    return " ".join(word for word in tokens(name) if not (kind == "nickname" and word in ("the", "a")))
