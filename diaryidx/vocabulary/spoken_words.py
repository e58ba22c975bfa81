"""One way of cutting text into words, used for terms, cues, questions and films alike, so that they always agree.

Contractions come apart ("we've" is "we", "'ve"; "haven't" is "have", "n't"; "tank's" is "tank", "'s"), numbers and
units come apart ("10mm" is "10", "mm"), hyphens between letters vanish ("clip-ons" is "clip", "ons"), punctuation marks
are words of their own. Linear in the length of the text, whatever the text is.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

_APOSTROPHES = str.maketrans({"’": "'", "‘": "'", "ʼ": "'", "`": "'", "´": "'"})
_JOINING_HYPHEN = re.compile(r"(?<=\w)[-\u2010-\u2013](?=\w)")
_PIECE = re.compile(
    r"""n't(?!\w)|'(?:s|ve|re|ll|d|m)(?!\w)      # the second half of a contraction
      |\d+(?:[.,:]\d+)*                          # a number, with decimals, thousands or a clock time
      |[^\W\d_]+                                 # letters
      |[^\w\s]|_                                 # a mark""",
    re.VERBOSE,
)
#: A pattern of what engines set between the words of a phrase: white space, commas, hyphens, the point of "St. Just".
BETWEEN_WORDS = r"\.?[\s,;:…‐-―-]+"
_AT_ENDS = ' .,;:!?…"“”()[]‐‑–—-'
LONGEST_WORD = 60  # letters; a longer run is no word of any language here and is cut
_PLAIN_WORDS = re.compile(rf"[a-z]{{1,{LONGEST_WORD}}}(?: [a-z]{{1,{LONGEST_WORD}}})*")


class SpokenWord(NamedTuple):
    """A lower-case word with its place: ``start`` and ``end`` are characters of the original text."""

    word: str
    start: int
    end: int


def split_words(text: str) -> list[SpokenWord]:
    """Cut a text into lower-case words with their places in it."""
    return list(_split(text))


@lru_cache(maxsize=4_000)  # several steps look at the same sentences, one after the other
def _split(text: str) -> tuple[SpokenWord, ...]:
    text = _same_length_lower(text.translate(_APOSTROPHES))
    text = _JOINING_HYPHEN.sub(" ", text)
    found: list[SpokenWord] = []
    for match in _PIECE.finditer(text):
        start, end, word = match.start(), match.end(), match.group()
        if word.endswith("n") and text[end : end + 2] == "'t" and not text[end + 2 : end + 3].isalnum():
            if len(word) > 1:
                found.append(SpokenWord(word[:-1], start, end - 1))
            found.append(SpokenWord("n't", end - 1, end + 2))
        elif word == "'" and text[start + 1 : start + 2] == "t" and found and found[-1].end == end + 1:
            continue  # the mark of an "n't" that is already there
        elif word == "t" and found and found[-1].word == "n't" and found[-1].end == end:
            continue
        elif len(word) > LONGEST_WORD:
            found += [
                SpokenWord(word[cut : cut + LONGEST_WORD], start + cut, min(start + cut + LONGEST_WORD, end))
                for cut in range(0, len(word), LONGEST_WORD)
            ]
        else:
            found.append(SpokenWord(word, start, end))
    return tuple(found)


def spoken_key(phrase: str) -> str:
    """A phrase as it is looked up: its words with single spaces."""
    if _PLAIN_WORDS.fullmatch(phrase):
        return phrase  # most are; tens of thousands are looked at when the vocabulary is loaded
    return " ".join(word for word, _, _ in split_words(phrase))


def heard_key(phrase: str) -> str:
    """A misheard phrase as corrections look it up: lower case, one kind of apostrophe, no marks, single spaces."""
    words = re.split(BETWEEN_WORDS, phrase.translate(_APOSTROPHES).lower().strip(_AT_ENDS))
    return " ".join(word for word in words if word)


def _same_length_lower(text: str) -> str:
    """Lower-case with every character still at its place (a few capitals grow when lowered; those stay)."""
    lowered = text.lower()
    if len(lowered) == len(text):
        return lowered
    return "".join(low if len(low := char.lower()) == 1 else char for char in text)
