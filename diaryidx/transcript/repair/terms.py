"""Which terms a sentence may be repaired towards, how they sound and how likely they are to be said and misheard.

Only the shop's own words (suppliers, products, people, makes, models, nicknames, its own parts and tasks) and trade
terms of several words or many sounds: short common words need no repair and would only do harm.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from math import log

from diaryidx.transcript.repair.likelihood import rarest
from diaryidx.transcript.repair.pronouncing import Sounds, ways_to_say
from diaryidx.vocabulary.inflections import plain
from diaryidx.vocabulary.loader import Term, Vocabulary
from diaryidx.vocabulary.shop_terms import SPOKEN_TITLES

TITLES = frozenset((*SPOKEN_TITLES, "dr"))
_SHOP_LABELS = frozenset(("SUPPLIER", "PRODUCT", "PERSON", "MAKE", "MODEL", "NICKNAME", "PART", "TASK", "FINISH"))
_TRADE_LABELS = frozenset(("PART",))
KINDS = ("bike", "firm", "person", "trade")
_KIND_OF = {
    "MAKE": "bike",
    "MODEL": "bike",
    "NICKNAME": "bike",
    "SUPPLIER": "firm",
    "PRODUCT": "firm",
    "PERSON": "person",
}
SHORTEST_SHOP, SHORTEST_TRADE = 3, 6  # sounds
# Shares of all words said in a workshop's films that are names of the shop, and long trade terms: common practice, no
# source; a count of the working sentences would flatter, as they are full of names.
SHOP_SHARE, TRADE_SHARE = 0.02, 0.02
# How often a term is misheard, by how rare its rarest word is in everyday English: engines know common words.
BEHIND_TITLE = 3.0  # natural log: behind "mister" stands a name: common practice, no source
COMMON, RARE = log(1e-5), log(1e-8)
MISHEARD_COMMON, MISHEARD_RARE = 0.02, 0.6


@dataclass(frozen=True)
class Target:
    """One way of saying a term.

    ``phrase`` is what is said, ``canonical`` the term's name, ``meant`` what is written. ``prior`` is the log
    likelihood that a stretch of a film is this term and was misheard. ``shop`` tells the shop's own words, ``kind`` is
    one of ``KINDS``; ``after_title`` says that a title stands before it ("mr").
    """

    phrase: str
    canonical: str
    meant: str
    prior: float
    shop: bool
    kind: str
    after_title: bool = False


def targets(vocabulary: Vocabulary) -> list[Target]:
    """Everything that may be repaired towards, each phrase once."""
    shop = list(_phrases(vocabulary, shop=True))
    trade = list(_phrases(vocabulary, shop=False))
    found: dict[tuple[str, bool], Target] = {}
    for group, share, is_shop in ((shop, SHOP_SHARE, True), (trade, TRADE_SHARE, False)):
        each = log(share / max(len({term.canonical for term, _, _ in group}), 20))
        for term, variant, after_title in group:
            phrase = variant.partition(" ")[2] if after_title else variant
            prior = each + log(_misheard(phrase)) + (BEHIND_TITLE if after_title else 0.0)
            kind = _KIND_OF.get(term.label, "trade")
            target = Target(phrase, term.canonical, _written(phrase, term), prior, is_shop, kind, after_title)
            found.setdefault((phrase, after_title), target)
    return list(found.values())


def _phrases(vocabulary: Vocabulary, shop: bool) -> Iterator[tuple[Term, str, bool]]:
    """Term, variant, and whether a title stands before it."""
    labels = _SHOP_LABELS if shop else _TRADE_LABELS
    for term in vocabulary.terms:
        if term.label not in labels or (term.origin != "shipped") != shop:
            continue
        for phrase in term.variants:
            if shop and phrase.endswith("s") and phrase[:-1] in term.variants:
                continue  # more than one of a name is seldom meant, and nearly sounds like one
            if vocabulary.phrases.get(phrase) is not term or not phrase.replace(" ", "").replace("'", "").isalpha():
                continue
            first, _, rest = phrase.partition(" ")
            if term.label == "PERSON" and first in TITLES and rest:
                yield term, phrase, True
            else:
                yield term, phrase, False


def _written(phrase: str, term: Term) -> str:
    """How the phrase is written: names as the shop writes them, word by word where only some of them are said."""
    if plain(term.canonical) == phrase:
        return term.canonical
    if term.origin == "shipped":
        return phrase
    capitals = {plain(word): word for word in term.canonical.split()}
    return " ".join(capitals.get(word, word) for word in phrase.split())


def _misheard(phrase: str) -> float:
    rarity = log(rarest(phrase.split()))
    share = min(max((COMMON - rarity) / (COMMON - RARE), 0.0), 1.0)
    likely: float = MISHEARD_COMMON * (MISHEARD_RARE / MISHEARD_COMMON) ** share
    return likely


def said(found: Iterable[Target], own: Mapping[str, Sounds]) -> Iterator[tuple[int, Sounds]]:
    """The pronunciations of targets long enough to be told apart: place of the target, sounds."""
    for place, target in enumerate(found):
        shortest = SHORTEST_SHOP if target.shop else SHORTEST_TRADE
        for way in ways_to_say(target.phrase, own):
            if len(way) >= shortest:
                yield place, way
