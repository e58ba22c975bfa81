"""What is said in a stretch of film: its words, its names, and the terms of the trade, sentence by sentence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import pairwise

from diaryidx.builds.phrases import find_phrases
from diaryidx.builds.sounds import sound
from diaryidx.builds.spoken import tokens
from diaryidx.builds.wishes import shipped_vocabulary, stem, terms_in
from diaryidx.builds.word_lists import word_set
from diaryidx.records import Mention, Sentence, Statement, Status
from diaryidx.vocabulary.loader import Vocabulary, everyday_words, shipped_terms
from diaryidx.vocabulary.spoken_words import split_words

Key = tuple[str, str]

#: So many words after "the same as" and the like name another bike than the one that is shown.
HELD_AGAINST_WORDS = 6
#: Shorter codes of sounds are shared by too many words to tell anything.
SHORTEST_SOUND = 3
_NAMES = ("MAKE", "MODEL", "NICKNAME", "JOB", "PERSON")
_KINDS = {"PART": "part", "FINISH": "finish", "TASK": "task", "PRODUCT": "name", "SIDE": "side", "SUPPLIER": "supplier"}


@dataclass(frozen=True, slots=True)
class Said:
    """What a sentence says.

    ``words`` are its words as heard and as repaired; ``keys`` terms, stems of words, and words to be known by their
    sound, each with its kind; ``status`` what is stated first, if anything is; ``plain`` the words as `split_words`
    cuts them.
    """

    words: tuple[tuple[str, ...], ...]
    mentions: tuple[Mention, ...]
    keys: frozenset[Key]
    plain: tuple[str, ...]
    status: Status | None = None

    @property
    def speaks_of_a_part(self) -> bool:
        """Whether it names a part, a product or a finish."""
        return any(kind in ("part", "name", "finish") for kind, _ in self.keys)


def said_by_sentence(
    sentences: Sequence[Sentence],
    mentions: Iterable[Mention],
    statements: Iterable[Statement],
    vocabulary: Vocabulary | None = None,
) -> list[Said]:
    """Gather what each sentence says. Usual practice and advice say nothing of the bike that stands there."""
    found: dict[int, list[Mention]] = defaultdict(list)
    facts: dict[int, list[Statement]] = defaultdict(list)
    for mention in mentions:
        found[mention.sentence].append(mention)
    for fact in statements:
        facts[fact.sentence].append(fact)
    words = vocabulary or shipped_vocabulary()
    return [_said(sentence, found[place], facts[place], words) for place, sentence in enumerate(sentences)]


def _said(sentence: Sentence, mentions: Sequence[Mention], facts: Sequence[Statement], vocabulary: Vocabulary) -> Said:
    suppliers = [one.text for one in mentions if one.label == "SUPPLIER"]
    start, end = _held_against(sentence.text)
    own = tuple(one for one in mentions if one.label not in _NAMES or not start <= one.start < end)
    words = tuple(dict.fromkeys(_own_words(text, suppliers) for text in dict.fromkeys((sentence.text, sentence.heard))))
    plain = tuple(word.word for word in split_words(sentence.text))
    habit = bool(facts) and all(fact.status == "usual practice" for fact in facts)
    keys = frozenset() if habit else frozenset(_keys(sentence.text, mentions, vocabulary)) | word_keys(plain)
    return Said(words, own, keys, plain, facts[0].status if facts else None)


def _keys(text: str, mentions: Sequence[Mention], vocabulary: Vocabulary) -> Iterable[Key]:
    """The terms of a sentence: those that the language step has found, and those of which a longer name is made."""
    for mention in mentions:
        if mention.label in _KINDS:
            yield _KINDS[mention.label], mention.canonical.lower()
    for term in terms_in(text, vocabulary):
        if term.label in _KINDS:
            yield _KINDS[term.label], term.canonical.lower()


def word_keys(words: Sequence[str]) -> frozenset[Key]:
    """The stems of all words that carry meaning; those that may be misheard, and neighbours together, as sounds."""
    told = [word for word in words if word.isalpha() and len(word) > 1]
    keys = {("word", stem(word)) for word in told if word not in word_set("empty") and len(word) > 2}
    heard = {stem(word) for word in told if word not in common_words()}
    heard |= {stem(one + two) for one, two in pairwise(told)}
    return frozenset(keys | {("sound", word) for word in heard if len(sound(word)) >= SHORTEST_SOUND})


@cache
def common_words() -> frozenset[str]:
    """Everyday words and those of the trade, which are seldom another word misheard."""
    return everyday_words() | {word for term in shipped_terms() for word in term.variants if " " not in word}


def _own_words(text: str, suppliers: Iterable[str]) -> tuple[str, ...]:
    """The words of a text, without those that name suppliers or a bike which this one is held against."""
    start, end = _held_against(text)
    text = f"{text[:start]} {text[end:]}"
    for supplier in suppliers:  # some have the name of a make
        text = text.replace(supplier, " ")
    return tuple(tokens(text))


@lru_cache(maxsize=4_000)
def _held_against(text: str) -> tuple[int, int]:
    """Where a text names a bike which this one is held against, as characters; its end twice where it does not."""
    words = split_words(text)
    for _, after in find_phrases("held_against", [word.word for word in words]):
        if after < len(words):
            return words[after].start, words[min(after + HELD_AGAINST_WORDS, len(words)) - 1].end
    return len(text), len(text)
