"""What was heard of a film, made ready for repair: words, their sounds, and what is already understood of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

import numpy as np
from numpy.typing import NDArray

from diaryidx.records import Sentence
from diaryidx.transcript.repair.likelihood import word_likelihood
from diaryidx.transcript.repair.pronouncing import Sounds, phonemes, ways_to_say_word
from diaryidx.vocabulary.loader import Vocabulary, find_terms

MARKS = "\"'“”‘’.,;:!?…()[]-–—"
SENTENCE_MARKS = (".", "!", "?", "…", ";", ":")
_NUMBER = {sound: place for place, sound in enumerate(phonemes())}


@dataclass(frozen=True, slots=True)
class Token:
    """A heard word: as written, in lower case without marks, its sounds (none: not to be repaired), its certainty."""

    written: str
    word: str
    sounds: tuple[int, ...]
    certainty: float | None


@dataclass(frozen=True)
class Heard:
    """One sentence, made ready once for all that looks at it.

    Per token: whether no repair may hold it (``closed``), whether it is a word of the trade, how rare it is in everyday
    English (negative natural log likelihood), and where its sounds begin and end in ``sounds``, the sentence's
    phoneme numbers.
    """

    tokens: tuple[Token, ...]
    closed: NDArray[np.bool_]
    trade: NDArray[np.bool_]
    rarity: NDArray[np.float64]
    sounds: NDArray[np.uint8]
    begins: NDArray[np.intp]
    ends: NDArray[np.intp]


def listen(vocabulary: Vocabulary, own: dict[str, Sounds], sentence: Sentence) -> Heard:
    """Make a sentence ready.

    Arguments:
        vocabulary: the shop's.
        own: the shop's own pronunciations.
        sentence: as the engine gave it, exact corrections applied.
    """
    tokens = _tokens(own, sentence)
    text, starts = "", []
    for token in tokens:
        starts.append(len(text))
        text += token.word + " "
    closed = np.array([not token.sounds for token in tokens], bool)
    trade = np.zeros(len(tokens), bool)
    found = find_terms(vocabulary, text) if tokens else []
    for start, end, term in found:
        held = [place for place, at in enumerate(starts) if at < end and at + len(tokens[place].word) > start]
        trade[held] = True
        if len(held) > 1 or term.origin != "shipped":
            closed[held] = True
    for start, end in _heard_right(vocabulary, tokens):
        closed[start:end] = True
    lengths = np.array([len(token.sounds) for token in tokens], np.intp)
    ends = np.cumsum(lengths)
    return Heard(
        tokens=tuple(tokens),
        closed=closed,
        trade=trade,
        rarity=np.array([-np.log(word_likelihood(token.word)) for token in tokens], np.float64),
        sounds=np.array([sound for token in tokens for sound in token.sounds], np.uint8),
        begins=ends - lengths,
        ends=ends,
    )


def _heard_right(vocabulary: Vocabulary, tokens: Sequence[Token]) -> Iterator[tuple[int, int]]:
    """Stretches of which a person said that they were heard right."""
    pinned = [heard.split() for heard, meant in vocabulary.heard.items() if heard == meant]
    words = [token.word.replace("-", " ") for token in tokens]
    for phrase in pinned:
        for start in range(len(words) - len(phrase) + 1):
            if words[start : start + len(phrase)] == phrase:
                yield start, start + len(phrase)


def _tokens(own: dict[str, Sounds], sentence: Sentence) -> list[Token]:
    """The words of the sentence's text. What is not as it was heard was corrected, and stays."""
    written = sentence.text.split()
    heard = [piece for word in sentence.words for piece in word.word.split()]
    certainties: list[float | None] = [word.certainty for word in sentence.words for _ in word.word.split()]
    if not heard:
        heard = sentence.heard.split()
        certainties = [None] * len(heard)
    if written == heard:
        return [_token(own, word, certainty) for word, certainty in zip(written, certainties, strict=True)]
    tokens: list[Token] = []
    for kind, first, last, start, end in SequenceMatcher(None, heard, written, autojunk=False).get_opcodes():
        if kind == "equal":
            pairs = zip(written[start:end], certainties[first:last], strict=True)
            tokens += [_token(own, word, certainty) for word, certainty in pairs]
        else:
            tokens += [Token(word, word.lower().strip(MARKS), (), None) for word in written[start:end]]
    return tokens


def _token(own: dict[str, Sounds], written: str, certainty: float | None) -> Token:
    word = written.lower().replace("’", "'").strip(MARKS)
    if not word or not word.replace("'", "").replace("-", "").isalpha():
        return Token(written, word, (), certainty)
    if word in own:
        sounds: Sounds = own[word]
    else:
        sounds = tuple(sound for part in word.split("-") for way in ways_to_say_word(part)[:1] for sound in way)
    return Token(written, word, tuple(_NUMBER[sound] for sound in sounds), certainty)


def ends_sentence(token: Token) -> bool:
    """Whether a sentence ends behind this token, by its marks."""
    return token.written.endswith(SENTENCE_MARKS)


# --- what a film is about --------------------------------------------------------------------------------------------

WINDOW = 10  # sentences before and after that tell whether this is talk of the workshop
SURE_OF_TALK = 6.0  # natural log odds that the talk around may give for its being of the workshop
TRADE_IN_WORKSHOP, TRADE_ELSEWHERE = 0.16, 0.03  # shares of words; of the working half's sentences and general talk


def workshop_odds(film: Sequence[Heard]) -> NDArray[np.float64]:
    """How much the talk around each sentence sounds like a workshop's.

    Returns: per sentence, the natural log odds that the words in it and around it are those of workshop talk and not of
        other talk (each word taken as drawn with one of two chances of being a word of the trade).
    """
    gain = np.log(TRADE_IN_WORKSHOP / TRADE_ELSEWHERE)
    loss = np.log((1 - TRADE_IN_WORKSHOP) / (1 - TRADE_ELSEWHERE))
    own = np.array([gain * one.trade.sum() + loss * (~one.trade).sum() for one in film])
    running = np.concatenate([[0.0], np.cumsum(own)])
    places = np.arange(len(film))
    odds: NDArray[np.float64] = (
        running[np.minimum(places + WINDOW + 1, len(film))] - running[np.maximum(places - WINDOW, 0)]
    )
    return odds
