"""The part of a passage that answers: where it begins, and a few whole sentences of it that can be read."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import lru_cache

from diaryidx.faq.archive import Line
from diaryidx.faq.asking import Asked
from diaryidx.faq.meanings import BETWEEN, all_stems, everyday, phrases, ways_of_asking
from diaryidx.records import Entry
from diaryidx.vocabulary.loader import Vocabulary
from diaryidx.vocabulary.spoken_words import split_words

#: How many sentences are quoted, and how many words together unless the first alone has more (common practice, no
#: source: what fits a reply without scrolling).
MOST_SENTENCES, MOST_WORDS = 3, 60
#: A quotation with fewer words than this takes the next sentence along.
_FEWEST_WORDS = 12
Said = tuple[Line, str]


def readable(sentences: Sequence[str]) -> str:
    """Sentences as people write them: a capital at the start, a mark at the end, "I" for "i"; no word is changed."""
    written = (re.sub(r"\bi\b", "I", " ".join(one.split())) for one in sentences)
    return " ".join(_with_mark(one[:1].upper() + one[1:]) for one in written if one)


def _with_mark(text: str) -> str:
    return text if text[-1] in ".?!…" else f"{text}."


def answer_of(entry: Entry, lines: Sequence[Line]) -> list[Said]:
    """The sentences of an entry's answer. The first may be the end of one in which the question was told too."""
    rest = entry.answer.strip()
    found: list[Said] = []
    for line in lines:
        text = line.text.strip()
        if not rest:
            break
        if rest.startswith(text):
            found.append((line, text))
        elif not found and (shared := _end_that_begins(text, rest)):
            found.append((line, shared))
        else:
            continue
        rest = rest[len(found[-1][1]) :].strip()
    return found or [(line, line.text) for line in lines]


def _end_that_begins(text: str, answer: str) -> str:
    """The end of a sentence with which an answer begins, in whole words."""
    for match in re.finditer(r"(?<!\S)\S", text):
        if match.start() and answer.startswith(text[match.start() :]):
            return text[match.start() :]
    return ""


def quoted(said: Sequence[Said]) -> list[Said]:
    """The first sentences, as many as are quoted."""
    kept = list(said[:1])
    for one in said[1:MOST_SENTENCES]:
        words = sum(len(text.split()) for _, text in kept)
        if words + len(one[1].split()) > MOST_WORDS:
            break
        kept.append(one)
    return kept


def best_place(said: Sequence[Said], asked: Asked, worth: Callable[[str], float]) -> int:
    """Where in an answer the part begins that answers best.

    :param worth: how much of what is asked some words say, from 0 to 1.
    :returns: the place in ``said`` where most of what is asked is said; the beginning unless another is clearly better.
    """
    best, best_worth = 0, -1.0
    for place in range(len(said)):
        text = BETWEEN.join(text for _, text in said[place : place + 2])
        found = worth(text) + 0.3 * worth(said[place][1]) + 0.15 * says_kind(asked, text)
        if found > best_worth + (0.1 if best == 0 else 0.0):
            best, best_worth = place, found
    return best


def first_instruction(said: Sequence[Said], vocabulary: Vocabulary) -> int:
    """The first sentence that says what to do; 0 where none does."""
    instructions = [place for place, (_, text) in enumerate(said) if instructs(text, vocabulary)]
    work = (place for place in instructions if not warns(said[place][1]))
    return next(work, instructions[0] if instructions else 0)


def warns(text: str) -> bool:
    """Whether a sentence sends people to the manual or to somebody who knows, instead of saying what to do."""
    return phrases("not_the_work").within(all_stems(split_words(text)))


def instructs(text: str, vocabulary: Vocabulary) -> bool:
    """Whether a sentence begins with an instruction, behind words such as "now" and "then you"."""
    words = split_words(text)
    stems = all_stems(words)
    place = 0
    while length := phrases("before_instruction").begins(stems[place:]):
        place += length
    if place >= len(words):
        return False
    return bool(phrases("instructions").begins(stems[place:])) or any(
        vocabulary.forms.get(" ".join(word.word for word in words[place : place + length])) in ("base", "both")
        for length in (1, 2)
    )


def says_kind(asked: Asked, text: str) -> bool:
    """Whether words say what the question's way of asking wants: a number for "how much", a reason for "why"."""
    return any(not _kinds_said(part).isdisjoint(asked.kinds) for part in text.split(BETWEEN))


@lru_cache(maxsize=10_000)
def _kinds_said(sentence: str) -> frozenset[str]:
    return frozenset(name for _, _, name in ways_of_asking("says").find(all_stems(split_words(sentence))))


def wants_kind(asked: Asked) -> bool:
    """Whether the question's way of asking wants something that can be told by its words."""
    return any(everyday()["asks"][kind].get("says") for kind in asked.kinds)


def tells_a_question(text: str) -> bool:
    """Whether a sentence tells somebody's question: it is announced, or it begins as a question does."""
    stems = all_stems(split_words(text))
    return phrases("told_question").within(stems) or ways_of_asking("asked").begins(stems) > 1
