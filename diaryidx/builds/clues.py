"""What in a stretch of film speaks for which build: each clue with the gain it gives, as a logarithm of odds.

Two kinds. A name said on film (a model, a nickname, a customer, a number) is taken to be the build's own with a fixed
trust, against the share of builds in the shop that have the same name: what many share tells little. And everything
else that is said of a part is either one of the things known of this build (asked for, or said in an earlier film), or
something that could be said of any bike: a mixture of the two, the form of query likelihood with Jelinek-Mercer
smoothing (Zhai and Lafferty, "A study of smoothing methods for language models applied to information retrieval", ACM
TOIS 22(2), 2004), over whole things instead of words, since the words of one thing are not independent.
"""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache

from diaryidx.builds.finding import plain_number, plain_registration
from diaryidx.builds.spoken import job_numbers_said, spelled_signs, tokens
from diaryidx.builds.wishes import exclude_each_other, finish_sorts, shipped_vocabulary, stems, wishes
from diaryidx.builds.word_lists import word_set
from diaryidx.builds.wording import describe
from diaryidx.records import Build, Mention, Segment, Sentence, Statement
from diaryidx.vocabulary.loader import everyday_words, find_terms
from diaryidx.vocabulary.shop_terms import say_number

#: How often a name that is said is that of the bike being shown, and not of another one spoken of in passing (our own
#: estimate; `tests/bench/bench_linking_small.py` shows what comes of it).
TRUST = {
    "nickname": 0.95, "model": 0.9, "make": 0.88, "customer": 0.9, "job number": 0.98, "registration": 0.98,
}  # fmt: skip
#: How much of what is said of a bike was asked for or said of it before; the rest could be said of any bike (our own
#: estimate).
OWN_SHARE = 0.65
#: How much each kind of word counts when something said is held against something known (our own choice).
WORD_WEIGHTS = {"part": 1.0, "name": 1.0, "finish": 0.7, "task": 0.35, "word": 0.35, "supplier": 0.3, "side": 0.2}
#: How much likelier something known is meant when all of its words are said than when half of them are, as exponents.
SHARPNESS = 5.0
#: A thing known only from earlier films counts less than what was asked for: it may have been tied to the wrong build.
EARLIER_WEIGHT = 0.6
#: What remains of the likeness when another finish of the same sort was known of the part; people change their minds.
OTHER_FINISH = 0.6
#: What remains of it when the parts differ and only their finish or an odd word is the same.
OTHER_PART = 0.5
_SHORTEST_REGISTRATION = 4
_LONGEST_NAME = 5

Key = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Clue:
    """Something said: the gain for each build that it fits, and for all others; ``words`` says it to a person."""

    gains: dict[str, float]
    otherwise: float
    words: dict[str, str]


@dataclass(slots=True)
class Thing:
    """Something known of a build or said of a bike: a part with all that goes with it. ``told`` says it to a person."""

    told: str
    weight: float = 1.0
    keys: set[Key] = field(default_factory=set)


@dataclass(frozen=True, slots=True)
class Shop:
    """The builds as a film of one day may speak of them.

    ``weights`` says how likely each is in the shop that day; ``names`` is ``{kind: {name as said: job numbers}}``;
    ``things`` are those known of each build, ``holders`` says which builds know a thing with such a key.
    """

    builds: Sequence[Build]
    weights: Mapping[str, float]
    names: Mapping[str, Mapping[str, frozenset[str]]]
    things: Mapping[str, Sequence[Thing]]
    holders: Mapping[Key, frozenset[str]]

    def share(self, jobs: Iterable[str]) -> float:
        """The share of the bikes in the shop that these are."""
        return max(sum(self.weights[job] for job in jobs), 1e-6) / sum(self.weights.values())


@dataclass(frozen=True, slots=True)
class Said:
    """What is said in one segment: its words as heard and as repaired, its mentions, and the things spoken of."""

    words: tuple[tuple[str, ...], ...]
    mentions: tuple[Mention, ...]
    things: tuple[Thing, ...]


# --- what is known ---------------------------------------------------------------------------------------------------


def shop_on_the_day(builds: Sequence[Build], weights: Mapping[str, float], earlier: Sequence[Statement]) -> Shop:
    """Gather what is known of each build before a film: the job book, and what earlier films said.

    :param weights: how likely each build is in the shop, above 0, by job number.
    """
    known: dict[str, dict[str, Thing]] = {build.job_number: {} for build in builds}
    for build in builds:
        for wish in wishes(build):
            _add(known[build.job_number], wish, f"asked for: {wish.text}", 1.0)
        if build.colour:
            known[build.job_number]["colour"] = Thing(f"is {build.colour}", 0.5, set(_finish_keys(build.colour)))
    for statement in earlier:
        if statement.build in known and statement.status != "usual practice" and statement.source != "book":
            _add(known[statement.build], statement, f"said before: {describe(statement)}", EARLIER_WEIGHT)
    holders: dict[Key, set[str]] = defaultdict(set)
    for job, things in known.items():
        for thing in things.values():
            for key in thing.keys:
                holders[key].add(job)
    return Shop(
        builds,
        weights,
        _names(builds),
        {job: tuple(things.values()) for job, things in known.items()},
        {key: frozenset(jobs) for key, jobs in holders.items()},
    )


def _add(things: dict[str, Thing], statement: Statement, told: str, weight: float, words: Iterable[str] = ()) -> None:
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
        yield from (("word", word) for word in _other_words(statement.text))


def _finish_keys(finish: str | None) -> Iterator[Key]:
    """The terms of a finish, each by itself: "satin black" is satin and black."""
    for names in finish_sorts(finish).values() if finish else ():
        yield from (("finish", name) for name in sorted(names))


@cache
def _other_words(text: str) -> tuple[str, ...]:
    """Telling words of a text that the trade has no term for."""
    covered = {word for start, end, _ in find_terms(shipped_vocabulary(), text) for word in stems(text[start:end])}
    return tuple(word for word in dict.fromkeys(stems(text)) if word not in covered and len(word) > 2)


def _names(builds: Sequence[Build]) -> dict[str, dict[str, frozenset[str]]]:
    """``{kind: {name as said: job numbers}}``, for names that are not everyday words."""
    found: dict[str, dict[str, set[str]]] = {kind: defaultdict(set) for kind in TRUST}
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
    name = _spoken_name(kind, text or "")
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
    words = _person_words(customer)
    if len(words) > 1:
        yield " ".join(words)
    if words and len(words[-1]) > 2 and words[-1] not in shipped_vocabulary().phrases:
        yield words[-1]


def _person_words(name: str) -> list[str]:
    words = [word.removesuffix("'s") for word in tokens(name)]
    return [word for word in words if word not in word_set("titles")]


# --- what is said ----------------------------------------------------------------------------------------------------


def said_in(
    segment: Segment, sentences: Sequence[Sentence], mentions: Sequence[Mention], statements: Sequence[Statement]
) -> Said:
    """Gather what is said in a segment. Usual practice and advice say nothing of the bike that stands there."""
    spoken = sentences[segment.first : segment.last + 1]
    own = tuple(mention for mention in mentions if segment.first <= mention.sentence <= segment.last)
    facts = [one for one in statements if segment.first <= one.sentence <= segment.last]
    things: dict[str, Thing] = {}
    for fact in facts:
        if fact.status != "usual practice":
            _add(things, fact, fact.text, 1.0, _other_words(sentences[fact.sentence].text))
    understood = {fact.sentence for fact in facts}
    for place, sentence in enumerate(spoken, start=segment.first):
        if place not in understood:
            _add_mentions(things, sentence, [mention for mention in own if mention.sentence == place])
    words = tuple(dict.fromkeys(tuple(tokens(text)) for one in spoken for text in (one.text, one.heard)))
    return Said(words, own, tuple(things.values()))


def _add_mentions(things: dict[str, Thing], sentence: Sentence, mentions: Sequence[Mention]) -> None:
    """Add what is mentioned in a sentence of which no statement was made: one thing a part, all else to each."""
    kinds = {"PART": "part", "FINISH": "finish", "TASK": "task", "PRODUCT": "name", "SIDE": "side"}
    keys = [(kinds[mention.label], mention.canonical.lower()) for mention in mentions if mention.label in kinds]
    parts = [key for key in keys if key[0] in ("part", "name")] or [("word", sentence.text)]
    rest = {key for key in keys if key[0] not in ("part", "name")} | {("word", w) for w in _other_words(sentence.text)}
    if keys:
        for part in dict.fromkeys(parts):
            things.setdefault(part[1], Thing(sentence.text)).keys.update({part} | rest)


# --- clues -----------------------------------------------------------------------------------------------------------


def clues(said: Said, shop: Shop) -> list[Clue]:
    """Every clue of one segment."""
    names = [clue for kind in TRUST if (clue := _name_clue(kind, said, shop)) is not None]
    return [*names, *(clue for thing in said.things if (clue := _thing_clue(thing, shop)) is not None)]


def _name_clue(kind: str, said: Said, shop: Shop) -> Clue | None:
    """All names of one kind that are said; the trust is shared out by how often each is."""
    heard = _names_heard(kind, said, shop)
    if not heard:
        return None
    total = sum(heard.values())
    trust = TRUST[kind]
    gains: dict[str, float] = {}
    words: dict[str, str] = {}
    for (name, jobs), count in heard.items():
        gain = math.log((1 - trust + trust * count / total) / shop.share(jobs))
        for job in jobs:
            if gain > gains.get(job, -math.inf):
                gains[job], words[job] = gain, _told(kind, name)
    if kind in ("model", "make"):  # a build of which the book says no make is not spoken against by one
        gains |= {build.job_number: 0.0 for build in shop.builds if getattr(build, kind) is None}
    return Clue(gains, math.log(1 - trust), words)


def _told(kind: str, name: str) -> str:
    """A clue in words; what is private to a customer is not spelled out."""
    if kind == "customer":
        return "named the customer"
    if kind == "registration":
        return "said its registration"
    return f"said job number {name}" if kind == "job number" else f"said '{name}'"


def _names_heard(kind: str, said: Said, shop: Shop) -> Counter[tuple[str, frozenset[str]]]:
    """The names of a kind that are said, each with the builds that it can mean, and how often."""
    names = shop.names[kind]
    found: Counter[str] = Counter()
    for words in said.words:
        if kind == "job number":
            found.update({number.lstrip("0") for number in job_numbers_said(words)} & names.keys())
        elif kind == "registration":
            spelled = " ".join(map(plain_registration, spelled_signs(words)))
            found.update(plate for plate in names if plate in spelled)
        else:
            found.update(_names_in(words, names))
    found.update(_mentioned(kind, said.mentions, names))
    heard = Counter({(name, names[name]): count for name, count in _without_parts(found).items()})
    if kind == "customer":
        heard.update(_first_names(said.mentions, shop, found))
    return heard


def _mentioned(kind: str, mentions: Sequence[Mention], names: Mapping[str, frozenset[str]]) -> Iterator[str]:
    """Names that the language step has found, by their canonical form."""
    labels = {"nickname": "NICKNAME", "make": "MAKE", "job number": "JOB"}  # "otter" may stand for several models
    for mention in mentions:
        if mention.label == labels.get(kind):
            name = plain_number(mention.canonical) if kind == "job number" else _spoken_name(kind, mention.canonical)
            if name in names:
                yield name


def _first_names(
    mentions: Sequence[Mention], shop: Shop, found: Mapping[str, int]
) -> Iterator[tuple[str, frozenset[str]]]:
    """First names that were mentioned, with all builds whose customers have them."""
    for mention in mentions:
        name = " ".join(_person_words(mention.text))
        if mention.label == "PERSON" and name and " " not in name and name not in found:
            jobs = frozenset(b.job_number for b in shop.builds if _person_words(b.customer or "")[:1] == [name])
            if jobs:
                yield name, jobs


def _spoken_name(kind: str, name: str) -> str:
    return " ".join(word for word in tokens(name) if not (kind == "nickname" and word in ("the", "a")))


def _names_in(words: Sequence[str], names: Mapping[str, frozenset[str]]) -> Iterator[str]:
    """Names among words: as they are, with a possessive, or cut in two by the engine ("dun lin")."""
    plain = [word.removesuffix("'s") for word in words]
    for start in range(len(plain)):
        for length in range(1, min(_LONGEST_NAME, len(plain) - start) + 1):
            phrase = " ".join(plain[start : start + length])
            if phrase in names:
                yield phrase
        joined = "".join(plain[start : start + 2])
        if len(joined) > 5 and joined in names and start + 1 < len(plain):
            yield joined


def _without_parts(heard: Counter[str]) -> Counter[str]:
    """A name that is only part of a longer one that is said is not said by itself: "otter 500" is not every otter."""
    longer = [name for name in heard if any(name != other and f" {name} " in f" {other} " for other in heard)]
    return Counter({name: count for name, count in heard.items() if name not in longer})


def _thing_clue(thing: Thing, shop: Shop) -> Clue | None:
    """Something said of a part: how much likelier it is said of each build than of any bike in the shop.

    None where no build knows anything like it.
    """
    holders = {job for key in thing.keys if key[0] != "side" for job in shop.holders.get(key, ())}
    fits: dict[str, float] = {}
    words: dict[str, str] = {}
    for job in holders:
        known = shop.things[job]
        likeness = [one.weight * (math.exp(SHARPNESS * _alike(thing, one, shop)) - 1) for one in known]
        fits[job] = sum(likeness) / sum(one.weight for one in known)
        words[job] = known[likeness.index(max(likeness))].told
    anywhere = sum(shop.weights[job] * fit for job, fit in fits.items()) / sum(shop.weights.values())
    if not anywhere:
        return None
    gains = {job: math.log(1 - OWN_SHARE + OWN_SHARE * fit / anywhere) for job, fit in fits.items()}
    return Clue(gains, math.log(1 - OWN_SHARE), words)


def _alike(said: Thing, known: Thing, shop: Shop) -> float:
    """The share of what is said that is known, 0 to 1.

    Little where only the finish of another part is the same, nothing where only a task or a side is: much is fitted and
    painted on every bike. Less where another finish of the same sort is known of the part.
    """
    shared = said.keys & known.keys
    kinds = {key[0] for key in shared}
    if not kinds & {"part", "name", "finish", "word"}:
        return 0.0
    # Words that no build knows ("lovely", "tuesday") are no reason to doubt; parts that none knows are one.
    telling = [key for key in said.keys if key[0] != "word" or key in shop.holders]
    share = sum(WORD_WEIGHTS[key[0]] for key in shared) / sum(WORD_WEIGHTS[key[0]] for key in telling)
    if not kinds & {"part", "name"} and _has_part(said) and _has_part(known):
        return share * OTHER_PART
    finishes = [[key[1] for key in keys if key[0] == "finish"] for keys in (said.keys, known.keys)]
    if all(finishes) and exclude_each_other(" ".join(finishes[0]), " ".join(finishes[1])):
        return share * OTHER_FINISH
    return share


def _has_part(thing: Thing) -> bool:
    return any(key[0] in ("part", "name") for key in thing.keys)
