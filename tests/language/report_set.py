"""The report set (gold/report.yaml; its format is in gold/README.md), as the same cases as the working set.

Its statements hold words as said. They and the product's are brought to canonical terms by the vocabulary before they
are compared, dates to the day they mean.
"""

from __future__ import annotations

import re
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import yaml

from diaryidx.language.dates import resolve
from diaryidx.language.pipeline import build_pipeline
from diaryidx.vocabulary import Vocabulary, load_vocabulary
from diaryidx.vocabulary.loader import shipped_data
from diaryidx.vocabulary.spoken_words import spoken_key
from tests.language.checkable_set import SLOTS, Case

REPORT_SLOTS = (*SLOTS, "supplier", "product")
_LABEL_OF = {
    "part": "PART", "task": "TASK", "finish": "FINISH", "side": "SIDE", "quantity": "QUANTITY", "who": "PERSON",
    "supplier": "SUPPLIER", "product": "PRODUCT",
}  # fmt: skip
_ISO = re.compile(r"\d{4}(-\d\d){0,2}")
_ARTICLES = ("the ", "a ", "an ", "our ", "his ", "her ", "their ", "my ")


def is_report_set(path: Path) -> bool:
    """Whether a file is in the report set's format: its items have a text, not marked sentences."""
    entries = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    return bool(entries) and "text" in entries[0]


def load_report_set(path: Path) -> list[Case]:
    """Read a report set."""
    return [_case(entry) for entry in yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)]


def _case(entry: dict[str, Any]) -> Case:
    text = entry["text"].strip()
    unknown = {slot for statement in entry["statements"] for slot in statement} - set(REPORT_SLOTS)
    assert not unknown, f"{entry['id']}: unknown slots {unknown}"
    return Case(
        text=text, after=(), film=entry["kind"], spans=tuple(_spans(entry["id"], text, entry["spans"])),
        means=tuple(tuple(statement.items()) for statement in entry["statements"]), said_on=entry["said_on"],
    )  # fmt: skip


def _spans(name: str, text: str, spans: Sequence[dict[str, str]]) -> Iterable[tuple[int, int, str]]:
    """The places of the spans, which are listed in order of appearance."""
    place = 0
    placed: set[tuple[int, str]] = set()
    for span in spans:
        start = text.find(span["words"], place)
        while (start, span["label"] + span["words"]) in placed:  # the same words once more
            start = text.find(span["words"], start + 1)
        if start < 0:  # one inside another, or out of order
            start = text.find(span["words"])
        assert start >= 0, f"{name}: '{span['words']}' is not in the text"
        placed.add((start, span["label"] + span["words"]))
        yield start, start + len(span["words"]), span["label"]
        place = start


def names_of(path: Path) -> dict[str, list[str]]:
    """All names that the items use, by kind: the scorer hands them to the pipeline as the shop's own words."""
    names: dict[str, dict[str, None]] = {}
    for entry in yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader):
        for kind, words in entry["names"].items():
            known = names.setdefault(kind, {})
            said = {name.lower() for name in known}
            known.update(dict.fromkeys(word for word in words if word.lower() not in said))
    return {kind: list(words) for kind, words in names.items()}


def pipeline_for(path: Path) -> tuple[Any, Vocabulary]:
    """The pipeline and vocabulary of a shop whose words are the names in the set; makes and models as its job book."""
    from diaryidx.records import Build

    names = names_of(path)
    words = {kind: names[kind] for kind in ("suppliers", "products", "people") if names.get(kind)}
    builds = [Build(f"make {number}", make=make) for number, make in enumerate(names.get("makes", ()))]
    builds += [Build(f"model {number}", model=model) for number, model in enumerate(names.get("models", ()))]
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "words.yaml"
        file.write_text(yaml.safe_dump(words, allow_unicode=True), encoding="utf-8")
        vocabulary = load_vocabulary(file, builds)
    return build_pipeline(vocabulary), vocabulary


def joined_finishes(text: str, spans: set[tuple[int, int, str]]) -> set[tuple[int, int, str]]:
    """Found finishes that touch as one span: the set marks "satin black" as one, the product as two terms."""
    finishes = sorted(span for span in spans if span[2] == "FINISH")
    joined: list[tuple[int, int, str]] = []
    for start, end, label in finishes:
        if joined and not text[joined[-1][1] : start].strip() and start >= joined[-1][1]:
            joined[-1] = (joined[-1][0], end, label)
        else:
            joined.append((start, end, label))
    return {span for span in spans if span[2] != "FINISH"} | set(joined)


def without_implied_tasks(statements: Iterable[Any], mentions: Iterable[Any]) -> list[Any]:
    """Statements without a task that no word says: of "the rearsets are on" the product tells that they were fitted,
    the set leaves the slot empty."""
    said = {one.canonical for one in mentions if one.label == "TASK"} | {sense["task"] for sense in _senses()}
    return [one if one.task in said else replace(one, task=None) for one in statements]


def _senses() -> Sequence[dict[str, Any]]:
    return cast("Sequence[dict[str, Any]]", shipped_data("readings.yaml")["senses"])


class Normaliser:
    """Brings slot values of either side to one form."""

    def __init__(self, nlp: Any, vocabulary: Vocabulary) -> None:
        self.nlp, self.vocabulary = nlp, vocabulary

    def __call__(self, slots: Iterable[tuple[str, str]], said_on: str | None) -> tuple[tuple[str, str], ...]:
        """A statement with every value in its canonical form, in the order of the slots."""
        said = dict(slots)
        values = {slot: self._value(slot, value) for slot, value in slots}
        if "when" in said:
            values["when"] = self._day(said["when"], said_on, over=said["status"] in ("done", "earlier work"))
        for sense in _senses():
            if said.get("task", "").startswith(sense["word"]) and values.get("part") in sense["parts"]:
                values["task"] = sense["task"]
        return tuple((slot, values[slot]) for slot in REPORT_SLOTS if slot in values)

    def _value(self, slot: str, value: str) -> str:
        if slot in ("status", "said_by", "when"):
            return value
        if slot == "quantity":
            return self._count(value)
        words = spoken_key(value)
        for article in _ARTICLES:
            words = words.removeprefix(article)
        label = _LABEL_OF[slot]
        found = self._canonical(words, label, value)
        return (found or words).lower()

    def _canonical(self, words: str, label: str, value: str) -> str | None:
        """The canonical term of the whole phrase, else the terms of this label in it, in the order said."""
        for table in (self.vocabulary.phrases, self.vocabulary.other_readings):
            if (term := table.get(words)) is not None and term.label == label:
                return term.canonical
        if (term := self.vocabulary.term(words, label)) is not None:
            return term.canonical
        if label == "FINISH":
            return self._finish(words)
        doc = self.nlp(value)
        inside = [one for one in doc._.terms if one.label == label]
        whole = len(inside) == 1 and len(doc) - (inside[0].end - inside[0].start) <= 1
        return " ".join(one.canonical for one in inside) if whole or label != "PART" else None

    def _finish(self, words: str) -> str | None:
        """A finish of several words ("satin black"), its words each in canonical form."""
        said: list[str] = []
        left = words.split()
        while left:
            length = next((n for n in range(len(left), 0, -1) if self._is_finish(" ".join(left[:n]))), 1)
            phrase = " ".join(left[:length])
            term = self._is_finish(phrase)
            said.append(term.canonical if term else phrase)
            left = left[length:]
        return " ".join(said) or None

    def _is_finish(self, phrase: str) -> Any:
        for table in (self.vocabulary.phrases, self.vocabulary.other_readings):
            if (term := table.get(phrase)) is not None and term.label == "FINISH":
                return term
        return None

    def _count(self, value: str) -> str:
        """A spoken number as the product writes it: "two" and "a pair" are 2."""
        counted = [one.canonical for one in self.nlp(value)._.measures if one.label == "QUANTITY"]
        return counted[0] if len(counted) == 1 else spoken_key(value)

    def _day(self, value: str, said_on: str | None, over: bool) -> str:
        """A spoken date as the day or month it means, of what is over the last one before; what cannot be known stays
        in its words."""
        if _ISO.fullmatch(value):
            return value
        for before in ("", "in ", "by "):
            dates = [one for one in self.nlp(before + value)._.measures if one.label == "DATE"]
            if dates:
                break
        if len(dates) == 1:
            meant = dates[0].value or {}
            past = {"past": True} if over and meant.get("relative", "this") == "this" else {}
            if day := resolve({**meant, **past}, said_on):
                return day
        return spoken_key(value)
