"""What is said in a stretch of film: its words, its names, and the things spoken of, sentence by sentence."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from diaryidx.builds.known import Thing, add_statement, other_words
from diaryidx.builds.phrases import find_phrases
from diaryidx.builds.spoken import tokens
from diaryidx.records import Mention, Sentence, Statement
from diaryidx.vocabulary.spoken_words import split_words

#: So many words after "the same as" and the like name another bike than the one that is shown.
HELD_AGAINST_WORDS = 6
_NAMES = ("MAKE", "MODEL", "NICKNAME", "JOB", "PERSON")
_KINDS = {"PART": "part", "FINISH": "finish", "TASK": "task", "PRODUCT": "name", "SIDE": "side"}


@dataclass(frozen=True, slots=True)
class Said:
    """What is said: words as heard and as repaired, mentions, and the things spoken of by the name of their part."""

    words: tuple[tuple[str, ...], ...]
    mentions: tuple[Mention, ...]
    things: dict[str, Thing]


def said_by_sentence(
    sentences: Sequence[Sentence], mentions: Iterable[Mention], statements: Iterable[Statement]
) -> list[Said]:
    """Gather what each sentence says. Usual practice and advice say nothing of the bike that stands there."""
    found: dict[int, list[Mention]] = defaultdict(list)
    facts: dict[int, list[Statement]] = defaultdict(list)
    for mention in mentions:
        found[mention.sentence].append(mention)
    for fact in statements:
        facts[fact.sentence].append(fact)
    return [_said(sentence, found[place], facts[place]) for place, sentence in enumerate(sentences)]


def together(said: Sequence[Said]) -> Said:
    """What several sentences say as one: what is said of one part in several is one thing."""
    things: dict[str, Thing] = {}
    for one in said:
        for name, thing in one.things.items():
            things.setdefault(name, Thing(thing.told, thing.weight)).keys.update(thing.keys)
    words = tuple(dict.fromkeys(words for one in said for words in one.words))
    return Said(words, tuple(mention for one in said for mention in one.mentions), things)


def _said(sentence: Sentence, mentions: Sequence[Mention], facts: Sequence[Statement]) -> Said:
    things: dict[str, Thing] = {}
    for fact in facts:
        if fact.status != "usual practice":
            add_statement(things, fact, fact.text, 1.0, other_words(sentence.text))
    if not facts:
        _add_mentions(things, sentence, mentions)
    suppliers = [one.text for one in mentions if one.label == "SUPPLIER"]
    start, end = _held_against(sentence.text)
    own = tuple(one for one in mentions if one.label not in _NAMES or not start <= one.start < end)
    words = tuple(dict.fromkeys(_own_words(text, suppliers) for text in (sentence.text, sentence.heard)))
    return Said(words, own, things)


def _own_words(text: str, suppliers: Iterable[str]) -> tuple[str, ...]:
    """The words of a text, without those that name suppliers or a bike which this one is held against."""
    start, end = _held_against(text)
    text = f"{text[:start]} {text[end:]}"
    for supplier in suppliers:  # some have the name of a make
        text = text.replace(supplier, " ")
    return tuple(tokens(text))


def _held_against(text: str) -> tuple[int, int]:
    """Where a text names a bike which this one is held against, as characters; its end twice where it does not."""
    words = split_words(text)
    for _, after in find_phrases("held_against", [word.word for word in words]):
        if after < len(words):
            return words[after].start, words[min(after + HELD_AGAINST_WORDS, len(words)) - 1].end
    return len(text), len(text)


def _add_mentions(things: dict[str, Thing], sentence: Sentence, mentions: Sequence[Mention]) -> None:
    """Add what is mentioned in a sentence of which no statement was made: one thing a part, all else to each."""
    keys = [(_KINDS[mention.label], mention.canonical.lower()) for mention in mentions if mention.label in _KINDS]
    parts = [key for key in keys if key[0] in ("part", "name")] or [("word", sentence.text)]
    rest = {key for key in keys if key[0] not in ("part", "name")} | {("word", w) for w in other_words(sentence.text)}
    if keys:
        for part in dict.fromkeys(parts):
            things.setdefault(part[1], Thing(sentence.text)).keys.update({part} | rest)
