"""How a word varies: plurals, verb forms, British and American spellings, compounds said apart. Pure text, no spaCy.

The tables (irregular verbs, doubled consonants, spellings, compounds) are data in ``words/spellings.yaml``; the regular
rules are those of any English school grammar.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

_APOSTROPHES = str.maketrans({"’": "'", "‘": "'", "ʼ": "'", "`": "'"})
_BETWEEN_LETTERS = re.compile(r"(?<=\w)[-\u2010-\u2013](?=\w)")
_NOT_PLURAL = ("ss", "us", "is", "lens", "brass", "glass", "abs")
_VOWELS = "aeiou"


@dataclass(frozen=True)
class Spellings:
    """The tables of ``spellings.yaml``."""

    spellings: Mapping[str, str] = field(default_factory=dict)
    split: Mapping[str, str] = field(default_factory=dict)
    irregular: Mapping[str, Sequence[str]] = field(default_factory=dict)
    doubled: frozenset[str] = frozenset()
    particles: frozenset[str] = frozenset()
    never: frozenset[str] = frozenset()
    weak: frozenset[str] = frozenset()
    nouns: frozenset[str] = frozenset()
    bodily: frozenset[str] = frozenset()
    before_nouns: frozenset[str] = frozenset()
    again: frozenset[str] = frozenset()
    shadows: tuple[str, ...] = ()


def plain(text: str) -> str:
    """Lower-case, one kind of apostrophe, hyphens between letters as spaces, single spaces. Used on all terms."""
    return " ".join(_BETWEEN_LETTERS.sub(" ", text.translate(_APOSTROPHES)).lower().split())


def plural_and_singular(phrase: str) -> tuple[str, ...]:
    """The phrase with its last word in the other number, and the phrase itself."""
    head, _, last = phrase.rpartition(" ")
    other = _singular(last) if last.endswith("s") and not last.endswith(_NOT_PLURAL) else _plural(last)
    return (phrase, f"{head} {other}".strip())


def _plural(word: str) -> str:
    if word.endswith(("s", "x", "z", "ch", "sh")):
        return word + "es"
    if word.endswith("y") and len(word) > 1 and word[-2] not in _VOWELS:
        return word[:-1] + "ies"
    return word + "s"


def _singular(word: str) -> str:
    if word.endswith("ies") and len(word) > 4:
        return word[:-3] + "y"
    if word.endswith(("xes", "ches", "shes", "sses")):
        return word[:-2]
    return word[:-1]


def verb_forms(phrase: str, spellings: Spellings) -> Iterator[tuple[str, str]]:
    """Every form of a verb phrase: pairs of phrase and form ("base", "s", "ing", "past", "ed").

    The first word is inflected where a particle follows it ("take off"), else the last ("powder coat"). "ed" stands for
    the past participle and, in regular verbs, for the past too.
    """
    words = phrase.split()
    place = 0
    if len(words) > 1 and not any(word in spellings.particles for word in words[1:]):
        place = len(words) - 1
    again = ("re", "re ") if phrase in spellings.again else ()
    for word, form in _forms(words[place], spellings):
        said = " ".join([*words[:place], word, *words[place + 1 :]])
        yield said, form
        for before in again:
            yield before + said, form


def _forms(verb: str, spellings: Spellings) -> Iterator[tuple[str, str]]:
    yield verb, "base"
    if verb in spellings.irregular:
        third, present, past, participle = spellings.irregular[verb]
        yield third, "s"
        yield present, "ing"
        if past != participle and past != verb:
            yield past, "past"
        if participle != verb:
            yield participle, "ed"
        return
    yield _plural(verb), "s"
    stem = verb + verb[-1] if _doubles(verb, spellings) else verb
    if verb.endswith("e"):
        yield (verb if verb.endswith(("ee", "oe", "ye")) else verb[:-1]) + "ing", "ing"
        yield verb + "d", "ed"
    elif verb.endswith("y") and len(verb) > 1 and verb[-2] not in _VOWELS:
        yield verb + "ing", "ing"
        yield verb[:-1] + "ied", "ed"
    else:
        yield stem + "ing", "ing"
        yield stem + "ed", "ed"


def _doubles(verb: str, spellings: Spellings) -> bool:
    if verb in spellings.doubled:
        return True
    if len(verb) < 3 or verb[-1] in _VOWELS + "wxy" or verb[-2] not in _VOWELS or verb[-3] in _VOWELS:
        return False
    return len(re.findall(r"[aeiou]+", verb)) == 1


def spelled(phrases: Iterable[str], spellings: Spellings) -> Iterator[str]:
    """Each phrase, with its American spelling and with its compounds said apart."""
    for phrase in phrases:
        yield phrase
        words = phrase.split()
        american = " ".join(spellings.spellings.get(word, word) for word in words)
        if american != phrase:
            yield american
        apart = " ".join(spellings.split.get(word, word) for word in words)
        if apart != phrase:
            yield apart
