"""Scores the readers of discourse on invented talk (`discourse_working.yaml`, `_fresh` and `_held`).

``python -m tests.language.discourse_set`` prints how many items are right, each set in both forms; with ``--misses``
also which are not, but for the set that is only scored. An item is right where all that it wants is found and nothing
else of its kind.
"""

from __future__ import annotations

import re
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

import yaml

from diaryidx.language.dates import resolve
from diaryidx.records import Build, Reading, Sentence

FOLDER = Path(__file__).parent
SAID_ON = "2025-10-05"
SETS = ("working", "fresh", "held")
WORDS = """
suppliers: [Fell Castings]
products: [{name: Short Tail Kit, supplier: Fell Castings}]
people: [{name: Imogen, role: upholsterer}]
"""
BUILDS = (
    Build("2001", customer="Ann Alder", make="Orrin", model="Lapwing 650"),
    Build("2002", customer="Bo Fell", make="Orrin", model="Dipper"),
)
Item = Mapping[str, Any]
ReadFilm = Callable[[list[str], str], Reading]


def items(name: str) -> list[Item]:
    """The items of a set; all scalars are strings."""
    found: list[Item] = yaml.load((FOLDER / f"discourse_{name}.yaml").read_text("utf-8"), yaml.BaseLoader)
    return found


def forms(item: Item) -> Iterator[tuple[str, list[str]]]:
    """The sentences of an item as they stand, and as an engine without marks and capitals writes them."""
    said = item["say"] if isinstance(item["say"], list) else [item["say"]]
    yield "as written", said
    yield "bare", [re.sub(r"[.,?!]", "", one).lower() for one in said]


def score(read: ReadFilm, name: str) -> tuple[dict[tuple[str, str], list[bool]], list[str]]:
    """Which items of a set are right, by kind and form; and those that are not, in words."""
    right: dict[tuple[str, str], list[bool]] = defaultdict(list)
    misses = []
    for item in items(name):
        kinds = [kind for kind, wants in JUDGES.items() if not wants[0].isdisjoint(item)]
        for form, said in forms(item):
            reading = read(said, item.get("kind", "diary"))
            for kind in kinds:
                hit, found = JUDGES[kind][1](item, reading)
                right[kind, form].append(hit)
                if not hit:
                    misses.append(f"{kind}, {form}: {' | '.join(said)}\n    wanted {dict(item)}\n    found {found}")
    return right, misses


# --- what is right ---------------------------------------------------------------------------------------------------


def _refers(item: Item, reading: Reading) -> tuple[bool, object]:
    found, wanted = reading.remarks.references, item["refers"]
    return len(found) == len(wanted) and all(map(_is_meant, wanted, found)), found


def _is_meant(wanted: Item, found: Any) -> bool:
    meant = found.when and resolve({**found.when, "past": not found.coming}, SAID_ON)
    about = " ".join((*found.about, *found.terms))
    return (
        found.kind == wanted.get("kind", found.kind)
        and (meant or "")[:7] == wanted.get("month", (meant or "")[:7])
        and found.coming == (wanted.get("next") == "true")
        and all(any(word in about for word in words.split()) for words in wanted.get("about", ()))
    )


def _points(item: Item, reading: Reading) -> tuple[bool, object]:
    found = reading.remarks.pointings
    return len(found) == len(item["points"]) and all(
        word in one.text.lower().split() for word, one in zip(item["points"], found, strict=True)
    ), found


def _steps(item: Item, reading: Reading) -> tuple[bool, object]:
    steps = reading.remarks.steps
    tools = {need.name for step in steps for need in step.tools}
    parts = {part for step in steps for part in step.parts}
    torques = [torque.text for step in steps for torque in step.torques]
    warnings = [warning.text for step in steps for warning in step.warnings]
    hit = set(item.get("tools", ())) == tools and set(item.get("parts", ())) <= parts
    hit = hit and _begin(torques, item.get("torques", ())) and _begin(warnings, item.get("warnings", ()))
    return hit, (tools, parts, torques, warnings)


def _begin(found: list[str], wanted: list[str]) -> bool:
    return len(found) == len(wanted) and all(
        one.lower().startswith(start.lower()) for one, start in zip(found, wanted, strict=True)
    )


def _product(item: Item, reading: Reading) -> tuple[bool, object]:
    wanted = item["product"]
    return len(reading.products) == 1 and _is_product(reading.products[0], wanted), reading.products


def _is_product(found: Any, wanted: Item) -> bool:
    return (
        wanted["name"].lower() in found.product.lower()
        and (found.price or 0) == float(wanted["price"])
        and str(found.approximate).lower() == wanted.get("approximate", "false")
        and (found.hedge or "") == wanted.get("words", "")
        and (found.availability or "") == wanted.get("availability", "")
    )


def _event(item: Item, reading: Reading) -> tuple[bool, object]:
    wanted, found = item["event"], reading.events
    if wanted == "null":
        return not found, found
    return len(found) == 1 and (
        wanted["name"] in found[0].name.lower()
        and found[0].date == wanted.get("date", found[0].date)
        and str(found[0].tentative).lower() == wanted["tentative"]
        and wanted.get("words", "") in (found[0].hedge or "")
        and (found[0].place or "").lower() == wanted.get("place", found[0].place or "").lower()
    ), found


def _customer(item: Item, reading: Reading) -> tuple[bool, object]:
    found, wanted = reading.remarks.customer_parts, item["customer"]
    names = {"tank": "fuel tank", "bars": "handlebars", "hide": "leather", "lever": "levers", "tail": "tail"}
    return len(found) == len(wanted) and all(
        one.how == want["how"]
        and one.part == names.get(want.get("part"), want.get("part", one.part))
        and want.get("like", "").lower() in (one.like or "").lower()
        for one, want in zip(found, wanted, strict=True)
    ), found


def _aside(item: Item, reading: Reading) -> tuple[bool, object]:
    found = reading.remarks.asides
    places = [str(place) for one in found for place in range(one.first, one.last + 1)]
    stated = {str(one.sentence) for one in reading.statements}
    return places == item["aside"] and stated.isdisjoint(places), found


def _promise(item: Item, reading: Reading) -> tuple[bool, object]:
    wanted, found = item["promise"], reading.promises
    if wanted == "null":
        return not found, found
    due = found[0].due if found else None
    return len(found) == 1 and (
        (due or "").startswith(wanted.get("due", "")) and found[0].doer == wanted.get("doer", found[0].doer)
    ), found


def _asks(item: Item, reading: Reading) -> tuple[bool, object]:
    wanted, found = item["asks"], [one for one in reading.entries if not one.question.startswith("How to")]
    if wanted == "null":
        return not found, found
    return len(found) == 1 and (
        wanted["question"].lower() in found[0].question.lower()
        and wanted["answer"].lower() in found[0].answer.lower()
        and wanted["answer"].lower() not in found[0].question.lower()
    ), found


JUDGES: dict[str, tuple[frozenset[str], Callable[[Item, Reading], tuple[bool, object]]]] = {
    "other films": (frozenset(["refers"]), _refers),
    "pointing": (frozenset(["points"]), _points),
    "steps": (frozenset(["tools", "parts", "torques", "warnings"]), _steps),
    "products": (frozenset(["product"]), _product),
    "events": (frozenset(["event"]), _event),
    "customers' parts": (frozenset(["customer"]), _customer),
    "digressions": (frozenset(["aside"]), _aside),
    "promises": (frozenset(["promise"]), _promise),
    "questions": (frozenset(["asks"]), _asks),
}


def main() -> None:
    """Print the score of both sets."""
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.language.reading import read_recording
    from diaryidx.vocabulary import load_vocabulary

    with tempfile.TemporaryDirectory() as folder:
        words = Path(folder) / "words.yaml"
        words.write_text(WORDS, encoding="utf-8")
        vocabulary = load_vocabulary(words, BUILDS)
    nlp = build_pipeline(vocabulary)

    def read(said: list[str], kind: Any) -> Reading:
        sentences = [Sentence(2.0 * at, 2.0 * at + 1.8, text, text) for at, text in enumerate(said)]
        return read_recording(nlp, sentences, kind, SAID_ON, vocabulary)

    for name in SETS:
        right, misses = score(read, name)
        for kind in JUDGES:
            shown = (f"{sum(right[kind, form])} of {len(right[kind, form])}" for form in ("as written", "bare"))
            print(f"| {name} | {kind} | {' | '.join(shown)} |")
        for form in ("as written", "bare"):
            hits = [hit for (_, one), found in right.items() if one == form for hit in found]
            print(f"| {name} | all, {form} | {sum(hits)} of {len(hits)} |")
        if "--misses" in sys.argv and name != "held":
            print("\n".join(misses))


if __name__ == "__main__":
    main()
