"""What a customer asked for, as the job book has it, cut into single wishes and read with the trade's words."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from functools import cache, lru_cache

from diaryidx.builds.word_lists import word_set
from diaryidx.records import Build, Statement, Subject
from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms, load_vocabulary

_PIECES = re.compile(r"[,;\n•·|]+|\s[-–—/+]\s|(?<=[a-z)])[.!?](?=\s|$)", re.IGNORECASE)
_JOINED = re.compile(r"\s(?:and|&|plus|also|then)\s", re.IGNORECASE)
_WORD = re.compile(r"[^\W_]+")
#: Letters whose mark Unicode does not take apart.
_NO_MARK_APART = str.maketrans({"ß": "ss", "ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th"})


@cache
def shipped_vocabulary() -> Vocabulary:
    """The trade's own words, without any shop's; what is compared by them needs no shop."""
    return load_vocabulary()


def terms_in(text: str, vocabulary: Vocabulary | None = None) -> list[Term]:
    """The terms of a text in reading order, both readings where a phrase has two ("quilted": a task and a finish)."""
    vocabulary = vocabulary or shipped_vocabulary()
    found: list[Term] = []
    for start, end, term in find_terms(vocabulary, text):
        found.append(term)
        if second := vocabulary.other_readings.get(" ".join(text[start:end].lower().split())):
            found.append(second)
    return found


def without_accents(text: str) -> str:
    """Lower-case text in plain letters, as most people type it: "müller" is "muller", "ø" is "o", "ß" is "ss"."""
    if text.isascii():
        return text
    signs = unicodedata.normalize("NFKD", text.translate(_NO_MARK_APART))
    return "".join(sign for sign in signs if not unicodedata.combining(sign))


def stems(text: str) -> list[str]:
    """The words of a text that carry meaning, without endings and accents, in reading order.

    Plurals as by Harman's S stemmer ("How effective is suffixing?", JASIS 42, 1991), then -ing and -ed.
    """
    plain = without_accents(text.lower())
    return [stem(word) for word in _WORD.findall(plain.replace("'s", "").replace("’s", ""))
            if word not in word_set("empty")]  # fmt: skip


@cache
def stem(word: str) -> str:
    """One lower-case word without its ending."""
    if word.endswith("ies") and not word.endswith(("eies", "aies")):
        word = word[:-3] + "y"
    elif word.endswith("s") and not word.endswith(("us", "ss", "aes", "ees", "oes")):
        word = word[:-1]
    for ending in ("ing", "ed"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            word = word[: -len(ending)]
            word = word[:-1] if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "lsz" else word
            break
    return word[:-1] if word.endswith("e") and len(word) > 3 else word


@lru_cache(maxsize=20_000)
def finish_sorts(finish: str, vocabulary: Vocabulary | None = None) -> dict[str, frozenset[str]]:
    """A finish as ``{"colour": {"black"}, "sheen": {"satin"}}``; words unknown to the trade are a sort of their own.

    A finish of the shop's own counts by its name, and by the trade's words in its name: what the shop calls "our
    bronze" and lists as "Harrow bronze" is bronze too.
    """
    sorts: dict[str, set[str]] = {}
    own = [term for term in terms_in(finish, vocabulary) if term.label == "FINISH" and term.origin != "shipped"]
    for term in (*own, *(term for text in (finish, *(one.canonical for one in own)) for term in terms_in(text))):
        if term.label == "FINISH":
            sorts.setdefault(term.sort or "finish", set()).add(term.canonical)
    return {sort: frozenset(names) for sort, names in sorts.items()} or {"finish": frozenset({finish.lower()})}


def exclude_each_other(one: str, other: str, vocabulary: Vocabulary | None = None) -> bool:
    """Whether a part cannot have both finishes: two colours or two sheens can not, tan and leather can."""
    ones, others = finish_sorts(one, vocabulary), finish_sorts(other, vocabulary)
    return any(not ones[sort] & others[sort] for sort in ones.keys() & others.keys() if sort != "stitch")


@lru_cache(maxsize=20_000)
def wishes(build: Build, vocabulary: Vocabulary | None = None) -> tuple[Statement, ...]:
    """What was asked for of a build, one statement a wish, with source "book".

    :param vocabulary: the shop's words; None means the shipped ones.

    A wish without any word of the trade is kept too, with its text alone; nobody's word is lost.
    """
    words = vocabulary or shipped_vocabulary()
    return tuple(_wish(build, piece, words) for piece in _pieces(build.asked_for or "", words))


def _pieces(text: str, vocabulary: Vocabulary) -> Iterable[str]:
    for piece in _PIECES.split(text):
        parts = _JOINED.split(piece)
        # "black rims and tan seat" are two wishes, "front and rear rim" is one: both sides must name a part.
        whole = len(parts) < 2 or not all(_of(terms_in(part, vocabulary), "PART") for part in parts)
        for wish in (piece,) if whole else parts:
            if stripped := wish.strip(" .-–"):
                yield stripped


def _wish(build: Build, text: str, vocabulary: Vocabulary) -> Statement:
    terms = terms_in(text, vocabulary)
    own = [term for term in terms if term.origin == "words.yaml"]  # "knee dents in the tank" is about knee dents
    parts, sides, tasks = _of(own, "PART") or _of(terms, "PART"), _of(terms, "SIDE"), _of(terms, "TASK")
    finishes = _of(terms, "FINISH")
    return Statement(
        status="asked for",
        text=text,
        part=parts[-1] if parts else None,
        side=("both" if len(sides) > 1 else sides[0]) if sides else None,
        task=tasks[0] if tasks and not finishes else None,
        finish=" ".join(finishes) or None,
        said_by="customer",
        when=build.date_in,
        certainty=1.0,
        subject=Subject("build", build.job_number),
        build=build.job_number,
        source="book",
    )


def _of(terms: Sequence[Term], label: str) -> list[str]:
    return list(dict.fromkeys(term.canonical for term in terms if term.label == label))
