"""Statements: which of the truth's are found, how many of their slots are right, and what was found beside them.

Which found statement is which true one:
- Both must be said at the same time: the found sentence must overlap the true words (by more than nothing, with 0.7 s
  of slack, since the time of the true words is worked out).
- Both must be about the same thing: the part is right, or else a task, finish or product that is said by both is.
- Pairs are made one to one, the best first: the one with more right slots (the part counts twice), then the required
  before the optional, then the longer overlap. A second found statement for the same true one has no partner.

Slots are compared in one form (`scoring_terms.one_form`). A slot that the truth doesn't list is not judged; of a list
any value is right, and so is an empty slot where the list has ``~``. "Said by the shop" is the default and counts as
empty. A part that the shop sells may stand in the product's slot instead: an empty part is read from there. Slots are
counted by spaCy's ``PRFScore``, which its ``Scorer`` uses for spans, over sets of (statement, slot, value).

A found statement without a partner is wrong with all its slots, if the truth lists every statement of the film
(``complete``); a partner of an optional one is left out of all counts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from spacy.scorer import PRFScore

from diaryidx.records import Statement
from diaryidx.vocabulary.loader import Vocabulary
from tests.bench.scoring_measures import Sheet
from tests.bench.scoring_terms import one_form
from tests.bench.scoring_truth import Thing, TrueFilm

SLOTS = (
    "status", "part", "side", "task", "finish", "product", "supplier", "quantity", "said_by", "who", "when",
)  # fmt: skip
SLACK = 0.7  # seconds
_STEP = "statements"


@dataclass(frozen=True)
class Judged:
    """A true statement beside the found one that is taken for it (None: missed)."""

    true: Thing
    found: Statement | None
    slots: Mapping[str, tuple[str | None, tuple[str | None, ...]]]  # the found value, and the right ones

    @property
    def wrong(self) -> list[str]:
        """The slots that are not right."""
        return [slot for slot, (value, right) in self.slots.items() if value not in right]


def score_statements(film: TrueFilm, found: Sequence[Statement], vocabulary: Vocabulary, sheet: Sheet) -> None:
    """Score the statements of one film."""
    judged, alone = pair(film.statements, found, vocabulary)
    required = [one for one in judged if not one.true.optional]
    _score_slots(film, required, alone if film.complete else [], vocabulary, sheet)
    for topic in film.topics:
        mine = [one for one in required if one.true.topic == topic]
        extra = [one for one in alone if film.complete and _topic(film, one) == topic.name]
        paired = [one for one in mine if one.found is not None]
        whole = [one for one in paired if not one.wrong]
        counts = (len(whole), len(paired) - len(whole) + len(extra), len(mine) - len(whole))
        sheet.f1(_STEP, "whole statements", topic.name, counts)
        sheet.measure(_STEP, "found at all (same thing, same moment)").add(topic.name, len(paired), len(mine))
        right = sum("status" not in one.wrong for one in paired)
        sheet.measure(_STEP, "status right, of those found").add(topic.name, right, len(paired))
    for one in required:
        _score_build(one, sheet)
    _list_errors(film, required, alone, sheet)


def pair(
    true: Sequence[Thing], found: Sequence[Statement], vocabulary: Vocabulary
) -> tuple[list[Judged], list[Statement]]:
    """Every true statement with the found one that is taken for it, and the found ones that are nobody's partner."""
    pairs = [
        (-_worth(judged), one.optional, -_overlap(one, other), first, second, judged)
        for first, one in enumerate(true)
        for second, other in enumerate(found)
        if _overlap(one, other) > 0 and _same_thing(judged := _judge(one, other, vocabulary))
    ]
    partner: dict[int, Judged] = {}
    taken: set[int] = set()
    for *_, first, second, judged in sorted(pairs, key=lambda entry: entry[:5]):
        if first not in partner and second not in taken:
            partner[first] = judged
            taken.add(second)
    judged_all = [partner.get(first) or _judge(one, None, vocabulary) for first, one in enumerate(true)]
    return judged_all, [other for second, other in enumerate(found) if second not in taken]


def _judge(true: Thing, found: Statement | None, vocabulary: Vocabulary) -> Judged:
    fields = {"said_by": "shop", **true.fields}
    slots = {}
    for slot in SLOTS:
        if slot in fields:
            values = fields[slot] if isinstance(fields[slot], list) else [fields[slot]]
            right = tuple(_value(value, slot, vocabulary) for value in values)
            slots[slot] = (_value(_filled_in(found, slot), slot, vocabulary), right)
    return Judged(true, found, slots)


def _filled_in(found: Statement | None, slot: str) -> object:
    if found is not None and slot == "part":
        return found.part or found.product
    return getattr(found, slot, None)


def _value(value: object, slot: str, vocabulary: Vocabulary) -> str | None:
    return None if (slot, value) == ("said_by", "shop") else one_form(value, slot, vocabulary)


def _overlap(true: Thing, found: Statement) -> float:
    start, end = found.start or 0.0, found.end or 0.0
    return min(true.end, end) - max(true.start, start) + 2 * SLACK if end > start else 0.0


def _same_thing(judged: Judged) -> bool:
    if "part" in judged.slots and "part" not in judged.wrong:
        return True
    said = {slot for slot, (value, _) in judged.slots.items() if value is not None} - set(judged.wrong)
    return bool(said & {"task", "finish", "product"})


def _worth(judged: Judged) -> int:
    right = set(judged.slots) - set(judged.wrong)
    return len(right) + ("part" in right)


def _score_slots(
    film: TrueFilm, required: Sequence[Judged], alone: Sequence[Statement], vocabulary: Vocabulary, sheet: Sheet
) -> None:
    for topic in film.topics:
        score = PRFScore()
        for number, one in enumerate(required):
            if one.true.topic == topic:
                score.score_set(*_sets(number, one))
        for other in alone:
            if _topic(film, other) == topic.name:
                score.score_set(set(_filled(other, vocabulary)), set())
        sheet.f1(_STEP, "slots", topic.name, (score.tp, score.fp, score.fn))


def _sets(number: int, judged: Judged) -> tuple[set[tuple[int, str, str]], set[tuple[int, str, str]]]:
    """What was found and what is true, as spaCy's score takes them; where several values are right, the found one."""
    found, true = set(), set()
    for slot, (value, right) in judged.slots.items():
        if value is not None:
            found.add((number, slot, value))
        if value in right and value is not None:
            true.add((number, slot, value))
        elif None not in right:
            true.add((number, slot, right[0] or ""))
    return found, true


def _filled(statement: Statement, vocabulary: Vocabulary) -> Iterator[tuple[str, str]]:
    for slot in SLOTS:
        value = _value(getattr(statement, slot), slot, vocabulary)
        if value is not None:
            yield slot, value


def _topic(film: TrueFilm, statement: Statement) -> str:
    return film.topic_at(((statement.start or 0.0) + (statement.end or 0.0)) / 2).name


def _score_build(one: Judged, sheet: Sheet) -> None:
    """Whether a found statement is tied to the build of which it is said; true of none must be tied to none."""
    if one.found is None:
        return
    right, build = one.true.right("build"), one.found.build
    for outcome, hit in (
        ("right", build in right),
        ("wrong", build is not None and build not in right),
        ("left open", build is None and None not in right),
    ):
        sheet.measure(_STEP, f"build {outcome}, of those found").add(one.true.topic.name, hit)
    if build not in right:
        sheet.errors["statements' builds"].append(
            f"{one.true.topic.name}: {one.true.words!r}: {build}, not {_shown(right)}"
        )


def _list_errors(film: TrueFilm, required: Sequence[Judged], alone: Sequence[Statement], sheet: Sheet) -> None:
    for one in required:
        place = f"{one.true.topic.name}: {one.true.words!r}"
        if one.found is None:
            wanted = {slot: _shown(right) for slot, (_, right) in one.slots.items() if set(right) != {None}}
            sheet.errors["statements missed"].append(f"{place}: {wanted}")
        for slot in one.wrong if one.found is not None else ():
            value, right = one.slots[slot]
            rule = one.found.rule if one.found else None
            sheet.errors[f"slot {slot}"].append(f"{place}: {value}, not {_shown(right)} (rule {rule})")
    for other in alone if film.complete else ():
        slots = {slot: getattr(other, slot) for slot in SLOTS if getattr(other, slot) not in (None, "shop")}
        sheet.errors["statements too many"].append(
            f"{_topic(film, other)}: {other.text!r}: {slots} (rule {other.rule})"
        )


def _shown(right: Sequence[str | None]) -> str:
    return " or ".join("nothing" if value is None else str(value) for value in right)
