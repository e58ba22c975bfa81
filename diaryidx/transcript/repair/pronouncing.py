"""How words sound, as phonemes of the CMU Pronouncing Dictionary (ARPABET without stress).

Known words come from the dictionary itself (``cmudict.txt.gz``; Carnegie Mellon University, licence in
``cmudict.LICENSE``), compounds of known words from their halves, all others from the letter-to-sound rules in
``letters.yaml``. The shop's own ``pronounce:`` outranks them all.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Mapping, Sequence
from functools import cache, lru_cache
from importlib import resources
from typing import Any

import yaml

from diaryidx.errors import VocabularyError

Sounds = tuple[str, ...]

MOST_WAYS = 4  # ways to say a phrase that are kept
SHORTEST_HALF = 3  # letters of each half of a compound
_STRESS = re.compile(r"\d")
_LETTERS_ONLY = re.compile(r"[^a-z']")
_CONTEXT = {
    "#": "[aeiouy]+", ":": "[^aeiouy_]*", "^": "[^aeiouy_]", ".": "[bdvgjlmnrwz]", "+": "[eiy]",
    "%": "(?:er|es|ed|ely|ing|e)(?=_)", "_": "_",
}  # fmt: skip
_SPELT = {
    "a": "EY", "b": "B IY", "c": "S IY", "d": "D IY", "e": "IY", "f": "EH F", "g": "JH IY", "h": "EY CH", "i": "AY",
    "j": "JH EY", "k": "K EY", "l": "EH L", "m": "EH M", "n": "EH N", "o": "OW", "p": "P IY", "q": "K Y UW",
    "r": "AA R", "s": "EH S", "t": "T IY", "u": "Y UW", "v": "V IY", "w": "D AH B AH L Y UW", "x": "EH K S",
    "y": "W AY", "z": "Z EH D",
}  # fmt: skip


@cache
def data(name: str) -> dict[str, Any]:
    """One of this package's YAML files, read once."""
    loaded: dict[str, Any] = yaml.load(_file(name).decode(), Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    return loaded


def _file(name: str) -> bytes:
    return (resources.files("diaryidx.transcript.repair") / name).read_bytes()


@cache
def phonemes() -> tuple[str, ...]:
    """All phonemes, in a fixed order."""
    return tuple(data("phonemes.yaml")["phonemes"])


@cache
def _dictionary() -> dict[str, str]:
    """Word to its pronunciations, with "|" between them."""
    lines = gzip.decompress(_file("cmudict.txt.gz")).decode().splitlines()
    return dict(line.split(" ", 1) for line in lines)


def ways_to_say(phrase: str, own: Mapping[str, Sounds]) -> list[Sounds]:
    """The pronunciations of a phrase.

    Arguments:
        phrase: lower-case words with single spaces.
        own: the shop's own pronunciations, of words or of whole phrases.
    Returns: at most ``MOST_WAYS`` different ones, the likeliest first; empty for a phrase without letters.
    """
    if phrase in own:
        return [own[phrase]]
    ways: list[Sounds] = [()]
    for word in phrase.split():
        said = [own[word]] if word in own else list(ways_to_say_word(word))
        ways = [(*before, *sounds) for sounds in said for before in ways][: 2 * MOST_WAYS]
    return [way for way in dict.fromkeys(ways) if way][:MOST_WAYS]


@lru_cache(maxsize=50_000)
def ways_to_say_word(word: str) -> tuple[Sounds, ...]:
    """The pronunciations of one lower-case word: the dictionary's, else those of its halves and of its letters."""
    word = _LETTERS_ONLY.sub("", word.replace("’", "'"))
    if found := _dictionary().get(word):
        return tuple(tuple(way.split()) for way in found.split("|"))
    if word.endswith("'s"):
        return tuple((*way, "Z") for way in ways_to_say_word(word[:-2]))
    word = word.replace("'", "")
    ways = [way for way in (_as_inflected(word), _as_compound(word), by_letters(word)) if way]
    return tuple(dict.fromkeys(ways))


def _as_inflected(word: str) -> Sounds | None:
    """A plural of a known word."""
    if word.endswith("s") and not word.endswith("ss") and (found := _dictionary().get(word[:-1])):
        sounds = tuple(found.split("|")[0].split())
        if sounds[-1] in ("S", "Z", "SH", "CH", "JH", "ZH"):
            return (*sounds, "AH", "Z")
        return (*sounds, "S" if sounds[-1] in ("P", "T", "K", "F", "TH") else "Z")
    return None


def _as_compound(word: str) -> Sounds | None:
    """Two known words written as one: the cut whose shorter half is the longest."""
    cuts = range(SHORTEST_HALF, len(word) - SHORTEST_HALF + 1)
    known = [cut for cut in cuts if word[:cut] in _dictionary() and word[cut:] in _dictionary()]
    if not known:
        return None
    cut = max(known, key=lambda one: (min(one, len(word) - one), one))
    return tuple(" ".join(_dictionary()[half].split("|")[0] for half in (word[:cut], word[cut:])).split())


@cache
def _rules() -> dict[str, list[tuple[re.Pattern[str], re.Pattern[str] | None, int, Sounds]]]:
    """Per first letter: pattern of letters and what stands behind, pattern of what stands before, letters, sounds."""
    table: dict[str, list[tuple[re.Pattern[str], re.Pattern[str] | None, int, Sounds]]] = {}
    for first, rules in data("letters.yaml").items():
        for rule in rules:
            before, letters, behind, sounds = re.fullmatch(r"(.*?)\((.+?)\)(.*?): ?(.*)", rule).groups()  # type: ignore[union-attr]
            pattern = re.compile(letters + "".join(_CONTEXT.get(sign, sign) for sign in behind))
            left = "".join(_CONTEXT.get(sign, sign) for sign in before)
            entry = (pattern, re.compile(f"(?:{left})$") if left else None, len(letters), tuple(sounds.split()))
            table.setdefault(first, []).append(entry)
    return table


def by_letters(word: str) -> Sounds:
    """The pronunciation of a lower-case word by letter-to-sound rules; letter by letter where it has no vowel."""
    if not re.search("[aeiouy]", word):
        return tuple(" ".join(_SPELT.get(letter, "") for letter in word).split())
    text, place = f"_{word}_", 1
    sounds: list[str] = []
    while place < len(text) - 1:
        for pattern, before, length, said in _rules().get(text[place], ()):
            if pattern.match(text, place) and (before is None or before.search(text[:place])):
                sounds += said
                place += length
                break
        else:
            place += 1
    return tuple(sounds)


def read_own(pronounce: Mapping[str, str]) -> dict[str, Sounds]:
    """The shop's own pronunciations.

    Arguments:
        pronounce: lower-case word or phrase to phonemes with spaces, as the CMU dictionary writes them ("B R AE1 K").
    Raises: VocabularyError where a phoneme is none.
    """
    return {word: _read_sounds(word, said.split()) for word, said in pronounce.items()}


def _read_sounds(word: str, said: Sequence[str]) -> Sounds:
    sounds = tuple(_STRESS.sub("", sound).upper() for sound in said)
    if wrong := [sound for sound in sounds if sound not in phonemes()]:
        raise VocabularyError(
            f"words.yaml: pronounce '{word}': '{wrong[0]}' is no phoneme; write them as the CMU Pronouncing Dictionary "
            "does, such as 'B R AE K W AO T ER'"
        )
    return sounds
