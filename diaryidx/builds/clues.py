"""What in a stretch of film speaks for which build: each clue with its features, weighed by what was learned.

A clue is one thing said: a name, a part with its finish, "this one is new in". It gives each build some features (how
well it fits what was asked for of that build, say), and a bike that is in no job book its own. Their weights, in
linking.yaml, make of the features the log odds of a conditional logit model (McFadden, "Conditional logit analysis of
qualitative choice behavior", in Zarembka, Frontiers in Econometrics, 1974): which build of those in the shop is it?
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache, cached_property, lru_cache
from importlib import resources
from typing import Any

import numpy as np
import yaml

from diaryidx.builds.dates import first_day
from diaryidx.builds.finding import plain_number, plain_registration
from diaryidx.builds.known import Items, Shop, Vector, he_or_she, person_words, spoken_name
from diaryidx.builds.phrases import find_phrases
from diaryidx.builds.said import Said, common_words
from diaryidx.builds.sounds import alike, sound
from diaryidx.builds.spoken import job_numbers_said, spelled_signs
from diaryidx.builds.wishes import exclude_each_other
from diaryidx.builds.word_lists import word_set
from diaryidx.records import OPEN_STATUSES, Build, Mention

#: How often a name that is said is that of the bike being shown, and not of another one spoken of in passing (our own
#: estimate); how much each kind of name counts is learned.
TRUST = {
    "nickname": 0.95, "model": 0.9, "make": 0.88, "customer": 0.9, "job number": 0.98, "registration": 0.98,
}  # fmt: skip
#: Names that no bike has which is not in the job book; another one can be of the same model and customer.
OF_ONE_BUILD = ("nickname", "job number", "registration")
#: The same of a name that only sounds like what was said.
SOUND_TRUST = 0.7
#: How much of a word is known where it only sounds like one, and of a term where its words are said but not the term.
SOUND_SHARE, WORDWISE = 0.75, 0.9
#: What remains of how well an item fits when the parts differ and only their finish or an odd word is the same.
OTHER_PART = 0.5
#: From this on what is said is taken to be an item; how well it fits is told in three features with these knots.
FITS = 0.45
KNOTS = (0.3, 0.6, 1.0)
#: A bike is new, or has just left, for so many days (a diary a month, common practice, no source).
RECENT_DAYS = 45
_LONGEST_NAME = 5


@dataclass(frozen=True)
class Clue:
    """Something said: for each feature its values for the builds, in the order of the shop's, and for an unknown bike.

    ``words`` says it of the builds that it fits.
    """

    features: Mapping[str, Vector]
    words: Mapping[int, str]
    unknown: Mapping[str, float]

    @cached_property
    def gains(self) -> Vector:
        """The log odds that each build gains, and last those of a bike that is in no job book."""
        size = len(next(iter(self.features.values())))
        gains: Vector = np.zeros(size + 1)
        for name, values in self.features.items():
            gains[:-1] += weight(name) * values
        gains[-1] += sum(weight(name) * value for name, value in self.unknown.items())
        return gains


@cache
def learned() -> dict[str, Any]:
    """What was learned about linking, from linking.yaml."""
    text = resources.files("diaryidx.builds").joinpath("linking.yaml").read_text(encoding="utf-8")
    found: dict[str, Any] = yaml.safe_load(text)
    return found


@cache
def weight(feature: str) -> float:
    """The weight of a feature."""
    return float(learned()["weights"].get(feature, 0.0))


def clues(said: Sequence[Said], shop: Shop) -> list[Clue]:
    """Every clue of one stretch: of its names, of how the bike stands in the shop, and of each sentence's things."""
    things = (clue for found in thing_clues(said, frozenset(), shop) for clue in found)
    return [*name_clues(said, shop), *stay_clues(said, shop), *things]


def name_clues(said: Sequence[Said], shop: Shop) -> list[Clue]:
    """The clues of names and numbers, one a kind, and of who is spoken of."""
    found = [_name_clue(kind, said, shop) for kind in TRUST]
    return [clue for clue in (*found, _sound_clue(said, shop), _he_clue(said, shop)) if clue is not None]


def bikes_named(words: Sequence[str], shop: Shop) -> Iterator[tuple[int, frozenset[str]]]:
    """The names and job numbers among words: the place of the word that begins each, and whose it may be."""
    for kind in ("nickname", "model", "make", "customer"):
        yield from ((place, shop.names[kind][name]) for place, name in _names_in(words, shop.names[kind]))
    numbers = shop.names["job number"]
    yield from ((0, numbers[number]) for number in _numbers(tuple(words)) if number in numbers)


def _name_clue(kind: str, said: Sequence[Said], shop: Shop) -> Clue | None:
    """All names of one kind that are said; the trust is shared out by how often each is."""
    heard = _names_heard(kind, said, shop)
    if not heard:
        return None
    gains, words = _shared_out(heard, TRUST[kind], shop)
    if kind in ("model", "make"):  # a build of which the book says no make is not spoken against by one
        gains[[column for column, build in enumerate(shop.builds) if getattr(build, kind) is None]] = 0.0
    unknown = math.log(1 - TRUST[kind]) if kind in OF_ONE_BUILD else 0.0
    told = {column: _told(kind, name) for column, name in words.items()}
    return Clue({f"name: {kind}": gains}, told, {f"name: {kind}": unknown})


def _shared_out(
    heard: Mapping[tuple[str, frozenset[str]], int], trust: float, shop: Shop
) -> tuple[Vector, dict[int, str]]:
    """What names gain each build, and which of them fits it best."""
    total = sum(heard.values())
    gains = np.full(len(shop.builds), math.log(1 - trust))
    words: dict[int, str] = {}
    for (name, jobs), count in heard.items():
        gain = math.log((1 - trust + trust * count / total) / shop.share(jobs))
        for column in (shop.columns[job] for job in jobs):
            if column not in words or gain > gains[column]:
                gains[column], words[column] = gain, name
    return gains, words


def _sound_clue(said: Sequence[Said], shop: Shop) -> Clue | None:
    """Names that were not said as they are, but something that sounds so: "far land heroin" for "varlund heron"."""
    heard: Counter[tuple[str, frozenset[str]]] = Counter()
    for row in dict.fromkeys(row for one in said for row in one.words):
        heard.update(_sounding(row, shop))
    if not heard:
        return None
    gains, names = _shared_out(heard, SOUND_TRUST, shop)
    return Clue({"name: sound": gains}, {column: f"said something like '{name}'" for column, name in names.items()}, {})


def _sounding(words: tuple[str, ...], shop: Shop) -> Iterator[tuple[str, frozenset[str]]]:
    rows, codes_in_them = _sounds_of(words)
    if shop.sounds.keys().isdisjoint(codes_in_them):
        return
    for phrase, code in rows:
        found = shop.sounds.get(code)
        if found is not None and not any(phrase.removesuffix("'s") in names for names in shop.names.values()):
            yield found


@lru_cache(maxsize=4_000)
def _sounds_of(words: tuple[str, ...]) -> tuple[tuple[tuple[str, str], ...], frozenset[str]]:
    """Rows of neighbouring words and how they sound, but for everyday and trade words by themselves; and all sounds."""
    common = common_words()
    rows = (
        (end - start, " ".join(words[start:end]))
        for start in range(len(words))
        for end in range(start + 1, min(start + _LONGEST_NAME, len(words)) + 1)
    )
    sounds = tuple((phrase, sound(phrase)) for length, phrase in rows if length > 1 or phrase not in common)
    return sounds, frozenset(code for _, code in sounds)


def codes(words: tuple[str, ...]) -> Iterator[str]:
    """The job numbers and spelled registrations that words may be."""
    yield from _numbers(words)
    yield from _spelled(words).split()


@lru_cache(maxsize=4_000)
def _numbers(words: tuple[str, ...]) -> frozenset[str]:
    return frozenset(number.lstrip("0") for number in job_numbers_said(words))


@lru_cache(maxsize=4_000)
def _spelled(words: tuple[str, ...]) -> str:
    return " ".join(map(plain_registration, spelled_signs(words)))


def _he_clue(said: Sequence[Said], shop: Shop) -> Clue | None:
    """Whether the owner is a man or a woman, as films before spoke of each build's."""
    he = sum(he_or_she(words) for one in said for words in one.words[:1])
    if not he or not shop.he.any():
        return None
    known = np.clip(shop.he / 2, -1, 1)
    return Clue({"he or she": np.sign(he) * known}, {}, {})


# --- how a bike stands in the shop -----------------------------------------------------------------------------------


def stay_clues(said: Sequence[Said], shop: Shop) -> list[Clue]:
    """The clues of how a bike stands in the shop: that it is new, nobody's job, has left or is not said to have."""
    heard = {name for one in said for name in stays_heard(one)}
    left = [] if "gone_home" in heard else [Clue({"left, and it is not said": _stays(shop)[1]}, {}, {})]
    return [*left, *heard_stay_clues(heard, shop)]


def stays_heard(said: Said) -> Iterator[str]:
    """Which of these a sentence says of a bike."""
    return (name for name in ("new_here", "gone_home", "shops_own", "no_job") if any(find_phrases(name, said.plain)))


def heard_stay_clues(heard: Collection[str], shop: Shop) -> Iterator[Clue]:
    """The clues of what was said of how a bike stands in the shop."""
    if not heard:
        return
    new, left, own = _stays(shop)
    if "new_here" in heard:
        words = dict.fromkeys(np.flatnonzero(new).tolist(), "is new in the shop")
        yield Clue({"new, and it is": new, "new, and it is not": 1 - new}, words, {"new, unknown": 1.0})
    if "gone_home" in heard:
        words = dict.fromkeys(np.flatnonzero(left).tolist(), "has just left")
        yield Clue({"left, and it has": left, "left, and it has not": 1 - left}, words, {"left, unknown": 1.0})
    if "shops_own" in heard:
        words = dict.fromkeys(np.flatnonzero(own).tolist(), "is the shop's own")
        yield Clue({"the shop's own": own}, words, {"the shop's own, unknown": 1.0})
    if "no_job" in heard:
        yield Clue({"": np.zeros(len(shop.builds))}, {}, {"no job": 1.0})


def _stays(shop: Shop) -> tuple[Vector, Vector, Vector]:
    """Which builds are new, which have just left, and which are the shop's own."""
    new, left = np.array([_stay(build, shop.day) for build in shop.builds], dtype=np.float64).reshape(-1, 2).T
    return new, left, np.array([_is_the_shops(build) for build in shop.builds], dtype=np.float64)


def _stay(build: Build, day: str | None) -> tuple[bool, bool]:
    """Whether a build is new on a day, and whether it has just left."""
    filmed, came, left = first_day(day), first_day(build.date_in), first_day(build.date_out)
    return _recent(came, filmed), _recent(left, filmed)


def _recent(event: date | None, filmed: date | None) -> bool:
    return event is not None and filmed is not None and 0 <= (filmed - event).days <= RECENT_DAYS


def _is_the_shops(build: Build) -> bool:
    text = " ".join(filter(None, (build.customer, build.nickname, build.state))).lower()
    return any(word in word_set("shops_own_cells") for word in text.split())


# --- names -----------------------------------------------------------------------------------------------------------


def _told(kind: str, name: str) -> str:
    """A clue in words; what is private to a customer is not spelled out."""
    if kind == "customer":
        return "named the customer"
    if kind == "registration":
        return "said its registration"
    return f"said job number {name}" if kind == "job number" else f"said '{name}'"


def _names_heard(kind: str, said: Sequence[Said], shop: Shop) -> Counter[tuple[str, frozenset[str]]]:
    """The names of a kind that are said, each with the builds that it can mean, and how often."""
    names = shop.names[kind]
    found: Counter[str] = Counter()
    for words in dict.fromkeys(words for one in said for words in one.words):
        if kind == "job number":
            found.update(_numbers(words) & names.keys())
        elif kind == "registration":
            if spelled := _spelled(words):
                found.update(plate for plate in names if plate in spelled)
        else:
            found.update(name for _, name in _names_in(words, names))
    mentions = [mention for one in said for mention in one.mentions]
    found.update(_mentioned(kind, mentions, names))
    heard = Counter({(name, names[name]): count for name, count in _without_parts(found).items()})
    if kind == "customer":
        heard.update(_first_names(mentions, shop, found))
    return heard


def _mentioned(kind: str, mentions: Sequence[Mention], names: Mapping[str, frozenset[str]]) -> Iterator[str]:
    """Names that the language step has found, by their canonical form."""
    labels = {"nickname": "NICKNAME", "make": "MAKE", "job number": "JOB"}  # "otter" may stand for several models
    for mention in mentions:
        if mention.label == labels.get(kind):
            name = plain_number(mention.canonical) if kind == "job number" else spoken_name(kind, mention.canonical)
            if name in names:
                yield name


def _first_names(
    mentions: Sequence[Mention], shop: Shop, found: Mapping[str, int]
) -> Iterator[tuple[str, frozenset[str]]]:
    """First names that were mentioned, with all builds whose customers have them."""
    for mention in mentions:
        name = " ".join(person_words(mention.text)) if mention.label == "PERSON" else ""
        if name in shop.first_names and name not in found:
            yield name, shop.first_names[name]


def _names_in(words: Sequence[str], names: Mapping[str, frozenset[str]]) -> Iterator[tuple[int, str]]:
    """Names among words with the places of their first words: as they are, possessive, or cut in two ("dun lin")."""
    places, phrases = _phrases_of(tuple(words))
    if not names.keys().isdisjoint(phrases):
        yield from ((place, phrase) for place, phrase in places if phrase in names)


@lru_cache(maxsize=4_000)
def _phrases_of(words: tuple[str, ...]) -> tuple[tuple[tuple[int, str], ...], frozenset[str]]:
    """What of some words may be a name, each with the place of its first word; and all of them without places."""
    plain = [word.removesuffix("'s") for word in words]
    found: list[tuple[int, str]] = []
    for start in range(len(plain)):
        for length in range(1, min(_LONGEST_NAME, len(plain) - start) + 1):
            found.append((start, " ".join(plain[start : start + length])))
        joined = "".join(plain[start : start + 2])
        if len(joined) > 5 and start + 1 < len(plain):
            found.append((start, joined))
    return tuple(found), frozenset(phrase for _, phrase in found)


def _without_parts(heard: Counter[str]) -> Counter[str]:
    """A name that is only part of a longer one that is said is not said by itself: "otter 500" is not every otter."""
    longer = [name for name in heard if any(name != other and f" {name} " in f" {other} " for other in heard)]
    return Counter({name: count for name, count in heard.items() if name not in longer})


# --- things ----------------------------------------------------------------------------------------------------------


def thing_clues(said: Sequence[Said], turns: frozenset[int], shop: Shop) -> Iterator[list[Clue]]:
    """The clues of what each sentence says of parts, finishes and the like, sentence by sentence.

    :param turns: the sentences with which the film turns to another bike; what was said before counts no more then.
        Something that is said twice of the same bike counts but little the second time.
    """
    spoken_of = np.zeros(len(shop.items.told), dtype=bool)
    for place, one in enumerate(said):
        if place in turns:
            spoken_of[:] = False
        clue = _thing_clue(one, shop, spoken_of)
        yield [] if clue is None else [clue]


def _thing_clue(said: Said, shop: Shop, spoken_of: np.ndarray[Any, Any]) -> Clue | None:
    items = shop.items
    fit = fits(said, items) if said.keys else np.zeros(0)
    rows = np.flatnonzero(fit > 0.1)
    unknown = {"part, unknown": 1.0} if said.speaks_of_a_part else {}
    if not len(rows):
        return Clue({"": np.zeros(len(shop.builds))}, {}, unknown) if unknown else None
    best = np.full(len(shop.builds), -1)
    order = rows[np.argsort(fit[rows] + 0.01 * items.from_book[rows], kind="stable")]
    best[items.build[order]] = order  # the last one written is the best
    columns = np.flatnonzero(best >= 0)
    found = best[columns]
    again = spoken_of[found] & (fit[found] >= FITS)
    features = {name: np.zeros(len(shop.builds)) for name in _THING_FEATURES}
    book = items.from_book[found]
    for name, share in zip(("little", "half", "well"), _hats(fit[found]), strict=True):
        features[f"fits {name}, asked for"][columns] = share * book * ~again
        features[f"fits {name}, said before"][columns] = share * ~book * ~again
    features["fits again"][columns] = again
    sure = fit[found] >= FITS
    features["of many"][columns] = sure * ~again * np.log1p(items.count_of_build[columns])
    finishes = " ".join(sorted(name for kind, name in said.keys if kind == "finish"))
    for column, row in zip(columns[sure].tolist(), found[sure].tolist(), strict=True):
        features["other finish"][column] = _other_finish(finishes, items.sorts[row])
        was_done = items.state[row] in ("done", "ruled out")
        features["open again"][column] = was_done and said.status in OPEN_STATUSES
        features["done already"][column] = was_done and said.status == "done"
    spoken_of[found[sure]] = True
    return Clue(features, {column: items.told[best[column]] for column in columns[sure].tolist()}, unknown)


_THING_FEATURES = (
    *(f"fits {how}, {source}" for how in ("little", "half", "well") for source in ("asked for", "said before")),
    "fits again", "of many", "other finish", "open again", "done already",
)  # fmt: skip


def _words_known(said: Said, items: Items) -> Iterator[tuple[str, float]]:
    """The words of items that a sentence says, and how much of each is known: less where it only sounds so."""
    for kind, word in said.keys:
        if kind == "word" and word in items.words:
            yield word, 1.0
        elif kind == "sound":
            known = items.by_sound.get(sound(word), frozenset())
            yield from ((other, SOUND_SHARE) for other in known if alike(word, other))


def _hats(fit: Vector) -> Iterator[Vector]:
    """How near to each knot, 0 to 1: linear between knots, so that weights at the knots make a broken line."""
    places = (0.0, *KNOTS)
    for number in range(1, len(places)):
        values = [0.0] * len(places)
        values[number] = 1.0
        yield np.interp(fit, places, values)


def _other_finish(said: str, known: frozenset[str]) -> bool:
    return bool(said and known) and exclude_each_other(said, " ".join(sorted(known)))


def fits(said: Said, items: Items) -> Vector:
    """How much of each item a sentence says, 0 to 1.

    Nothing where only a task or a side is the same, since much is fitted and painted on every bike; little where only
    the finish of another part is.
    """
    words = np.zeros(len(items.share_of_word))
    for word, share in _words_known(said, items):
        words[items.words[word]] = np.maximum(words[items.words[word]], share)
    count = len(items.slot_item)
    slots = WORDWISE * np.bincount(items.slot_of_word, words * items.share_of_word, count)
    for key in said.keys & items.by_key.keys():
        slots[items.by_key[key]] = 1.0
    weighed = slots * items.slot_weight
    total = len(items.told)
    fit: Vector = np.bincount(items.slot_item, weighed, total) / np.maximum(items.weight, 1e-9)
    fit[np.bincount(items.slot_item, weighed * items.slot_tells, total) == 0] = 0.0
    part = np.bincount(items.slot_item, slots * items.slot_is_part, total)
    fit[items.has_part & (part < KNOTS[0])] *= OTHER_PART
    return fit
