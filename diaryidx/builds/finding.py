"""From what a person types to the build that is meant: a number, a plate, a name, or words that describe it."""

from __future__ import annotations

import math
import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence

from diaryidx.builds.job_book import plain_job_number
from diaryidx.builds.spoken import job_numbers_said, tokens
from diaryidx.builds.vin import plain_vin
from diaryidx.builds.wishes import finish_sorts, stem, stems, terms_in
from diaryidx.builds.word_lists import word_set
from diaryidx.errors import NotFound
from diaryidx.records import Build, Candidate
from diaryidx.store import reading

#: A description must account for this share of the words (by how telling they are) to be taken for a build at all, and
#: for the clear winner's lead over the next (our own choice).
LEAST_COVERED = 0.4
CLEAR_LEAD = 1.25
MOST_CANDIDATES = 8
_VIN_TAIL = 4
_SHORTEST_PLATE = 4


def find_build(db: sqlite3.Connection, words: str) -> Build | list[Candidate]:
    """Find the build that a person means.

    Tried in this order, the first that fits anything decides: job number, registration, VIN or its last signs,
    nickname, customer, make and model, a job number in words or a registration among other words, and at last a
    description, matched against the job book and all that films and notes said.

    :returns: the build, or several candidates with the reason for each.
    :raises NotFound: nothing fits; the message says what may be typed.
    """
    builds = reading.builds(db)
    if not builds:
        raise NotFound("the job book is empty; `diaryidx jobs import FILE` reads it in")
    for why, found in _exactly(builds, words):
        if len(found) == 1:
            return found[0]
        if found:
            return [Candidate(build.job_number, f"{why} {_named(build)}") for build in found[:MOST_CANDIDATES]]
    return _described(db, builds, words)


def plain_registration(text: str) -> str:
    """A registration as it is compared: no spaces or dashes, one case, and O for 0 or I for 1 forgiven."""
    return _signs(text).replace("O", "0").replace("I", "1")


def _signs(text: str) -> str:
    """The letters and digits of a text, in capitals."""
    return re.sub(r"[\W_]", "", text).upper()


def plain_number(text: str) -> str:
    """A job number as it is compared: letters and digits in lower case, without zeros in front."""
    return re.sub(r"[\W_]", "", plain_job_number(text)).lower().lstrip("0") or "0"


def _exactly(builds: Sequence[Build], words: str) -> Iterable[tuple[str, list[Build]]]:
    """Each way of naming a build exactly, with those that it names."""
    text = words.strip()
    exact = [build for build in builds if build.job_number == text]
    yield "has the job number of", exact
    if any(sign.isdigit() for sign in text):
        yield "has the job number of", _equal(builds, plain_number(text), lambda build: plain_number(build.job_number))
    plate = plain_registration(text)
    if len(plate) >= 2:
        # "AI 1" and "A 11" are two marks: one that is typed as it stands is meant before one that looks like it.
        typed = _signs(text)
        yield "has the registration of", _equal(builds, typed, lambda build: _signs(build.registration or ""))
        yield (
            "has the registration of",
            _equal(builds, plate, lambda build: plain_registration(build.registration or "")),
        )
    vin = plain_vin(text)
    if len(vin) >= _VIN_TAIL and any(sign.isdigit() for sign in vin):
        yield "has a VIN that ends so:", [build for build in builds if plain_vin(build.vin or "").endswith(vin)]
    name = _plain_name(text)
    if name:
        yield "is called so:", _equal(builds, name, lambda build: _plain_name(build.nickname or ""))
        yield (
            "belongs to a customer of that name:",
            [build for build in builds if _names_customer(name, _plain_name(build.customer or ""))],
        )
        yield "is one of that kind:", [build for build in builds if name in _bike_names(build)]
    said = set(job_numbers_said(tokens(text)))
    yield "has the job number of", [build for build in builds if plain_number(build.job_number) in said]
    plates = _plates_in(text)
    yield (
        "has the registration of",
        [build for build in builds if plain_registration(build.registration or "-") in plates],
    )


def _plates_in(text: str) -> set[str]:
    """What may be a registration among other words: up to three words in a row, four signs or more."""
    words = text.split()
    runs = (words[first : first + length] for length in (1, 2, 3) for first in range(len(words)))
    return {plate for run in runs if len(plate := plain_registration("".join(run))) >= _SHORTEST_PLATE}


def _equal(builds: Sequence[Build], wanted: str, key: Callable[[Build], str]) -> list[Build]:
    return [build for build in builds if wanted and key(build) == wanted]


def _plain_name(text: str) -> str:
    words = re.findall(r"[^\W_]+", text.lower().replace("&", " and ").replace("'s", "").replace("’s", ""))
    return " ".join(word for word in words if word not in word_set("titles") and word != "the")


def _names_customer(wanted: str, customer: str) -> bool:
    """A whole name, or a surname or first name alone."""
    return bool(customer) and (wanted == customer or (" " not in wanted and wanted in customer.split()))


def _bike_names(build: Build) -> set[str]:
    make, model = _plain_name(build.make or ""), _plain_name(build.model or "")
    return {
        name for name in (make, model, f"{make} {model}".strip(), f"{build.year or ''} {make} {model}".strip()) if name
    }


def _named(build: Build) -> str:
    colour = f", {build.colour}" if build.colour else ""
    return f"{build.name}{colour}"


def _described(db: sqlite3.Connection, builds: Sequence[Build], words: str) -> Build | list[Candidate]:
    wanted = describing_terms(words)
    texts = _texts(db, builds)
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
        Candidate(build.job_number, f"{_named(build)}: fits {_shared(words, wanted & texts[build.job_number])}")
        for score, build in fitting[:MOST_CANDIDATES]
        if score * CLEAR_LEAD >= fitting[0][0]
    ]


def describing_terms(text: str) -> set[str]:
    """The trade's terms and the stems of all other telling words of a text; "bike" tells no bike from another."""
    return ({term.canonical for term in terms_in(text)} | set(stems(text))) - {
        stem(word) for word in word_set("any_bike")
    }


def _texts(db: sqlite3.Connection, builds: Sequence[Build]) -> Mapping[str, set[str]]:
    """All that is known of each build, as terms."""
    texts = {build.job_number: describing_terms(_book_text(build)) for build in builds}
    for statement in (*reading.statements(db), *reading.note_statements(db)):
        if statement.build in texts and statement.status != "usual practice":
            slots = (statement.part, statement.side, statement.task, statement.product)
            finishes = finish_sorts(statement.finish).values() if statement.finish else ()
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


def _shared(words: str, terms: set[str]) -> str:
    """The typed words that fit, as they were typed."""
    typed = dict.fromkeys(re.findall(r"[^\W_]+(?:'\w+)?", words.lower()))
    fitting = [word for word in typed if terms & describing_terms(word)]
    return ", ".join(f"“{word}”" for word in fitting[:6]) or ", ".join(sorted(terms)[:6])
