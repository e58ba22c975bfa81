"""From what a person types to the build that is meant: a number, a plate, a name, or words that describe it."""

from __future__ import annotations

import math
import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from itertools import chain

from diaryidx.builds.job_book import plain_job_number
from diaryidx.builds.private import hidden_words, without_owner
from diaryidx.builds.spoken import job_numbers_said, tokens
from diaryidx.builds.vin import plain_vin
from diaryidx.builds.wishes import finish_sorts, stem, stems, terms_in, without_accents
from diaryidx.builds.word_lists import word_set
from diaryidx.errors import NotFound
from diaryidx.records import Build, Candidate
from diaryidx.store import reading
from diaryidx.vocabulary.loader import Vocabulary

#: A description must account for this share of the words (by how telling they are) to be taken for a build at all, and
#: for the clear winner's lead over the next (our own choice).
LEAST_COVERED = 0.4
CLEAR_LEAD = 1.25
MOST_CANDIDATES = 8
_VIN_TAIL = 4
_SHORTEST_PLATE = 4
#: How German names are typed without their own signs.
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})


def find_build(
    db: sqlite3.Connection, words: str, vocabulary: Vocabulary | None = None, *, owners: bool = True
) -> Build | list[Candidate]:
    """Find the build that a person means.

    Tried in this order, the first that fits anything decides: what the words say they are ("reg KL19 XYZ", "VIN
    042788"), job number or its last digits, registration, VIN or its last signs, nickname, customer, make and model, a
    job number in words or a registration among other words, and at last a description, matched against the job book
    and all that films and notes said.

    :param vocabulary: the shop's words, by which descriptions are understood; None means the trade's alone.
    :param owners: also by customer, registration and VIN; without it they play no part, nor are they in what is found.
    :returns: the build, or several candidates with the reason for each.
    :raises NotFound: nothing fits; the message says what may be typed.
    """
    builds = reading.builds(db) if owners else [without_owner(build) for build in reading.builds(db)]
    if not builds:
        raise NotFound("the job book is empty; `diaryidx jobs import FILE` reads it in")
    if not owners and hidden_words(tuple(reading.builds(db))).out_of(words) != words:
        raise NotFound(f"no build fits {words!r}")  # what films and notes say of an owner names no bike either
    for why, found in chain(_exactly(builds, words), _by_listed_nickname(builds, words, vocabulary)):
        if len(found) == 1:
            return found[0]
        if found:
            return [Candidate(build.job_number, f"{why} {_named(build)}") for build in found[:MOST_CANDIDATES]]
    return _described(db, builds, words, vocabulary)


def plain_registration(text: str) -> str:
    """A registration as it is compared: no spaces or dashes, one case, and O for 0 or I for 1 forgiven."""
    return _signs(text).replace("O", "0").replace("I", "1")


def _signs(text: str) -> str:
    """The letters and digits of a text, in capitals."""
    return re.sub(r"[\W_]", "", text).upper()


def plain_number(text: str) -> str:
    """A job number as it is compared: letters and digits in lower case, without zeros in front."""
    return re.sub(r"[\W_]", "", plain_job_number(text)).lower().lstrip("0") or "0"


def _number_groups(text: str) -> tuple[str, ...]:
    """The runs of letters and of digits of a job number, without zeros in front: "HL/0409" is ("hl", "409")."""
    runs = re.findall(r"\d+|[^\W\d_]+", plain_job_number(text).lower())
    return tuple(run.lstrip("0") or "0" if run.isdigit() else run for run in runs)


def _exactly(builds: Sequence[Build], words: str) -> Iterable[tuple[str, list[Build]]]:
    """Each way of naming a build exactly, with those that it names."""
    text = words.strip()
    exact = [build for build in builds if build.job_number == text]
    yield "has the job number of", exact
    yield from _as_announced(builds, text)
    if any(sign.isdigit() for sign in text):
        yield "has the job number of", _equal(builds, plain_number(text), lambda build: plain_number(build.job_number))
        wanted = _number_groups(text)
        yield "has the job number of", [build for build in builds if _number_groups(build.job_number) == wanted]
        if len(wanted) == 1:
            yield (
                "has a job number that ends so:",
                [build for build in builds if _number_groups(build.job_number)[-1:] == wanted],
            )
    yield from _by_registration(builds, text)
    yield from _by_vin(builds, text)
    name = _plain_name(text)
    if name:
        yield "is called so:", [build for build in builds if name in _forms(build.nickname)]
        yield (
            "belongs to a customer of that name:",
            [build for build in builds if any(_names_customer(name, form) for form in _forms(build.customer))],
        )
        yield "is one of that kind:", [build for build in builds if name in _bike_names(build)]
    said = set(job_numbers_said(tokens(text)))
    yield "has the job number of", [build for build in builds if plain_number(build.job_number) in said]
    plates = _plates_in(text)
    yield (
        "has the registration of",
        [build for build in builds if plain_registration(build.registration or "-") in plates],
    )


def _by_listed_nickname(
    builds: Sequence[Build], text: str, vocabulary: Vocabulary | None
) -> Iterable[tuple[str, list[Build]]]:
    """Nicknames that the shop's words give a job, or that are said of a bike otherwise than the job book has them."""
    name = _plain_name(text)
    terms = [term for term in (vocabulary.terms if vocabulary else ()) if term.label == "NICKNAME"]
    meant = [term for term in terms if name and name in {form for said in (term.canonical, *term.variants)
                                                         for form in _forms(said)}]  # fmt: skip
    jobs = {plain_number(job) for term in meant for job in term.jobs}
    names = {form for term in meant for form in _forms(term.canonical)}
    yield (
        "is called so:",
        [one for one in builds if plain_number(one.job_number) in jobs or names & _forms(one.nickname)],
    )


def _as_announced(builds: Sequence[Build], text: str) -> Iterable[tuple[str, list[Build]]]:
    """What stands behind a word that says what it is: "reg no. KL19 XYZ", "VIN: 042788"."""
    words = text.split()
    plain = [word.lower().strip(".:#-") for word in words]
    for cues, find in (("registration_cues", _by_registration), ("vin_cues", _by_vin)):
        if plain and plain[0] in word_set(cues):
            cue = {*word_set(cues), *word_set("after_a_cue"), ""}
            first = next((place for place, word in enumerate(plain) if word not in cue), len(words))
            yield from find(builds, " ".join(words[first:]))


def _by_registration(builds: Sequence[Build], text: str) -> Iterable[tuple[str, list[Build]]]:
    plate = plain_registration(text)
    if len(plate) >= 2:
        # "AI 1" and "A 11" are two marks: one that is typed as it stands is meant before one that looks like it.
        typed = _signs(text)
        yield "has the registration of", _equal(builds, typed, lambda build: _signs(build.registration or ""))
        yield (
            "has the registration of",
            _equal(builds, plate, lambda build: plain_registration(build.registration or "")),
        )


def _by_vin(builds: Sequence[Build], text: str) -> Iterable[tuple[str, list[Build]]]:
    """A VIN or its last signs; none has an I, O or Q, so these are the digits that they look like."""
    vin = _vin_signs(text)
    if len(vin) >= _VIN_TAIL and any(sign.isdigit() for sign in vin):
        yield "has a VIN that ends so:", [build for build in builds if _vin_signs(build.vin or "").endswith(vin)]


def _vin_signs(text: str) -> str:
    return plain_vin(text).translate(str.maketrans("IOQ", "100"))


def _plates_in(text: str) -> set[str]:
    """What may be a registration among other words: up to three words in a row, four signs or more."""
    words = text.split()
    runs = (words[first : first + length] for length in (1, 2, 3) for first in range(len(words)))
    return {plate for run in runs if len(plate := plain_registration("".join(run))) >= _SHORTEST_PLATE}


def _equal(builds: Sequence[Build], wanted: str, key: Callable[[Build], str]) -> list[Build]:
    return [build for build in builds if wanted and key(build) == wanted]


def _plain_name(text: str) -> str:
    plain = without_accents(text.lower())
    words = re.findall(r"[^\W_]+", plain.replace("&", " and ").replace("'s", "").replace("’s", ""))
    return " ".join(word for word in words if word not in word_set("titles") and word != "the")


def _forms(name: str | None) -> set[str]:
    """A name as it may be typed: "Müller" is also "muller" and "mueller"."""
    return {_plain_name(name), _plain_name(name.lower().translate(_UMLAUTS))} - {""} if name else set()


def _names_customer(wanted: str, customer: str) -> bool:
    """A whole name, or a surname or first name alone."""
    return bool(customer) and (wanted == customer or (" " not in wanted and wanted in customer.split()))


def _bike_names(build: Build) -> set[str]:
    names = (build.make, build.model, f"{build.make or ''} {build.model or ''}")
    dated = f"{build.year or ''} {build.make or ''} {build.model or ''}"
    return {form for name in (*names, dated) for form in _forms(name)}


def _named(build: Build) -> str:
    colour = f", {build.colour}" if build.colour else ""
    return f"{build.name}{colour}"


def _described(
    db: sqlite3.Connection, builds: Sequence[Build], words: str, vocabulary: Vocabulary | None
) -> Build | list[Candidate]:
    wanted = describing_terms(words, vocabulary)
    texts = _texts(db, builds, vocabulary)
    rarity = _rarity(texts.values())
    total = sum(rarity.get(term, _rarest(len(builds))) for term in wanted)
    scored = sorted(
        ((sum(rarity[term] for term in wanted & texts[build.job_number]) / total, build) for build in builds if total),
        key=lambda pair: -pair[0],
    )
    fitting = [(score, build) for score, build in scored if score >= LEAST_COVERED]
    if not fitting:
        raise NotFound(
            f"no build fits {words.strip()[:60]!r}; try a job number, a registration, a nickname or what was asked "
            "for, or see `diaryidx jobs list`"
        )
    if len(fitting) == 1 or fitting[0][0] >= CLEAR_LEAD * fitting[1][0]:
        return fitting[0][1]
    return [
        Candidate(
            build.job_number, f"{_named(build)}: fits {_shared(words, wanted & texts[build.job_number], vocabulary)}"
        )
        for score, build in fitting[:MOST_CANDIDATES]
        if score * CLEAR_LEAD >= fitting[0][0]
    ]


def describing_terms(text: str, vocabulary: Vocabulary | None = None) -> set[str]:
    """The trade's and the shop's terms and the stems of all other telling words of a text; "bike" tells no bike from
    another. What the shop calls otherwise ("our bronze") also counts by the words of its name."""
    own = [term for term in terms_in(text, vocabulary) if term.origin == "words.yaml"] if vocabulary else []
    terms = [term for named in (text, *(term.canonical for term in own)) for term in terms_in(named)]
    words = [word for named in (text, *(term.canonical for term in own)) for word in stems(named)]
    return {*(term.canonical for term in (*own, *terms)), *words} - {stem(word) for word in word_set("any_bike")}


def _texts(db: sqlite3.Connection, builds: Sequence[Build], vocabulary: Vocabulary | None) -> Mapping[str, set[str]]:
    """All that is known of each build, as terms."""
    texts = {build.job_number: describing_terms(_book_text(build), vocabulary) for build in builds}
    for statement in (*reading.statements(db), *reading.note_statements(db)):
        if statement.build in texts and statement.status != "usual practice":
            slots = (statement.part, statement.side, statement.task, statement.product)
            finishes = finish_sorts(statement.finish, vocabulary).values() if statement.finish else ()
            texts[statement.build].update((slot for slot in slots if slot), *finishes, stems(statement.text))
    return texts


def _book_text(build: Build) -> str:
    fields = (build.nickname, build.make, build.model, build.year, build.colour, build.asked_for, build.state)
    return " . ".join([*(field for field in fields if field), build.customer or ""])


def _rarity(texts: Iterable[set[str]]) -> dict[str, float]:
    """How telling each term is: the inverse document frequency of Robertson and Sparck Jones, kept above zero."""
    documents = list(texts)
    counts = Counter(term for terms in documents for term in terms)
    return {term: math.log(1 + (len(documents) - count + 0.5) / (count + 0.5)) for term, count in counts.items()}


def _rarest(documents: int) -> float:
    return math.log(1 + (documents + 0.5) / 0.5)


def _shared(words: str, terms: set[str], vocabulary: Vocabulary | None) -> str:
    """The typed words that fit, as they were typed."""
    typed = dict.fromkeys(re.findall(r"[^\W_]+(?:'\w+)?", words.lower()))
    fitting = [word for word in typed if terms & describing_terms(word, vocabulary)]
    return ", ".join(f"“{word}”" for word in fitting[:6]) or ", ".join(sorted(terms)[:6])
