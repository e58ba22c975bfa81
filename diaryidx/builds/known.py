"""What is known of each build before a film: its names, what was asked for, and what earlier films said of it."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from diaryidx.builds.finding import plain_number, plain_registration
from diaryidx.builds.said import Key
from diaryidx.builds.sounds import sound
from diaryidx.builds.spoken import tokens
from diaryidx.builds.wishes import finish_sorts, shipped_vocabulary, stems, wishes
from diaryidx.builds.word_lists import word_set
from diaryidx.builds.wording import describe
from diaryidx.records import Build, Statement, Status
from diaryidx.vocabulary.loader import Vocabulary, everyday_words, find_terms
from diaryidx.vocabulary.shop_terms import say_number

#: The kinds of names by which a bike is known on film.
NAME_KINDS = ("nickname", "model", "make", "customer", "job number", "registration")
#: How much each kind of term counts in something known (our own choice; all that is learned is in linking.yaml).
SLOT_WEIGHTS = {"part": 1.0, "name": 1.0, "finish": 0.6, "word": 0.6, "task": 0.3, "supplier": 0.3, "side": 0.25}
SLOT_KINDS = {
    "PART": "part",
    "FINISH": "finish",
    "TASK": "task",
    "PRODUCT": "name",
    "SIDE": "side",
    "SUPPLIER": "supplier",
}
_SHORTEST_NAME_SOUND = 4
_SHORTEST_REGISTRATION = 4

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Slot:
    """One word or term of something known: what it is, and the words that it is made of."""

    kind: str
    name: str
    words: tuple[str, ...] = ()


@dataclass(slots=True)
class Item:
    """Something known of a build: a wish, or a part with all that films said of it. ``told`` says it to a person.

    ``from_book``: it is sure, from the job book or tied by a person; ``state`` is what was stated of it last, None
    where only the job book has it.
    """

    told: str
    from_book: bool
    slots: set[Slot] = field(default_factory=set)
    state: Status | None = None


@dataclass(frozen=True, slots=True)
class Items:
    """All items of all builds as columns: ``build`` is the place of an item's build, ``weight`` that of all its slots.

    A slot belongs to an item (``slot_item``) and may be known by its term (``by_key``) or word by word: ``words`` holds
    the rows of ``slot_of_word`` in which a word stands, ``share_of_word`` the share of its slot that a word is, and
    ``by_sound`` the words of one sound.
    """

    told: Sequence[str]
    from_book: Bools
    state: Sequence[Status | None]
    build: Places
    weight: Vector
    has_part: Bools
    sorts: Sequence[frozenset[str]]
    count_of_build: Vector
    slot_item: Places
    slot_weight: Vector
    slot_is_part: Bools
    slot_tells: Bools
    by_key: Mapping[Key, Places]
    slot_of_word: Places
    share_of_word: Vector
    words: Mapping[str, Places]
    by_sound: Mapping[str, frozenset[str]]


@dataclass(frozen=True, slots=True)
class Shop:
    """The builds as a film of one day may speak of them.

    ``weights`` says how likely each is in the shop that day, in the order of ``builds``; ``columns`` are their places
    by job number; ``names`` is ``{kind: {name as said: job numbers}}``, ``first_names`` those of customers alone,
    ``sounds`` names by how they sound. ``he`` tells of each build how often films called its owner "he", less "she".
    """

    builds: Sequence[Build]
    columns: Mapping[str, int]
    weights: Vector
    names: Mapping[str, Mapping[str, frozenset[str]]]
    first_names: Mapping[str, frozenset[str]]
    sounds: Mapping[str, tuple[str, frozenset[str]]]
    items: Items
    he: Vector
    day: str | None = None

    def share(self, jobs: Iterable[str]) -> float:
        """The share of the bikes in the shop that these are."""
        return max(float(sum(self.weights[self.columns[job]] for job in jobs)), 1e-6) / float(self.weights.sum())


def shop_on_the_day(
    builds: Sequence[Build],
    weights: Mapping[str, float],
    earlier: Sequence[Statement],
    vocabulary: Vocabulary | None = None,
    day: str | None = None,
) -> Shop:
    """Gather what is known of each build before a film: the job book, and what earlier films said.

    :param weights: how likely each build is in the shop, above 0, by job number.
    :param vocabulary: the shop's words; None means the shipped ones.
    """
    words = vocabulary or shipped_vocabulary()
    known: dict[str, dict[str, Item]] = {build.job_number: dict(_asked_for(build, words)) for build in builds}
    columns = {build.job_number: column for column, build in enumerate(builds)}
    he = np.zeros(len(builds))
    for statement in earlier:
        if statement.build in known and statement.status != "usual practice" and statement.source != "book":
            _add(known[statement.build], statement)
            he[columns[statement.build]] += _he_or_she_in(statement.text)
    names = names_of(builds, words)
    return Shop(
        builds,
        columns,
        np.array([weights[build.job_number] for build in builds]),
        names,
        _first_names(builds),
        _sounds(names),
        _in_columns([list(known[build.job_number].values()) for build in builds]),
        he,
        day,
    )


def he_or_she(words: Iterable[str]) -> int:
    """Whether words speak of a man (above 0) or a woman (below 0)."""
    said = list(words)
    return sum(word in word_set("he") for word in said) - sum(word in word_set("she") for word in said)


@lru_cache(maxsize=20_000)
def _he_or_she_in(text: str) -> int:
    return he_or_she(tokens(text))


def _asked_for(build: Build, vocabulary: Vocabulary) -> Iterator[tuple[str, Item]]:
    for wish in wishes(build, vocabulary):
        if slots := _slots_of_text(wish.text, vocabulary):
            yield f"book {wish.text}", Item(f"asked for: {wish.text}", True, set(slots))
    if build.colour and (colours := set(_finish_slots(build.colour))):
        yield "colour", Item(f"is {build.colour}", True, colours)


@lru_cache(maxsize=50_000)
def _slots_of_text(text: str, vocabulary: Vocabulary) -> frozenset[Slot]:
    """The terms of a wish, and its other telling words."""
    slots: set[Slot] = set()
    covered: set[str] = set()
    for start, end, term in find_terms(vocabulary, text):
        words = tuple(stems(text[start:end]))
        readings = (term, vocabulary.other_readings.get(" ".join(text[start:end].lower().split())))
        kinds = [(SLOT_KINDS[one.label], one.canonical.lower()) for one in readings if one and one.label in SLOT_KINDS]
        slots.update(Slot(kind, name, words) for kind, name in kinds)
        covered.update(words if kinds else ())
    words_alone = (word for word in stems(text) if word not in covered and len(word) > 2)
    return frozenset(slots | {Slot("word", word, (word,)) for word in words_alone})


def _add(items: dict[str, Item], statement: Statement) -> None:
    """Add a statement to the item that has the same part, so that a thing said ten times is known once."""
    name = statement.part or statement.product
    terms = (statement.part, statement.task, statement.side, statement.product, statement.supplier)
    slots = _slots_of_terms(statement.finish, *terms)
    if not slots or not (name or statement.finish):
        return
    key = f"film {name or statement.finish}"
    item = items.get(key)
    if item is None:
        item = items[key] = Item(f"said before: {describe(statement)}", statement.decided)
    if statement.finish:  # a finish that is told anew stands in the place of the one before
        item.slots = {slot for slot in item.slots if slot.kind != "finish"}
    item.slots |= slots
    item.state = statement.status


@lru_cache(maxsize=20_000)
def _slots_of_terms(
    finish: str | None, part: str | None, task: str | None, side: str | None, product: str | None, supplier: str | None
) -> frozenset[Slot]:
    """The slots that a statement fills."""
    slots = set(_finish_slots(finish)) if finish else set()
    for kind, value in (("part", part), ("task", task), ("side", side), ("name", product), ("supplier", supplier)):
        if value:
            slots.add(Slot(kind, value.lower(), tuple(stems(value))))
    return frozenset(slots)


@lru_cache(maxsize=20_000)
def _in_order(slots: frozenset[Slot]) -> tuple[Slot, ...]:
    return tuple(sorted(slots, key=repr))


def _finish_slots(finish: str) -> Iterator[Slot]:
    """The terms of a finish, each by itself: "satin black" is satin and black."""
    for names in finish_sorts(finish).values():
        yield from (Slot("finish", name, tuple(stems(name))) for name in sorted(names))


def _in_columns(known: Sequence[Sequence[Item]]) -> Items:
    """The items of each build as columns."""
    items = [(item, column) for column, found in enumerate(known) for item in found]
    slots = [(slot, row) for row, (item, _) in enumerate(items) for slot in _in_order(frozenset(item.slots))]
    by_key: dict[Key, list[int]] = defaultdict(list)
    by_word: dict[str, list[int]] = defaultdict(list)
    by_sound: dict[str, set[str]] = defaultdict(set)
    words: list[tuple[int, float]] = []
    for place, (slot, _) in enumerate(slots):
        by_key[slot.kind, slot.name].append(place)
        for word in slot.words:
            by_word[word].append(len(words))
            by_sound[sound(word)].add(word)
            words.append((place, 1 / len(slot.words)))
    slot_item = np.array([row for _, row in slots], dtype=np.intp)
    slot_weight = np.array([SLOT_WEIGHTS[slot.kind] for slot, _ in slots])
    build = np.array([column for _, column in items], dtype=np.intp)
    return Items(
        [item.told for item, _ in items],
        np.array([item.from_book for item, _ in items], dtype=bool),
        [item.state for item, _ in items],
        build,
        np.bincount(slot_item, slot_weight, len(items)).astype(np.float64),
        np.array([any(slot.kind in ("part", "name") for slot in item.slots) for item, _ in items], dtype=bool),
        [frozenset(slot.name for slot in item.slots if slot.kind == "finish") for item, _ in items],
        np.bincount(build, minlength=len(known)).astype(np.float64),
        slot_item,
        slot_weight,
        np.array([slot.kind in ("part", "name") for slot, _ in slots], dtype=bool),
        np.array([slot.kind in ("part", "name", "finish", "word") for slot, _ in slots], dtype=bool),
        {key: np.array(places, dtype=np.intp) for key, places in by_key.items()},
        np.array([place for place, _ in words], dtype=np.intp),
        np.array([share for _, share in words], dtype=np.float64),
        {word: np.array(places, dtype=np.intp) for word, places in by_word.items()},
        {code: frozenset(found) for code, found in by_sound.items()},
    )


def names_of(builds: Sequence[Build], vocabulary: Vocabulary) -> dict[str, dict[str, frozenset[str]]]:
    """``{kind: {name as said: job numbers}}``, for names that are not everyday words."""
    found: dict[str, dict[str, set[str]]] = {kind: defaultdict(set) for kind in NAME_KINDS}
    everyday = everyday_words()
    for build in builds:
        forms = {
            "nickname": _said_forms("nickname", build.nickname),
            "make": _said_forms("make", build.make),
            "model": _said_forms("model", build.model),
            "customer": _customer_forms(build.customer or "", vocabulary),
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


def _customer_forms(customer: str, vocabulary: Vocabulary) -> Iterator[str]:
    """A customer's whole name and surname. First names are taken only where a mention has found one."""
    words = person_words(customer)
    if len(words) > 1:
        yield " ".join(words)
    if words and len(words[-1]) > 2 and words[-1] not in vocabulary.phrases:
        yield words[-1]


def _sounds(names: Mapping[str, Mapping[str, frozenset[str]]]) -> dict[str, tuple[str, frozenset[str]]]:
    """Nicknames, models and makes by how they sound, where that tells enough: the name and whose it may be."""
    found: dict[str, tuple[str, frozenset[str]]] = {}
    for kind in ("nickname", "model", "make"):
        for name, jobs in names[kind].items():
            code = sound(name)
            if len(code) >= _SHORTEST_NAME_SOUND and not any(sign.isdigit() for sign in name):
                found[code] = (name, jobs | found.get(code, ("", frozenset()))[1])
    return found


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
