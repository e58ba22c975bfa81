"""Words that were probably misheard and are worth teaching, proposed for a person to decide on.

Words that everyday English hardly knows, or hardly has side by side, where the trade is spoken of: the name of
something that the shop's words lack, or something misheard. Those that keep turning up come first; in a shop of few
films what was heard once is worth a look too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import log

from sqlite_utils import Database

from diaryidx.shop import Shop
from diaryidx.store import reading
from diaryidx.store.reading import SpokenLine
from diaryidx.transcript.everyday import pair_likelihood, word_likelihood
from diaryidx.transcript.numbers.forms import units as units_of_measure
from diaryidx.vocabulary.loader import Vocabulary, everyday_words, load_vocabulary
from diaryidx.vocabulary.spoken_words import heard_key, split_words

#: A word that everyday English has more seldom than this, as a share of all words, is rare, and so are two words side
#: by side that it has more seldom than the second figure (our own choice, as all figures here).
RARE_WORD, RARE_PAIR = 1.5e-6, 3e-10
#: Words that are more common than this are often right as they are.
COMMON_WORD = 5e-5
#: Rare words keep turning up if they are heard in two sentences that are so many seconds or a film apart.
APART_SECONDS = 60.0
MOST_EXAMPLES = 3


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Words that may be misheard: how often and in how many films they are heard, and some sentences.

    ``meant`` is what they sound like, with the certainty of that; None where nothing known does, or nobody has looked.
    """

    heard: str
    meant: str | None
    certainty: float | None
    count: int
    films: int
    examples: tuple[SpokenLine, ...]


def suggest(shop: Shop, db: Database, limit: int = 20) -> list[Suggestion]:
    """The words most worth teaching, the likeliest first; nothing that was ever taught.

    :param limit: how many at most.
    """
    builds = reading.builds(db.conn)
    taught = reading.taught_words(db.conn)
    vocabulary = load_vocabulary(shop.words, builds, shop.settings.currency, taught)
    decided = {heard_key(one.heard) for one in reading.taught(db.conn)} | vocabulary.heard.keys()
    rare, words_in_all = _look_over(reading.spoken_lines(db.conn), vocabulary)
    found = [(_keeps_turning_up(one), _suggestion(heard, one)) for heard, one in rare.items() if heard not in decided]
    oftenest = sorted(found, key=lambda one: (not one[0], -_often(one[1], words_in_all)))
    return _each_once([one for _, one in oftenest[: 10 * limit]])[:limit]


# --- rare words ------------------------------------------------------------------------------------------------------


def _look_over(lines: Iterable[SpokenLine], vocabulary: Vocabulary) -> tuple[dict[str, list[SpokenLine]], int]:
    """The rare words and pairs that are heard beside trade words, and how many words there are in all."""
    units = (said for unit in units_of_measure().values() for said in unit["say"])
    phrases = (*vocabulary.phrases, *units)
    known = everyday_words() | {word for phrase in phrases for word in phrase.split()}
    found: dict[str, list[SpokenLine]] = {}
    words_in_all = 0
    for line in lines:
        words = [word.word for word in split_words(line.text)]
        words_in_all += len(words)
        for heard in dict.fromkeys(_rare_in(words, known)) if line.near_trade else ():
            found.setdefault(heard, []).append(line)
    return found, words_in_all


def _rare_in(words: Sequence[str], known: frozenset[str]) -> Iterator[str]:
    for place, word in enumerate(words):
        if not _may_be_misheard(word, known):
            continue
        if word_likelihood(word) < RARE_WORD:
            yield word
        behind = words[place + 1] if place + 1 < len(words) else ""
        common = max(word_likelihood(word), word_likelihood(behind)) >= COMMON_WORD
        if _may_be_misheard(behind, known) and not common and pair_likelihood(word, behind) < RARE_PAIR:
            yield f"{word} {behind}"


def _may_be_misheard(word: str, known: frozenset[str]) -> bool:
    return len(word) > 2 and word.isalpha() and word not in known


def _keeps_turning_up(lines: Sequence[SpokenLine]) -> bool:
    starts = [line.start for line in lines]
    return len({line.recording for line in lines}) > 1 or max(starts) - min(starts) >= APART_SECONDS


def _suggestion(heard: str, lines: Sequence[SpokenLine]) -> Suggestion:
    films: Mapping[str, SpokenLine] = {line.recording: line for line in reversed(lines)}
    examples = [*films.values(), *(line for line in lines if line not in films.values())][:MOST_EXAMPLES]
    return Suggestion(heard, None, None, len(lines), len(films), tuple(examples))


def _often(one: Suggestion, words_in_all: int) -> float:
    """How much oftener rare words turn up than in everyday English: the log-likelihood ratio (T. Dunning, "Accurate
    Methods for the Statistics of Surprise and Coincidence", Computational Linguistics 19(1), 1993; its main term)."""
    first, _, behind = one.heard.partition(" ")
    everyday = pair_likelihood(first, behind) if behind else word_likelihood(first)
    return one.count * log(one.count / (words_in_all * everyday))


def _each_once(found: Sequence[Suggestion]) -> list[Suggestion]:
    """Without words that are part of a better suggestion and turn up hardly more often."""
    kept: list[Suggestion] = []
    for one in found:
        if not any(_part_of_other(one, other) for other in kept):
            kept.append(one)
    return kept


def _part_of_other(one: Suggestion, other: Suggestion) -> bool:
    inside = f" {one.heard} " in f" {other.heard} " or f" {other.heard} " in f" {one.heard} "
    return inside and one.count < 2 * other.count
