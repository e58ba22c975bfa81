"""The rules that turn what a clause shows into a status; data in ``cues/status_rules.yaml``, first match decides."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, cast

from diaryidx.records import SaidBy, Status
from diaryidx.vocabulary.loader import shipped_data


@dataclass(frozen=True, slots=True)
class Shown:
    """What a clause shows to the rules."""

    kinds: frozenset[str]
    aspect: str
    negated: bool
    subject: str
    form: str | None
    head: bool
    finish: bool
    thing: bool
    particle: bool
    date: str | None  # past, future or None
    film: str
    connector: str | None = None
    light: bool = False
    says: bool = True
    begun: bool = True
    new: bool = False
    task: str | None = None
    ends: bool = False  # nothing follows the verb
    missing: bool = False  # "no mudguards", "without a screen"
    named: bool = False  # the task has a name of its own
    predicate: bool = False  # a finish is said behind the thing


@dataclass(frozen=True, slots=True)
class StatusRule:
    """One rule: its conditions and what it says."""

    name: str
    status: Status | None
    certainty: float
    said_by: SaidBy
    cue: frozenset[str]
    without: frozenset[str]
    aspect: frozenset[str]
    subject: frozenset[str]
    form: frozenset[str]
    film: frozenset[str]
    connector: frozenset[str]
    task: frozenset[str]
    flags: tuple[tuple[str, bool], ...]
    date: str | None

    def holds(self, shown: Shown) -> bool:
        """Whether all conditions hold."""
        return (
            (not self.aspect or shown.aspect in self.aspect)
            and (not self.cue or not self.cue.isdisjoint(shown.kinds))
            and self.without.isdisjoint(shown.kinds)
            and (not self.subject or shown.subject in self.subject)
            and (not self.form or shown.form in self.form)
            and (not self.film or shown.film in self.film)
            and (not self.connector or shown.connector in self.connector)
            and (not self.task or shown.task in self.task)
            and (self.date is None or shown.date == self.date)
            and all(getattr(shown, name) is wanted for name, wanted in self.flags)
        )


@cache
def status_rules() -> tuple[StatusRule, ...]:
    """The shipped rules, in order."""
    return tuple(_rule(one) for one in shipped_data("status_rules.yaml")["rules"])


def _rule(one: dict[str, Any]) -> StatusRule:
    flags = tuple(
        (name, one[name] == "yes")
        for name in (
            "negated",
            "head",
            "finish",
            "thing",
            "particle",
            "light",
            "says",
            "begun",
            "new",
            "predicate",
            "named",
            "missing",
            "ends",
        )
        if name in one
    )
    status = None if one["status"] == "nothing" else cast(Status, one["status"])
    return StatusRule(
        name=one["name"], status=status, certainty=float(one.get("certainty", 0.5)),
        said_by=cast(SaidBy, one.get("said_by", "shop")), cue=frozenset(one.get("cue", ())),
        without=frozenset(one.get("without", ())), aspect=frozenset(one.get("aspect", ())),
        subject=frozenset(one.get("subject", ())), form=frozenset(one.get("form", ())),
        film=frozenset(one.get("film", ())),
        connector=frozenset(one.get("connector", ())), task=frozenset(one.get("task", ())), flags=flags,
        date=one.get("date"),
    )  # fmt: skip


@cache
def of_the_bike() -> frozenset[str]:
    """Tasks that are worth telling of a bike without naming a part."""
    return frozenset(shipped_data("status_rules.yaml")["of the bike"])


@cache
def carriers() -> frozenset[str]:
    """Tasks that only carry a part to where the real work is done."""
    return frozenset(shipped_data("status_rules.yaml")["carriers"])


@cache
def _rules_for(aspect: str) -> tuple[StatusRule, ...]:
    """The rules that a verb group of this kind leaves possible, in order."""
    return tuple(rule for rule in status_rules() if not rule.aspect or aspect in rule.aspect)


def status_of(shown: Shown) -> StatusRule | None:
    """The rule that decides, or None where nothing is known."""
    return next((rule for rule in _rules_for(shown.aspect) if rule.holds(shown)), None)
