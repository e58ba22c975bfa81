"""Words that were probably misheard and are worth teaching, proposed for a person to decide on.

Two signs, the stronger first. A stretch that sounds like a term of the trade or the shop, but not so clearly that it
was put right by itself. And words that everyday English hardly knows, or hardly has side by side, where the trade is
spoken of: the name of something that the shop's words lack, or something misheard. Those that keep turning up come
first; in a shop of few films what was heard once is worth a look too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from heapq import heappush, heappushpop
from math import exp, log

from sqlite_utils import Database

from diaryidx.shop import Shop
from diaryidx.store import reading
from diaryidx.store.reading import SpokenLine
from diaryidx.transcript.numbers.forms import units as units_of_measure
from diaryidx.transcript.repair import Repairer, build_repairer, repair
from diaryidx.transcript.repair.heard import WINDOW
from diaryidx.transcript.repair.likelihood import log_likelihood, word_likelihood
from diaryidx.vocabulary.loader import Vocabulary, everyday_words, load_vocabulary
from diaryidx.vocabulary.spoken_words import heard_key, split_words

#: A word that everyday English has more seldom than this, as a share of all words, is rare, and so are two words side
#: by side that it has more seldom than the second figure (our own choice, as all figures here).
RARE_WORD, RARE_PAIR = 1.5e-6, 3e-10
#: Words that are more common than this are often right as they are.
COMMON_WORD = 5e-5
#: Rare words keep turning up if they are heard in two sentences that are so many seconds or a film apart.
APART_SECONDS = 60.0
#: So many sentences, the oddest ones, are listened through for terms that sound alike; each takes some milliseconds.
MOST_LISTENED = 1000
#: How far below the odds at which a stretch is put right by itself it is still proposed, in natural logarithms; rare
#: words that keep turning up must be so likely to be meant for something else.
LEAST_GAIN, LEAST_CERTAINTY_OF_NAME = -3.0, 0.15
MOST_EXAMPLES = 3


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Words that may be misheard: how often and in how many films they are heard, and some sentences.

    ``meant`` is what they sound like, with the certainty of that; None where nothing known does.
    """

    heard: str
    meant: str | None
    certainty: float | None
    count: int
    films: int
    examples: tuple[SpokenLine, ...]


@dataclass(slots=True)
class _Alike:
    """The lines in which words are heard that sound like a term, and how likely each meaning is."""

    lines: dict[int, SpokenLine] = field(default_factory=dict)
    certainties: dict[str, float] = field(default_factory=dict)


def suggest(shop: Shop, db: Database, limit: int = 20) -> list[Suggestion]:
    """The words most worth teaching, the likeliest first; nothing that was ever taught.

    :param limit: how many at most that sound like a term, and how many rare words.
    """
    builds = reading.builds(db.conn)
    taught = reading.taught_words(db.conn)
    vocabulary = load_vocabulary(shop.words, builds, shop.settings.currency, taught)
    decided = {heard_key(one.heard) for one in reading.taught(db.conn)} | vocabulary.heard.keys()
    rare, oddest, words_in_all = _look_over(reading.spoken_lines(db.conn), vocabulary)
    alike = {
        heard: one
        for heard, one in _sounding_alike(db, oddest, build_repairer(vocabulary)).items()
        if heard not in decided and not _is_a_name(one, rare.get(heard, []))
    }
    likeliest = sorted((_with_meaning(heard, one) for heard, one in alike.items()), key=lambda one: -_likely(one, rare))
    found = [
        (_keeps_turning_up(lines), _suggestion(heard, lines))
        for heard, lines in rare.items()
        if heard not in decided | alike.keys()
    ]
    oftenest = sorted(found, key=lambda one: (not one[0], -_often(one[1], words_in_all)))
    return [
        *_each_once(likeliest[: 10 * limit])[:limit],
        *_each_once([one for _, one in oftenest[: 10 * limit]])[:limit],
    ]


# --- rare words ------------------------------------------------------------------------------------------------------


def _look_over(
    lines: Iterable[SpokenLine], vocabulary: Vocabulary
) -> tuple[dict[str, list[SpokenLine]], list[SpokenLine], int]:
    """The rare words and pairs heard beside trade words, the oddest sentences, and how many words there are."""
    units = (said for unit in units_of_measure().values() for said in unit["say"])
    phrases = (*vocabulary.phrases, *units)
    known = everyday_words() | {word for phrase in phrases for word in phrase.split()}
    found: dict[str, list[SpokenLine]] = {}
    odd: list[tuple[float, int, SpokenLine]] = []  # a heap, the least odd on top
    words_in_all = 0
    for line in lines:
        words = [word.word for word in split_words(line.text)]
        words_in_all += len(words)
        push = heappush if len(odd) < MOST_LISTENED else heappushpop
        push(odd, (_oddness(words, known), line.id, line))
        for heard in dict.fromkeys(_rare_in(words, known)) if line.near_trade else ():
            found.setdefault(heard, []).append(line)
    return found, [line for _, _, line in odd], words_in_all


def _rare_in(words: Sequence[str], known: frozenset[str]) -> Iterator[str]:
    for place, word in enumerate(words):
        if not _may_be_misheard(word, known):
            continue
        if word_likelihood(word) < RARE_WORD:
            yield word
        behind = words[place + 1] if place + 1 < len(words) else ""
        common = max(word_likelihood(word), word_likelihood(behind)) >= COMMON_WORD
        if _may_be_misheard(behind, known) and not common and _pair_likelihood(word, behind) < RARE_PAIR:
            yield f"{word} {behind}"


def _may_be_misheard(word: str, known: frozenset[str]) -> bool:
    return len(word) > 2 and word.isalpha() and word not in known


def _oddness(words: Sequence[str], known: frozenset[str]) -> float:
    """How unlikely the unlikeliest word of a sentence is where it stands, as a negative natural logarithm; trade words
    are not odd in a workshop."""
    pairs = zip([None, *words], words, strict=False)
    return max((-log_likelihood(word, before) for before, word in pairs if _may_be_misheard(word, known)), default=0.0)


def _pair_likelihood(word: str, behind: str) -> float:
    return word_likelihood(word) * exp(log_likelihood(behind, word))


def _keeps_turning_up(lines: Sequence[SpokenLine]) -> bool:
    starts = [line.start for line in lines]
    return len({line.recording for line in lines}) > 1 or max(starts) - min(starts) >= APART_SECONDS


# --- what sounds like a term -----------------------------------------------------------------------------------------


def _sounding_alike(db: Database, lines: Sequence[SpokenLine], repairer: Repairer) -> dict[str, _Alike]:
    """Stretches that sound like a term without being put right, by what was heard."""
    eager = replace(repairer, threshold=repairer.threshold + LEAST_GAIN)
    found: dict[str, _Alike] = {}
    by_film: dict[str, dict[int, SpokenLine]] = {}
    for line in lines:
        by_film.setdefault(line.recording, {})[line.place] = line
    for recording_id, wanted in by_film.items():
        near = reading.sentences_near(db.conn, recording_id, wanted, WINDOW)
        places = [at for at, (place, _) in enumerate(near) if place in wanted]
        repaired = repair(eager, [sentence for _, sentence in near], places)
        for at in places:
            place, before = near[at]
            for one in repaired[at].repairs[len(before.repairs) :]:
                if _can_be_taught(heard_key(one.heard).split(), one.meant):
                    gathered = found.setdefault(heard_key(one.heard), _Alike())
                    gathered.lines[wanted[place].id] = wanted[place]
                    gathered.certainties[one.meant] = max(one.certainty, gathered.certainties.get(one.meant, 0.0))
    return found


def _can_be_taught(heard: Sequence[str], meant: str) -> bool:
    """Whether words say less than what they may mean, and are not so common that they must often be right."""
    return not set(heard_key(meant).split()) <= set(heard) and min(map(word_likelihood, heard)) < COMMON_WORD


def _is_a_name(one: _Alike, rare: Sequence[SpokenLine]) -> bool:
    """Whether rare words keep turning up that hardly sound like any term: rather a name that the shop's words lack."""
    return bool(rare) and _keeps_turning_up(rare) and max(one.certainties.values()) < LEAST_CERTAINTY_OF_NAME


def _with_meaning(heard: str, one: _Alike) -> Suggestion:
    meant, certainty = max(one.certainties.items(), key=lambda pair: pair[1])
    return _suggestion(heard, list(one.lines.values()), meant, certainty)


def _likely(one: Suggestion, rare: Mapping[str, object]) -> float:
    """Sounding alike counts most; of rare words also how often they turn up: everyday ones that do are rather right."""
    certainty = min(max(one.certainty or 0.0, 0.001), 0.999)
    return log(certainty / (1 - certainty)) + (2 * log(one.count) if one.heard in rare else 0.0)


# --- what is proposed ------------------------------------------------------------------------------------------------


def _suggestion(
    heard: str, lines: Sequence[SpokenLine], meant: str | None = None, certainty: float | None = None
) -> Suggestion:
    films: Mapping[str, SpokenLine] = {line.recording: line for line in reversed(lines)}
    examples = [*films.values(), *(line for line in lines if line not in films.values())][:MOST_EXAMPLES]
    return Suggestion(heard, meant, certainty, len(lines), len(films), tuple(examples))


def _often(one: Suggestion, words_in_all: int) -> float:
    """How much oftener rare words turn up than in everyday English: the log-likelihood ratio (T. Dunning, "Accurate
    Methods for the Statistics of Surprise and Coincidence", Computational Linguistics 19(1), 1993; its main term)."""
    first, _, behind = one.heard.partition(" ")
    everyday = _pair_likelihood(first, behind) if behind else word_likelihood(first)
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
