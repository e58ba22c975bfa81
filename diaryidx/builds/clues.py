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
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diaryidx.builds.finding import plain_number, plain_registration
from diaryidx.builds.known import KnownThings, Shop, Thing, Vector, person_words, spoken_name
from diaryidx.builds.said import Said
from diaryidx.builds.spoken import job_numbers_said, spelled_signs
from diaryidx.builds.wishes import exclude_each_other
from diaryidx.records import Mention

#: How often a name that is said is that of the bike being shown, and not of another one spoken of in passing (our own
#: estimate; `tests/bench/bench_linking_small.py` shows what comes of it).
TRUST = {
    "nickname": 0.95, "model": 0.9, "make": 0.88, "customer": 0.9, "job number": 0.98, "registration": 0.98,
}  # fmt: skip
#: Names that no bike has which is not in the job book; another one can be of the same model and customer.
OF_ONE_BUILD = ("nickname", "job number", "registration")
#: How much of what is said of a bike was asked for or said of it before; the rest could be said of any bike (our own
#: estimate).
OWN_SHARE = 0.65
#: How much each kind of word counts when something said is held against something known (our own choice).
WORD_WEIGHTS = {"part": 1.0, "name": 1.0, "finish": 0.7, "task": 0.35, "word": 0.35, "supplier": 0.3, "side": 0.2}
#: How much likelier something known is meant when all of its words are said than when half of them are, as exponents.
SHARPNESS = 5.0
#: What remains of the likeness when another finish of the same sort was known of the part; people change their minds.
OTHER_FINISH = 0.6
#: What remains of it when the parts differ and only their finish or an odd word is the same.
OTHER_PART = 0.5
_LONGEST_NAME = 5


@dataclass(frozen=True, slots=True)
class Clue:
    """Something said: the gain for each build, in the order of the shop's, and for a bike that is in no job book.

    ``words`` says it of the builds that it fits.
    """

    gains: Vector
    words: dict[int, str]
    unknown: float = 0.0

    @property
    def with_unknown(self) -> Vector:
        """The gains of the builds, and last of a bike that is in no job book."""
        return np.append(self.gains, self.unknown)


def clues(said: Said, shop: Shop) -> list[Clue]:
    """Every clue of one stretch."""
    things = (thing_clue(thing, shop) for thing in said.things.values())
    return [*name_clues(said, shop), *(clue for clue in things if clue is not None)]


def name_clues(said: Said, shop: Shop) -> list[Clue]:
    """The clues of names and numbers, one a kind."""
    return [clue for kind in TRUST if (clue := _name_clue(kind, said, shop)) is not None]


def bikes_named(words: Sequence[str], shop: Shop) -> Iterator[tuple[int, frozenset[str]]]:
    """The names and job numbers among words: the place of the word that begins each, and whose it may be."""
    for kind in ("nickname", "model", "make", "customer"):
        yield from ((place, shop.names[kind][name]) for place, name in _names_in(words, shop.names[kind]))
    numbers = shop.names["job number"]
    yield from ((0, numbers[number]) for number in job_numbers_said(words) if number in numbers)


# --- names -----------------------------------------------------------------------------------------------------------


def _name_clue(kind: str, said: Said, shop: Shop) -> Clue | None:
    """All names of one kind that are said; the trust is shared out by how often each is."""
    heard = _names_heard(kind, said, shop)
    if not heard:
        return None
    total = sum(heard.values())
    trust = TRUST[kind]
    gains = np.full(len(shop.builds), math.log(1 - trust))
    words: dict[int, str] = {}
    for (name, jobs), count in heard.items():
        gain = math.log((1 - trust + trust * count / total) / shop.share(jobs))
        for column in (shop.columns[job] for job in jobs):
            if column not in words or gain > gains[column]:
                gains[column], words[column] = gain, _told(kind, name)
    if kind in ("model", "make"):  # a build of which the book says no make is not spoken against by one
        gains[[column for column, build in enumerate(shop.builds) if getattr(build, kind) is None]] = 0.0
    return Clue(gains, words, math.log(1 - trust) if kind in OF_ONE_BUILD else 0.0)


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
            found.update(name for _, name in _names_in(words, names))
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
    plain = [word.removesuffix("'s") for word in words]
    for start in range(len(plain)):
        for length in range(1, min(_LONGEST_NAME, len(plain) - start) + 1):
            phrase = " ".join(plain[start : start + length])
            if phrase in names:
                yield start, phrase
        joined = "".join(plain[start : start + 2])
        if len(joined) > 5 and joined in names and start + 1 < len(plain):
            yield start, joined


def _without_parts(heard: Counter[str]) -> Counter[str]:
    """A name that is only part of a longer one that is said is not said by itself: "otter 500" is not every otter."""
    longer = [name for name in heard if any(name != other and f" {name} " in f" {other} " for other in heard)]
    return Counter({name: count for name, count in heard.items() if name not in longer})


# --- things ----------------------------------------------------------------------------------------------------------


def thing_clue(thing: Thing, shop: Shop) -> Clue | None:
    """Something said of a part: how much likelier it is said of each build than of any bike in the shop.

    None where no build knows anything like it.
    """
    known = shop.things
    likeness = known.weight * (np.exp(SHARPNESS * _alike(thing, known)) - 1)
    fits = np.bincount(known.build, likeness, len(shop.builds)) / np.maximum(known.weight_of_build, 1e-9)
    anywhere = float(shop.weights @ fits / shop.weights.sum())
    if not anywhere:
        return None
    rows = np.flatnonzero(likeness)
    best_last = rows[np.argsort(likeness[rows], kind="stable")]
    words = dict(zip(known.build[best_last].tolist(), (known.told[row] for row in best_last.tolist()), strict=True))
    return Clue(np.log(1 - OWN_SHARE + OWN_SHARE * fits / anywhere), words)


def _alike(said: Thing, known: KnownThings) -> Vector:
    """The share of what is said that is known, 0 to 1, for each thing known.

    Little where only the finish of another part is the same, nothing where only a task or a side is: much is fitted and
    painted on every bike. Less where another finish of the same sort is known of the part.
    """
    shared = np.zeros(len(known.told))
    same = np.zeros(len(known.told), dtype=bool)
    same_part = np.zeros(len(known.told), dtype=bool)
    for kind, name in said.keys & known.by_key.keys():
        rows = known.by_key[kind, name]
        shared[rows] += WORD_WEIGHTS[kind]
        if kind in ("part", "name", "finish", "word"):
            same[rows] = True
        if kind in ("part", "name"):
            same_part[rows] = True
    # Words that no build knows ("lovely", "tuesday") are no reason to doubt; parts that none knows are one.
    telling = [kind for kind, name in said.keys if kind != "word" or (kind, name) in known.by_key]
    share: Vector = same * shared / max(sum(WORD_WEIGHTS[kind] for kind in telling), 1e-9)
    other_part = known.has_part & ~same_part if said.has_part else np.zeros(len(share), dtype=bool)
    share[other_part] *= OTHER_PART
    if finish := said.finish:
        for row in np.flatnonzero(same & ~other_part).tolist():
            if known.finish[row] and exclude_each_other(finish, known.finish[row]):
                share[row] *= OTHER_FINISH
    return share
