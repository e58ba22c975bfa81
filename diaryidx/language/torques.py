"""The torques of a tutorial, each with the part that is tightened to it.

Which values are no settings (what an engine makes, what a manual used to say) is data (``cues/steps.yaml``).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from diaryidx.film_records import Torque
from diaryidx.language.found import Found
from diaryidx.language.patterns import Row, patterns, words_in
from diaryidx.language.told import Told
from diaryidx.language.word_times import word_times
from diaryidx.transcript.numbers import measure_words, measured_by

_FILE = "steps.yaml"
_REACH = 4  # words between "for" and the part that it names; own choice
_NEAR = 5  # words before a torque in which something else may be named; own choice
_ENDS = frozenset(("and", "but", "then", "or", ",", ".", ";", "for", "on"))

_CLAUSES = frozenset(("and", "but", "then", ",", ".", ";"))


def torques_told(told: Sequence[Told], is_tool: Callable[[Found], bool]) -> Iterator[Torque]:
    """The torques that things are to be tightened to.

    Arguments:
        told: the sentences of a step.
        is_tool: whether a thing is a tool, which nothing is tightened to.
    Returns: torques in order; the part is None where the words do not tell it.
    """
    last: str | None = None
    for one in told:
        parts = [found for found in one.labelled("PART") if not is_tool(found)]
        taken: set[int] = set()
        for measure in _settings(one):
            part = _part_of(one, measure, parts, taken)
            if part is not None:
                taken.add(part.start)
                last = part.canonical
            elif _names_another(one, measure):
                last = None
            value = measure.value or {}
            yield Torque(
                text=_hedge(one, measure) + measure_words(value), amount=float(value["amount"]),
                unit=str(value["unit"]), part=last, start=word_times(one, measure.start, measure.end)[0],
            )  # fmt: skip
        if parts and parts[-1].start not in taken and (not taken or _begun_after(one, max(taken), parts[-1])):
            last = parts[-1].canonical


def _begun_after(one: Told, done: int, part: Found) -> bool:
    """Whether a part is named in a new clause behind one that has its torque: "..., then do the pinch bolts"."""
    return part.start > done and not _CLAUSES.isdisjoint(one.words[done : part.start])


def _settings(one: Told) -> list[Found]:
    """The torques of a sentence without those that nothing is to be tightened to."""
    found = list(_values(one))
    row = Row.of(one.words, [(value.start, value.end, "TORQUE") for value in found])
    none = [(match.start, match.end) for match in patterns(_FILE, "no torques").find(row)]
    return [value for value in found if not any(start <= value.start < end for start, end in none)]


def _values(one: Told) -> Iterator[Found]:
    """Torques with their unit, and bare numbers behind them that share it ("and the axle to sixty")."""
    unit: str | None = None
    for found in one.doc._.measures:
        value = found.value or {}
        if found.label == "MEASURE" and measured_by(value) == "torque":
            unit = str(value["unit"])
            yield found
        elif unit is not None and value.get("amount") and _is_bare(one, found):
            yield replace(found, label="MEASURE", value={**value, "unit": unit})


def _is_bare(one: Told, found: Found) -> bool:
    """Whether a number has no unit of its own and ends what is said of a part."""
    if found.label != "QUANTITY" and "unit" not in (found.value or {}):
        return False
    if "grit" in one.words or not found.start or one.words[found.start - 1] not in words_in(_FILE, "before a torque"):
        return False
    written = (found.value or {}).get("unit")
    return written in (None, "grit") and (found.end == len(one.words) or one.words[found.end] in _ENDS)


def _part_of(one: Told, measure: Found, parts: Sequence[Found], taken: set[int]) -> Found | None:
    """The part that is named for a torque: "to 20 for the plug", else the last before it that has none yet."""
    if "respectively" in one.words:
        return None  # "the bolts and the nut are 40 and 25 respectively": better none than the wrong one
    free = [part for part in parts if part.start not in taken]
    before = [part for part in free if part.start < measure.start]
    named = _named_behind(one, measure, free)
    if named is not None and not (one.words[measure.end] == "on" and before and _joined(one, before[-1], measure)):
        return named
    if before:
        return before[-1]
    if named is None and not taken and not _names_another(one, measure):
        behind = next((part for part in free if part.start >= measure.end), None)
        if behind is not None and _ENDS.isdisjoint(one.words[measure.end : behind.start]):
            return behind
    return None


def _named_behind(one: Told, measure: Found, parts: Sequence[Found]) -> Found | None:
    """The part of "for the spindle", "on the pinch bolts" straight behind a torque."""
    if measure.end >= len(one.words) or one.words[measure.end] not in ("for", "on"):
        return None
    part = next((part for part in parts if part.start > measure.end), None)
    if part is None or part.start > measure.end + _REACH:
        return None
    return part if _ENDS.isdisjoint(one.words[measure.end + 1 : part.start]) else None


def _joined(one: Told, part: Found, measure: Found) -> bool:
    """Whether only "to", "up to about", "is" stand between a part and its torque."""
    return all(word in words_in(_FILE, "between part and torque") for word in one.words[part.end : measure.start])


def _names_another(one: Told, measure: Found) -> bool:
    """Whether a torque is for something that is no known part: "eight for the little one", "do the big one to 40"."""
    if not {"the", "your", "those", "these"}.isdisjoint(one.words[max(0, measure.start - _NEAR) : measure.start]):
        return True
    return one.words[measure.end : measure.end + 1] == ["for"] and one.words[measure.end + 1 : measure.end + 2] in (
        ["the"], ["your"], ["those"], ["these"], ["that"], ["this"],
    )  # fmt: skip


def _hedge(one: Told, measure: Found) -> str:
    """The words that leave a torque open or bound it, with a space behind them; "up to" only says tighten."""
    row = Row.of(one.words, [(measure.start, measure.end, "TORQUE")])
    bound = next((m for m in patterns(_FILE, "bounds of torques").find(row) if m.end == measure.end), None)
    if bound is not None:
        return one.quote(bound.start, measure.start).lower() + " "
    rough = (measure.value or {}).get("approximate") and one.words[max(0, measure.start - 2) : measure.start] != [
        "up", "to",
    ]  # fmt: skip
    return "about " if rough else ""
