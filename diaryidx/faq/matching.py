"""What a question is about, as concepts, and a person's words as FTS5 queries in which any text at all is safe."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches

from diaryidx.builds.wishes import stem, stems
from diaryidx.builds.word_lists import word_list, word_set
from diaryidx.records import Label
from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms

_WORD = re.compile(r"[^\W_]+")
#: FTS5 allows expressions 256 levels deep (SQLITE_FTS5_MAX_EXPR_DEPTH); nobody types as many telling words as this.
MOST_WORDS = 40
#: How much a term counts by its label when it is asked whether a passage is about the same thing (our own choice).
_WEIGHTS: dict[Label, float] = {
    "PART": 3.0, "PRODUCT": 3.0, "NICKNAME": 2.5, "SUPPLIER": 2.0, "MODEL": 2.0, "MAKE": 1.5, "TASK": 1.5,
    "FINISH": 1.5, "SIDE": 0.4, "PERSON": 0.4,
}  # fmt: skip
_WORD_WEIGHT = 1.0
#: What a question is mainly about: the first of these groups that it names anything of.
_MAIN_LABELS: tuple[tuple[Label, ...], ...] = (
    ("PART", "PRODUCT"),
    ("SUPPLIER", "NICKNAME", "MODEL", "MAKE"),
    ("TASK", "FINISH"),
)
#: A word is taken for a misspelt trade word when they are this much alike (difflib's ratio; our own choice).
_ALIKE = 0.82
_SHORTEST_MISSPELT = 5
#: How many words of a question are looked up for their spelling; a question with more is in another language.
_MOST_MISSPELT = 8
#: What is beyond this, in characters, is no question.
_LONGEST_QUESTION = 4_000


@dataclass(frozen=True, slots=True)
class Concept:
    """One thing that is asked about: terms of the vocabulary (all readings of what was said), or a telling word.

    ``main`` is set for what the question is about; a passage without it is no answer. ``names`` are the canonical terms
    in lower case, ``stem`` that of a word which is no term.
    """

    said: str
    weight: float
    main: bool = False
    terms: tuple[Term, ...] = ()
    stem: str | None = None

    @property
    def names(self) -> frozenset[str]:
        """The canonical terms, in lower case."""
        return frozenset(term.canonical.lower() for term in self.terms)

    def has_label(self, *labels: str) -> bool:
        """Whether its first reading has one of these labels."""
        return bool(self.terms) and self.terms[0].label in labels


@dataclass(frozen=True, slots=True)
class Content:
    """What a text says: its canonical terms in lower case, and the stems of all its words."""

    names: frozenset[str]
    stems: frozenset[str]

    def says(self, concept: Concept) -> bool:
        """Whether the text says it: by its term in any of its ways, or by the word."""
        return bool(concept.names & self.names) if concept.terms else concept.stem in self.stems


def concepts(question: str, vocabulary: Vocabulary) -> list[Concept]:
    """Cut a question into what it asks about; a term counts once however often it is said.

    Parts and products are what it is mainly about; where it names none, makers and bikes, else tasks and finishes,
    else all its telling words.
    """
    text = printable(question)
    found: dict[tuple[str, str], Concept] = {}
    covered: list[tuple[int, int]] = []
    for start, end, term in find_terms(vocabulary, text):
        said = " ".join(text[start:end].lower().split())
        if not _says_nothing(said):
            covered.append((start, end))
            second = vocabulary.other_readings.get(said)
            readings = (term, second) if second else (term,)
            weight = _WEIGHTS.get(term.label, _WORD_WEIGHT)
            found.setdefault((term.label, term.canonical), Concept(said, weight, terms=readings))
    for match in _WORD.finditer(text):
        word = match.group().lower()
        inside = any(start <= match.start() < end for start, end in covered)
        if not inside and not _says_nothing(word) and len(found) < MOST_WORDS:
            found.setdefault(("word", stem(word)), Concept(word, _WORD_WEIGHT, stem=stem(word)))
    return _with_main(list(found.values()))


def content(text: str, vocabulary: Vocabulary, terms: Iterable[str] = ()) -> Content:
    """What a text says. The longest term wins, so that a cam chain is no chain.

    :param terms: canonical terms that are known to be in it.
    """
    names = {term.lower() for term in terms}
    for start, end, term in find_terms(vocabulary, text):
        names.add(term.canonical.lower())
        if second := vocabulary.other_readings.get(" ".join(text[start:end].lower().split())):
            names.add(second.canonical.lower())
    return Content(frozenset(names), frozenset(stems(text)))


def spelled_right(question: str, vocabulary: Vocabulary, is_known: Callable[[str], bool]) -> str:
    """A question with misspelt trade words put right.

    :param is_known: whether a word is said in any film; such a word is left alone, whatever it looks like.
    """
    text = printable(question)
    trade = sorted(
        {word for phrase in vocabulary.phrases for word in phrase.split() if len(word) >= _SHORTEST_MISSPELT}
    )
    known = set(trade)
    words = dict.fromkeys(word.lower() for word in _WORD.findall(text) if len(word) >= _SHORTEST_MISSPELT)
    strange = [word for word in words if word not in known and not _says_nothing(word)][:_MOST_MISSPELT]
    right = {
        word: near[0]
        for word in strange
        if not is_known(word) and (near := get_close_matches(word, trade, n=1, cutoff=_ALIKE))
    }
    return _WORD.sub(lambda match: right.get(match.group().lower(), match.group()), text)


def asks_how(question: str) -> bool:
    """Whether a question asks for a way of doing something."""
    return _begins_with("how_to", question)


def asks_price(question: str) -> bool:
    """Whether a question asks what something costs or whether it can be bought."""
    return _begins_with("price", question)


def match_any(words: Iterable[str]) -> str:
    """An FTS5 expression that matches where any of the words or phrases is; empty when there are none.

    Every phrase is a quoted string (https://www.sqlite.org/fts5.html, section 3.1), so nothing in it is syntax.
    """
    return " OR ".join(_quoted(words))


def match_all(words: Iterable[str]) -> str:
    """An FTS5 expression that matches where all of the words or phrases are; empty when there are none."""
    return " AND ".join(_quoted(words))


def question_phrases(found: Sequence[Concept]) -> list[str]:
    """The phrases to search for: what was said, the canonical terms, then every other way of saying them."""
    said = [concept.said for concept in found]
    canonical = [term.canonical for concept in found for term in concept.terms]
    variants = [variant for concept in found for term in concept.terms for variant in term.variants]
    return list(dict.fromkeys([*said, *canonical, *variants]))


def plain_words(text: str) -> list[str]:
    """The words of a text for a search box, at most as many as FTS5 can take; question words only if nothing else."""
    words = list(dict.fromkeys(_WORD.findall(printable(text).lower())))
    telling = [word for word in words if not _says_nothing(word)]
    return (telling or words)[:MOST_WORDS]


def printable(text: str) -> str:
    """The beginning of a text, without what SQLite's tokenizer cannot take: lone surrogates, control characters."""
    strange = ("Cs", "Cc", "Cf", "Co", "Cn")
    return "".join(" " if unicodedata.category(sign) in strange else sign for sign in text[:_LONGEST_QUESTION])


def _with_main(found: Sequence[Concept]) -> list[Concept]:
    for labels in _MAIN_LABELS:
        if any(concept.has_label(*labels) for concept in found):
            return [replace(concept, main=concept.has_label(*labels)) for concept in found]
    return [replace(concept, main=True) for concept in found]


def _says_nothing(word: str) -> bool:
    return word in word_set("empty") or word in word_set("question")


def _begins_with(name: str, question: str) -> bool:
    text = f" {' '.join(printable(question).lower().split())} "
    return any(f" {phrase} " in text or (len(phrase) == 1 and phrase in text) for phrase in word_list(name))


def _quoted(words: Iterable[str]) -> list[str]:
    cleaned = (" ".join(_WORD.findall(printable(word))) for word in words)
    return [f'"{word}"' for word in dict.fromkeys(cleaned) if word][: MOST_WORDS * 3]
