"""The cautions that go with work that can hurt: every answer, history or reply about such work carries them.

Which kinds of work there are, their texts and the everyday words for them are data: `cautions.yaml`.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from functools import cache

from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms, shipped_data

#: A kind of work that has this share of all that a passage says of any is what the work is about (our own choice).
DOMINANT_SHARE = 0.34
_WORDS_BETWEEN = r"\W+(?:\S+\W+){0,3}?"
_APOSTROPHES = str.maketrans("’‘`´", "''''")


def cautions_for(terms: Iterable[Term | str], vocabulary: Vocabulary) -> list[str]:
    """Say which cautions belong to these parts and tasks, however many kinds of work they belong to.

    Arguments:
        terms: terms, or canonical names of terms; unknown names are passed over.
        vocabulary: the loaded vocabulary, which holds the texts.
    Returns: the texts of each kind of work in the order of ``cautions.yaml``, then the general ones; empty where no
        term belongs to any. Wording is our own (common practice, no source).
    """
    found: set[str] = set()
    for term in terms:
        for one in [term] if isinstance(term, Term) else vocabulary.by_canonical.get(term.lower(), ()):
            found |= _classes_of_term(one)
    return _texts(found, vocabulary)


def cautions_for_answer(question: str, passage: str, vocabulary: Vocabulary, *, is_work: bool = False) -> list[str]:
    """Say which cautions belong to a question and the work that a passage really does.

    A passage about brake pads also says "wheel" and "tank"; that is no reason to warn of petrol. So all kinds of work
    count that the question names, in trade words or everyday ones, and of the passage only those that it is mostly
    about.

    Arguments:
        question: in the customer's own words.
        passage: what is quoted of the answer; empty where nobody has answered.
        vocabulary: the loaded vocabulary.
        is_work: whether work on a part is asked about that nobody has shown; then the general cautions are there though
            neither question nor passage names a kind of work.
    Returns: as `cautions_for`.
    """
    asked = set(classes_in(question, vocabulary))
    said = classes_in(passage, vocabulary)
    least = max(DOMINANT_SHARE * said.total(), 2 if asked else 1)
    texts = _texts(asked | {name for name, times in said.items() if times >= least}, vocabulary)
    return texts or (list(vocabulary.cautions.get("general", ())) if is_work else [])


def classes_in(text: str, vocabulary: Vocabulary) -> Counter[str]:
    """The kinds of work that a text names, each with how often: by parts and tasks, else by everyday words for it."""
    found: Counter[str] = Counter()
    for _, _, term in find_terms(vocabulary, text):
        found.update(_classes_of_term(term))
    for name, sign in _signs().items():
        if name not in found and sign.search(text.translate(_APOSTROPHES)):
            found[name] = 1
    return found


@cache
def _classes_of_term(term: Term) -> frozenset[str]:
    """A term's own kind of work; the everyday words are looked for in the names of parts that have none."""
    if term.safety:
        return frozenset((term.safety,))
    if term.label != "PART":
        return frozenset()
    return frozenset(name for name, sign in _signs().items() if sign.fullmatch(term.canonical))


def _texts(found: Iterable[str], vocabulary: Vocabulary) -> list[str]:
    kinds = set(found)
    if not kinds:
        return []
    texts = [text for name, said in vocabulary.cautions.items() if name in kinds for text in said]
    return [*texts, *vocabulary.cautions.get("general", ())]


# --- everyday words --------------------------------------------------------------------------------------------------


@cache
def _signs() -> dict[str, re.Pattern[str]]:
    """The everyday words of each kind of work as one expression."""
    return {
        name: re.compile(rf"(?<!\w)(?:{'|'.join(map(_sign, signs))})(?!\w)", re.IGNORECASE)
        for name, signs in shipped_data("cautions.yaml")["signs"].items()
    }


def _sign(words: str) -> str:
    return _WORDS_BETWEEN.join(_with_endings(word) for word in words.split())


def _with_endings(word: str) -> str:
    """A word in its regular forms ("wobble", "wobbles", "wobbling"; "battery", "batteries"), by school grammar."""
    if word.endswith("y") and word[-2] not in "aeiou":
        return rf"{re.escape(word[:-1])}(?:y|ies|ied|ying)"
    base = re.escape(word.removesuffix("e"))
    return rf"{base}{word[-1]}?(?:e|y)?(?:s|es|ed|ing)?"
