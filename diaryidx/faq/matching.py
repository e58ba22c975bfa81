"""A person's words as FTS5 queries in which any text at all is safe, and misspelt trade words put right."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable
from difflib import get_close_matches

from diaryidx.builds.wishes import stem
from diaryidx.faq.meanings import everyday_stems, says_nothing
from diaryidx.vocabulary.loader import Vocabulary

_WORD = re.compile(r"[^\W_]+")
#: FTS5 allows expressions 256 levels deep (SQLITE_FTS5_MAX_EXPR_DEPTH); no question needs as many phrases as this.
MOST_PHRASES = 200
#: Nobody types as many telling words as this into a search box.
MOST_WORDS = 40
#: A word is taken for a misspelt trade word when they are this much alike (difflib's ratio; our own choice).
_ALIKE = 0.82
_SHORTEST_MISSPELT = 5
#: How many words of a question are looked up for their spelling; a question with more is in another language.
_MOST_MISSPELT = 8
#: What is beyond this, in characters, is no question.
_LONGEST_QUESTION = 4_000


def spelled_right(question: str, vocabulary: Vocabulary, is_known: Callable[[str], bool]) -> str:
    """A question with misspelt trade words put right.

    :param is_known: whether a word is said in any film; such a word is left alone, whatever it looks like.
    """
    text = printable(question)
    words = dict.fromkeys(word.lower() for word in _WORD.findall(text) if len(word) >= _SHORTEST_MISSPELT)
    strange = [
        word
        for word in words
        if word not in vocabulary.phrases and stem(word) not in everyday_stems() and not says_nothing(word)
    ]
    unknown = [word for word in strange[:_MOST_MISSPELT] if not is_known(word)]
    right = _right_words(unknown, vocabulary) if unknown else {}
    return _WORD.sub(lambda match: right.get(match.group().lower(), match.group()), text)


def _right_words(unknown: Iterable[str], vocabulary: Vocabulary) -> dict[str, str]:
    """The trade word that each unknown word is a misspelling of, where there is one."""
    trade = {word for phrase in vocabulary.phrases for word in phrase.split() if len(word) >= _SHORTEST_MISSPELT}
    right: dict[str, str] = {}
    for word in unknown:
        # Hardly anybody misses the first letter; looking at all words would take a second for a long question.
        near = sorted(one for one in trade if one[0] == word[0] and abs(len(one) - len(word)) <= 2)
        if word not in trade and (found := get_close_matches(word, near, cutoff=_ALIKE)):
            swapped = (one for one in found if sorted(one) == sorted(word))  # "chnage" is change sooner than charge
            right[word] = next(swapped, found[0])
    return right


def match_any(words: Iterable[str]) -> str:
    """An FTS5 expression that matches where any of the words or phrases is; empty when there are none.

    Every phrase is a quoted string (https://www.sqlite.org/fts5.html, section 3.1), so nothing in it is syntax.
    """
    return " OR ".join(_quoted(words))


def match_all(words: Iterable[str]) -> str:
    """An FTS5 expression that matches where all of the words or phrases are; empty when there are none."""
    return " AND ".join(_quoted(words))


def plain_words(text: str) -> list[str]:
    """The words of a text for a search box, at most as many as FTS5 can take; question words only if nothing else."""
    words = list(dict.fromkeys(_WORD.findall(printable(text).lower())))
    telling = [word for word in words if not says_nothing(word)]
    return (telling or words)[:MOST_WORDS]


def plain_phrases(text: str) -> list[str]:
    """As `plain_words`, but what is written as one stays together: "120/70-17" is the phrase 120 70 17."""
    pieces = dict.fromkeys(" ".join(_WORD.findall(piece)) for piece in printable(text).lower().split())
    telling = [piece for piece in pieces if piece and not says_nothing(piece)]
    return (telling or [piece for piece in pieces if piece])[:MOST_WORDS]


def printable(text: str) -> str:
    """The beginning of a text, without what SQLite's tokenizer cannot take: lone surrogates, control characters."""
    strange = ("Cs", "Cc", "Cf", "Co", "Cn")
    return "".join(" " if unicodedata.category(sign) in strange else sign for sign in text[:_LONGEST_QUESTION])


def _quoted(words: Iterable[str]) -> list[str]:
    cleaned = (" ".join(_WORD.findall(printable(word))) for word in words)
    return [f'"{word}"' for word in dict.fromkeys(cleaned) if word][:MOST_PHRASES]
