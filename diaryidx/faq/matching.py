"""A person's words as an FTS5 query: everything is quoted, so that any text at all is safe to search for."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from diaryidx.builds.wishes import stem, stems
from diaryidx.builds.word_lists import word_set
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
_MAIN_LABELS: tuple[Label, ...] = ("PART", "PRODUCT", "SUPPLIER", "MODEL", "MAKE", "NICKNAME")


@dataclass(frozen=True, slots=True)
class Concept:
    """One thing that is asked about: a term of the vocabulary, or a telling word.

    ``main`` is set for what the question is about; a passage without it is no answer. ``ways`` are the ways of saying
    it, each as stems.
    """

    name: str
    weight: float
    main: bool
    ways: frozenset[tuple[str, ...]]
    term: Term | None = None


def concepts(question: str, vocabulary: Vocabulary) -> list[Concept]:
    """Cut a question into what it asks about.

    A term counts once however often it is said. When no part, product or bike is named, the tasks and finishes are
    what it is about, and failing these all telling words.
    """
    text = printable(question)
    found: dict[str, Concept] = {}
    covered: list[tuple[int, int]] = []
    for start, end, term in find_terms(vocabulary, text):
        if _says_nothing(text[start:end].lower()):
            continue
        covered.append((start, end))
        found.setdefault(f"{term.label} {term.canonical}", _of_term(term, text[start:end]))
    for match in _WORD.finditer(text):
        word = match.group().lower()
        inside = any(start <= match.start() < end for start, end in covered)
        if not inside and not _says_nothing(word) and len(found) < MOST_WORDS:
            found.setdefault(f"word {stem(word)}", Concept(word, _WORD_WEIGHT, False, frozenset({(stem(word),)})))
    return _with_main(list(found.values()))


def _says_nothing(word: str) -> bool:
    return word in word_set("empty") or word in word_set("question")


def _of_term(term: Term, said: str) -> Concept:
    ways = {tuple(stems(phrase)) for phrase in (*term.variants, term.canonical, said)}
    return Concept(
        term.canonical, _WEIGHTS.get(term.label, _WORD_WEIGHT), False, frozenset(way for way in ways if way), term
    )


def _with_main(found: Sequence[Concept]) -> list[Concept]:
    for labels in (_MAIN_LABELS, ("TASK", "FINISH")):
        if any(concept.term and concept.term.label in labels for concept in found):
            return [_marked(concept, bool(concept.term and concept.term.label in labels)) for concept in found]
    return [_marked(concept, True) for concept in found]


def _marked(concept: Concept, main: bool) -> Concept:
    return Concept(concept.name, concept.weight, main, concept.ways, concept.term)


def match_any(words: Iterable[str]) -> str:
    """An FTS5 expression that matches where any of the words or phrases is; empty when there are none.

    Every phrase is a quoted string (https://www.sqlite.org/fts5.html, section 3.1), so nothing in it is syntax.
    """
    return " OR ".join(_quoted(words))


def match_all(words: Iterable[str]) -> str:
    """An FTS5 expression that matches where all of the words or phrases are; empty when there are none."""
    return " AND ".join(_quoted(words))


def question_phrases(found: Sequence[Concept]) -> list[str]:
    """The phrases to search for: each term by its canonical name and as it is said, each word as it is."""
    phrases: dict[str, None] = {}
    for concept in found:
        phrases[concept.name] = None
        for variant in concept.term.variants if concept.term else ():
            phrases[variant] = None
    return list(phrases)


def plain_words(text: str) -> list[str]:
    """The words of a text for a search box, at most as many as FTS5 can take; question words only if nothing else."""
    words = list(dict.fromkeys(_WORD.findall(printable(text).lower())))
    telling = [word for word in words if not _says_nothing(word)]
    return (telling or words)[:MOST_WORDS]


def printable(text: str) -> str:
    """A text without what SQLite and its tokenizer cannot take: lone surrogates, control characters."""
    return "".join(" " if unicodedata.category(sign) in ("Cs", "Cc", "Cf", "Co", "Cn") else sign for sign in text)


def _quoted(words: Iterable[str]) -> list[str]:
    cleaned = (" ".join(_WORD.findall(printable(word))) for word in words)
    return [f'"{word}"' for word in dict.fromkeys(cleaned) if word][: MOST_WORDS * 3]
