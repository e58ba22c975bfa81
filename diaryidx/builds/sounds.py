"""How words sound, roughly, so that "footrest robbers" is known for "footrest rubbers": consonants by their class.

The classes of letters are Soundex's (Russell, US patent 1,261,167, 1918). Unlike there, no first letter is kept and no
code is cut short, since engines mishear first sounds too and cut words anywhere ("egg nation switch").
"""

from __future__ import annotations

from difflib import SequenceMatcher
from functools import lru_cache

#: How much of their letters words share that may be the same, 0 to 1 (Ratcliff and Obershelp's measure).
ALIKE = 0.75
_CLASSES = {
    letter: number
    for number, letters in enumerate(("bfpv", "cgjkqsxz", "dt", "l", "mn", "r"), start=1)
    for letter in letters
}
_SILENT = {"kn": "n", "wr": "r", "wh": "w", "gh": "", "ps": "s", "mb": "m", "ck": "k", "tch": "ch"}


@lru_cache(maxsize=50_000)
def sound(words: str) -> str:
    """The consonant classes of one or several words, doubled ones once; empty where there are none."""
    text = words.lower().replace(" ", "")
    for written, said in _SILENT.items():
        text = text.replace(written, said)
    code: list[str] = []
    before = 0
    for letter in text:
        number = _CLASSES.get(letter, 0)
        if number and number != before:
            code.append(str(number))
        if letter not in "hw":
            before = number
    return "".join(code)


@lru_cache(maxsize=100_000)
def alike(one: str, two: str) -> bool:
    """Whether two words that sound alike may be one word heard and misheard: they share most of their letters, too.

    Counted in the invented archive: words that share fewer have the same sound by chance.
    """
    return SequenceMatcher(None, one, two, autojunk=False).ratio() >= ALIKE
