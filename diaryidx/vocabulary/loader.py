"""The vocabulary: shipped trade words, the shop's own words and the names in its job book, as one set of terms.

Nothing here needs spaCy: the site finds terms in people's questions with ``find_terms``, and ``language`` builds its
pipeline from the same ``Vocabulary``.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from diaryidx.errors import VocabularyError
from diaryidx.records import Build, Label
from diaryidx.vocabulary import inflections
from diaryidx.vocabulary.inflections import Spellings, plain
from diaryidx.vocabulary.spoken_words import SpokenWord, heard_key, split_words, spoken_key
from diaryidx.vocabulary.yaml_files import SCHEMA, read_shipped

SAFETY_CLASSES = (
    "brakes", "steering", "suspension", "wheels", "fuel", "electrics", "lifting", "exhaust", "structure",
)  # fmt: skip
From = Literal["shipped", "words.yaml", "job book"]


@dataclass(frozen=True)
class Term:
    """One thing of the trade or of the shop, with every way of saying it.

    ``canonical`` is the name used everywhere; ``variants`` are lower-case phrases, inflections included. ``system`` is
    a part's system ("front end"); ``safety`` one of ``SAFETY_CLASSES``; ``leaves`` the finish or state that a task
    leaves; ``part_of`` the canonical name of the part it belongs to. ``sort`` narrows the label: colour, sheen, effect,
    process, state, material or stitch of a FINISH; place of a PERSON (in-house, outside, customer, other, staff).
    ``needs`` is what must stand beside an ambiguous side ("part" or "any"). ``jobs`` are job numbers of names from the
    job book; ``fits`` and ``supplier`` are told of products in words.yaml. ``origin`` says where the term comes from.
    """

    canonical: str
    label: Label
    variants: tuple[str, ...]
    system: str | None = None
    safety: str | None = None
    leaves: str | None = None
    part_of: str | None = None
    sort: str | None = None
    needs: str | None = None
    jobs: tuple[str, ...] = ()
    supplier: str | None = None
    fits: str | None = None
    origin: From = "shipped"

    def __hash__(self) -> int:
        return hash((self.canonical, self.label))


@dataclass(frozen=True)
class Vocabulary:
    """All terms of one shop.

    ``phrases`` maps each lower-case variant to its term; ``other_readings`` holds the second reading of a phrase that
    is both ("seal": a part, and a task). ``forms`` is the verb form of a task's variants: "base", "s", "ing", "past",
    "ed", "noun", or "both" for base and noun. ``apart`` maps a verb form and its particle, which may stand apart, to
    the task. ``shadows`` are everyday phrases that hide terms; ``weak`` task words count only beside a part,
    ``nouns`` are parts only where they stand as nouns.
    ``heard`` maps misheard words to meant ones; ``pronounce`` words to phonemes; ``cautions`` safety classes to texts.
    ``developments`` are the names of what the shop develops itself. ``fingerprint`` changes whenever anything that was
    loaded changes.
    """

    terms: tuple[Term, ...]
    phrases: dict[str, Term]
    other_readings: dict[str, Term] = field(default_factory=dict)
    forms: dict[str, str] = field(default_factory=dict)
    apart: dict[tuple[str, str], tuple[Term, str]] = field(default_factory=dict)
    shadows: frozenset[str] = frozenset()
    weak: frozenset[str] = frozenset()
    nouns: frozenset[str] = frozenset()
    opposites: dict[str, str] = field(default_factory=dict)
    heard: dict[str, str] = field(default_factory=dict)
    pronounce: dict[str, str] = field(default_factory=dict)
    cautions: dict[str, tuple[str, ...]] = field(default_factory=dict)
    developments: frozenset[str] = frozenset()
    currency: str = "GBP"
    fingerprint: str = ""
    by_canonical: dict[str, tuple[Term, ...]] = field(default_factory=dict)
    longest: dict[str, int] = field(default_factory=dict)

    def __hash__(self) -> int:
        return hash(self.fingerprint)

    def term(self, canonical: str | None, label: str | None = None) -> Term | None:
        """The term of this canonical name (and label), or None."""
        for term in self.by_canonical.get((canonical or "").lower(), ()):
            if label is None or term.label == label:
                return term
        return None


# --- loading ---------------------------------------------------------------------------------------------------------


def load_vocabulary(
    shop_words: Path | None = None,
    builds: Sequence[Build] = (),
    currency: str = "GBP",
    taught: Mapping[str, str] | None = None,
) -> Vocabulary:
    """Put together the vocabulary of a shop.

    Arguments:
        shop_words: the shop's words.yaml; None or a missing file means shipped words only.
        builds: the job book; makes, models, nicknames and (as people) customers become terms.
        currency: ISO 4217 code in which prices are said.
        taught: corrections that people taught, what was heard: what is meant; they outrank `heard` of words.yaml.
    Returns: the vocabulary. The shop's words outrank the shipped ones, which outrank names from the job book.
    Raises: VocabularyError, one line naming file and line, where words.yaml is wrong.
    """
    from diaryidx.vocabulary import shop_terms

    gathering = _Gathering()
    text = _shop_text(shop_words)
    if shop_words is not None and text is not None:
        shop_terms.add_words(gathering, shop_words, text)
    gathering.add_all(*_shipped())
    shop_terms.add_builds(gathering, builds)
    gathering.heard |= {heard_key(heard): meant for heard, meant in (taught or {}).items()}
    return gathering.finish(currency, _fingerprint(text, builds, currency, taught or {}))


@dataclass
class _Gathering:
    """What is being put together; the first reading of a phrase stays."""

    terms: list[Term] = field(default_factory=list)
    phrases: dict[str, Term] = field(default_factory=dict)
    other_readings: dict[str, Term] = field(default_factory=dict)
    forms: dict[str, str] = field(default_factory=dict)
    apart: dict[tuple[str, str], tuple[Term, str]] = field(default_factory=dict)
    heard: dict[str, str] = field(default_factory=dict)
    pronounce: dict[str, str] = field(default_factory=dict)
    developments: set[str] = field(default_factory=set)

    def add(self, term: Term, forms: Mapping[str, str] | None = None) -> None:
        """Add a term. A phrase already taken by another term becomes its second reading ("seal": part, then task);
        only a finish gives way to a verb with an ending ("polished" is first what was done, then how it looks)."""
        for phrase in term.variants:
            form = forms.get(phrase) if forms else None
            taken = self.phrases.setdefault(phrase, term)
            if taken is not term and taken.label != term.label:
                if (
                    taken.label == "FINISH"
                    and taken.origin == "shipped"
                    and form not in (None, "base", "s", "noun", "both")
                ):
                    self.phrases[phrase], self.other_readings[phrase] = term, taken
                else:
                    self.other_readings.setdefault(phrase, term)
            if form and term in (self.phrases[phrase], self.other_readings.get(phrase)):
                self.forms.setdefault(phrase, form)
        self.terms.append(term)

    def add_all(
        self, terms: Iterable[Term], forms: Mapping[str, str], apart: Mapping[tuple[str, str], tuple[Term, str]]
    ) -> None:
        """Add the shipped terms with their verb forms."""
        for term in terms:
            self.add(term, forms if term.label == "TASK" else None)
        for pair, found in apart.items():
            self.apart.setdefault(pair, found)

    def finish(self, currency: str, fingerprint: str) -> Vocabulary:
        """The vocabulary, with its look-up tables."""
        tables = _tables()
        by_canonical: dict[str, list[Term]] = {}
        for term in self.terms:
            by_canonical.setdefault(term.canonical.lower(), []).append(term)
        longest: dict[str, int] = {}
        for phrase in [*self.phrases, *tables.shadows]:
            words = phrase.split()
            longest[words[0]] = max(longest.get(words[0], 0), len(words))
        return Vocabulary(
            terms=tuple(self.terms),
            phrases=self.phrases,
            other_readings=self.other_readings,
            forms=self.forms,
            apart=self.apart,
            shadows=frozenset(tables.shadows),
            weak=tables.weak,
            nouns=tables.nouns,
            opposites=dict(_opposites()),
            heard=self.heard,
            pronounce=self.pronounce,
            cautions=_cautions(),
            developments=frozenset(self.developments),
            currency=currency,
            fingerprint=fingerprint,
            by_canonical={name: tuple(terms) for name, terms in by_canonical.items()},
            longest=longest,
        )


def _shop_text(path: Path | None) -> str | None:
    if path is None or not path.exists():
        return None
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise VocabularyError(f"{path}: not UTF-8 text (byte {error.start}); save it as UTF-8.") from error
    except OSError as error:
        raise VocabularyError(f"{path}: cannot be read ({error.strerror}).") from error


def _fingerprint(text: str | None, builds: Sequence[Build], currency: str, taught: Mapping[str, str]) -> str:
    digest = hashlib.sha256()
    for _, shipped in _shipped_files():
        digest.update(shipped.encode())
    digest.update((text or "").encode())
    digest.update(currency.encode())
    for build in builds:
        digest.update(repr((build.job_number, build.make, build.model, build.nickname, build.customer)).encode())
    digest.update(repr(sorted(taught.items())).encode() if taught else b"")
    return digest.hexdigest()[:16]


# --- shipped words ---------------------------------------------------------------------------------------------------


@cache
def _shipped_files() -> tuple[tuple[str, str], ...]:
    """Name and content of each shipped file, in a fixed order."""
    folder = resources.files("diaryidx.vocabulary")
    found: list[tuple[str, str]] = []
    for place in (folder, folder / "words", folder / "cues"):
        if place.is_dir():
            for file in sorted(place.iterdir(), key=lambda one: one.name):
                if file.name.endswith(".yaml") and file.name != SCHEMA:
                    found.append((file.name, file.read_text(encoding="utf-8")))
    return tuple(found)


@cache
def shipped_data(name: str) -> dict[str, Any]:
    """The data of one shipped YAML file, read once. All scalars are strings."""
    return read_shipped(dict(_shipped_files())[name])


@cache
def _tables() -> Spellings:
    data = shipped_data("spellings.yaml")
    return Spellings(
        spellings=data["spellings"],
        split=data["split"],
        irregular=data["irregular"],
        doubled=frozenset(data["doubled"]),
        particles=frozenset(data["particles"]),
        never=frozenset(data["never"]),
        weak=frozenset(data["weak"]),
        nouns=frozenset(data["only as nouns"]),
        bodily=frozenset(data["bodily"]),
        before_nouns=frozenset(data["before a noun"]),
        again=frozenset(data["again"]),
        shadows=tuple(spoken_key(phrase) for phrase in data["shadows"]),
    )


@cache
def _opposites() -> dict[str, str]:
    return dict(shipped_data("sides.yaml")["opposites"])


@cache
def _cautions() -> dict[str, tuple[str, ...]]:
    data = shipped_data("cautions.yaml")
    return {"general": tuple(data["general"]), **{name: tuple(texts) for name, texts in data["classes"].items()}}


_Shipped = tuple[tuple[Term, ...], dict[str, str], dict[tuple[str, str], tuple[Term, str]]]


@cache
def _shipped() -> _Shipped:
    """Every shipped term, the verb forms of tasks, and the verbs whose particle may stand apart."""
    terms: list[Term] = []
    forms: dict[str, str] = {}
    apart: dict[tuple[str, str], tuple[Term, str]] = {}
    for kind in ("sides", "parts", "finishes", "roles", "tasks"):
        for name, _ in _shipped_files():
            data = shipped_data(name)
            if data.get("kind") != kind:
                continue
            for entry in data["terms"]:
                if kind == "tasks":
                    terms.append(task_term(entry, forms, apart))
                else:
                    terms.append(noun_term(kind, entry, data.get("system")))
    return tuple(terms), forms, apart


def shipped_terms() -> tuple[Term, ...]:
    """Every shipped term."""
    return _shipped()[0]


@cache
def part_names() -> frozenset[str]:
    """Names of shipped parts and their systems, and the workshop: what a part may belong to."""
    parts = [term for term in shipped_terms() if term.label == "PART"]
    return frozenset({"workshop", *(term.canonical for term in parts), *(term.system for term in parts if term.system)})


def everyday_words() -> frozenset[str]:
    """Words that are never a name when alone, though a customer or a model may be called so."""
    return _tables().never | _tables().weak | frozenset(shipped_data("spellings.yaml")["everyday"])


def noun_term(kind: str, entry: Mapping[str, Any], system: str | None = None, origin: From = "shipped") -> Term:
    """A part, finish, side or role from its YAML entry."""
    tables = _tables()
    said = [plain(entry["name"]), *[plain(word) for word in entry.get("say", ())]]
    if kind in ("parts", "roles") and not entry.get("fixed"):
        said = [form for phrase in said for form in inflections.plural_and_singular(phrase)]
    said += [plain(word) for word in entry.get("exact", ())]
    label: dict[str, Label] = {"parts": "PART", "finishes": "FINISH", "sides": "SIDE", "roles": "PERSON"}
    return Term(
        canonical=entry["name"],
        label=label[kind],
        variants=_variants(said, tables, origin, nouns=kind == "parts"),
        system=entry.get("system", system),
        safety=entry.get("safety"),
        part_of=entry.get("part_of"),
        sort=entry.get("sort") or entry.get("place"),
        needs=entry.get("needs"),
        origin=origin,
    )


def task_term(
    entry: Mapping[str, Any],
    forms: dict[str, str],
    apart: dict[tuple[str, str], tuple[Term, str]],
    origin: From = "shipped",
) -> Term:
    """A task from its YAML entry; its verb forms are added to ``forms`` and ``apart``."""
    tables = _tables()
    said: dict[str, str] = {}
    for verb in [entry["name"], *entry.get("say", ())]:
        for phrase, form in inflections.verb_forms(plain(verb), tables):
            said.setdefault(phrase, form)
    for noun in entry.get("noun", ()):
        phrase = plain(noun)
        said[phrase] = "both" if said.get(phrase) in ("base", "both") else said.get(phrase, "noun")
    for phrase, form in list(said.items()):
        for spelled in inflections.spelled([phrase], tables):
            said.setdefault(spoken_key(spelled), form)
    variants = _variants(said, tables, origin)
    term = Term(
        canonical=entry["name"], label="TASK", variants=variants, safety=entry.get("safety"),
        leaves=entry.get("leaves"), sort=entry.get("sort"), origin=origin,
    )  # fmt: skip
    for phrase in variants:
        forms.setdefault(phrase, said[phrase])
    for verb in entry.get("apart", ()):
        for phrase, form in inflections.verb_forms(plain(verb), tables):
            first, _, rest = phrase.partition(" ")
            apart.setdefault((first, rest), (term, form))
    return term


def _variants(said: Iterable[str], tables: Spellings, origin: From, nouns: bool = False) -> tuple[str, ...]:
    spelled = dict.fromkeys(spoken_key(phrase) for phrase in inflections.spelled(said, tables))
    if origin == "shipped":
        never = tables.never - tables.nouns if nouns else tables.never
        return tuple(phrase for phrase in spelled if phrase not in never)
    return tuple(spelled)


# --- finding ---------------------------------------------------------------------------------------------------------


def find_terms(vocabulary: Vocabulary, text: str) -> list[tuple[int, int, Term]]:
    """Find the terms in a text, the longest first at every place, without spaCy.

    Arguments:
        vocabulary: where to look.
        text: any text, as a person types or an engine hears it.
    Returns: start, end (characters of ``text``) and term, in reading order, none overlapping.
    """
    words = split_words(text)
    spoken = [one.word for one in words]
    found: list[tuple[int, int, Term]] = []  # places as words
    place = 0
    while place < len(words):
        length, term = _longest_at(vocabulary, words, place)
        if term is not None and stands_as_noun(vocabulary, spoken, place, length, term):
            found.append((place, place + length, term))
        place += max(length, 1)
    parts = [(start, end) for start, end, term in found if term.label == "PART"]
    return [
        (words[start].start, words[end - 1].end, term)
        for start, end, term in found
        if not is_weak(vocabulary, words[start].word, term) or beside_a_part(start, end, parts)
    ]


def is_weak(vocabulary: Vocabulary, word: str, term: Term) -> bool:
    """Whether a task word ("move", "found") counts only where a part stands close by."""
    return term.label == "TASK" and word in vocabulary.weak and word in term.variants


def stands_as_noun(vocabulary: Vocabulary, words: Sequence[str], place: int, length: int, term: Term) -> bool:
    """Whether a word that is a part only as a noun ("head", "cover", "spring") stands as one; all other words do."""
    if length > 1 or words[place] not in vocabulary.nouns or term.label != "PART" or term.origin != "shipped":
        return True
    before = words[place - 1] if place else "."
    after = words[place + 1] if place + 1 < len(words) else "."
    if after in _AFTER_NOUNS and (before in _ENDS or before in ("and", "but", "so", "then")):
        return True
    if after in ("goes", "came", "comes", "went") and before not in _OWNERS and before not in ("to", "over"):
        return True
    if before in _ONE_OF and words[place].endswith("s") and not words[place].endswith("ss"):
        return False  # "till that stops": no noun, but what it does
    if before == "of":
        return after not in _OBJECTS
    if before in _tables().before_nouns:
        owned = before in _OWNERS and words[place] in _tables().bodily
        return not owned and after not in ("of", "up", "to")
    if before in _BEFORE_MANY:
        return words[place].endswith("s") and after not in _OBJECTS
    said = vocabulary.phrases.get(before)
    if said is not None and said.label in ("SIDE", "FINISH", "MAKE", "MODEL"):
        return True
    return before in ("and", ",") and _in_a_row(vocabulary, words, place - 2, after)


def _in_a_row(vocabulary: Vocabulary, words: Sequence[str], last: int, after: str) -> bool:
    """Whether a noun follows "and" in a row of parts that ends here: "new seals and clips"."""
    if last < 0 or after in _OBJECTS:
        return False
    if words[last] in _ENDS:
        last -= 1
    before = vocabulary.phrases.get(words[last]) if last >= 0 else None
    return before is not None and before.label == "PART"


_OWNERS = frozenset(("his", "her", "my", "your", "our", "their"))
_ONE_OF = frozenset(("that", "this", "a", "an", "another", "each", "every"))
_BEFORE_MANY = frozenset(("with", "for", "without", "on", "some", "any", "no"))
_OBJECTS = frozenset(
    (
        "the",
        "a",
        "an",
        "it",
        "them",
        "this",
        "that",
        "these",
        "those",
        "my",
        "his",
        "her",
        "our",
        "your",
        "up",
        "to",
        "you",
    )
)
_ENDS = frozenset(".,;:!?")
_AFTER_NOUNS = frozenset(
    ("'s", "is", "are", "was", "were", "has", "have", "needs", "'re", ":", "'ll", "will", "skimmed", "off", "on", "out")
)


def beside_a_part(start: int, end: int, parts: Sequence[tuple[int, int]]) -> bool:
    """Whether a part stands right behind the words ``start`` to ``end``, or not far before them."""
    return any(0 <= first - end <= 3 or 0 < start - last <= 4 for first, last in parts)


def _longest_at(vocabulary: Vocabulary, words: Sequence[SpokenWord], place: int) -> tuple[int, Term | None]:
    longest = min(vocabulary.longest.get(words[place].word, 0), len(words) - place)
    for length in range(longest, 0, -1):
        phrase = " ".join(word.word for word in words[place : place + length])
        if phrase in vocabulary.shadows:
            return length, None
        if phrase in vocabulary.phrases:
            return length, vocabulary.phrases[phrase]
    return 0, None


STARTER_WORDS = """\
# The shop's own words. Everything here outranks the words that come with the program.
# After a change run `diaryidx index`: films are understood again, not listened to again.
# Remove the "#" and put your own in place of the examples.

suppliers:          # who you buy from or send parts to
#- Name of a supplier
#- {name: Name of a plater, say: [how you say it, another way]}

products:           # what you sell
#- {name: Short Tail Kit, say: [the tail kit], supplier: our own, fits: which bikes}

developments:       # what you develop yourselves, from the first idea to the shelf
#- {name: headlamp bracket, say: [the bracket we drew]}

people:             # who is heard or named on film
#- {name: First name, role: upholsterer}

parts:              # parts you call something of your own
#- {name: handlebars, say: [the steering]}
#- {name: tail hoop kit, say: [hoop kit], system: seat and bodywork, safety: structure}

tasks:
#- {name: paint, say: [squirt]}

finishes:
#- {name: workshop grey, say: [our grey], sort: colour}

nicknames:          # what you call a bike, and its job number
#- {name: the green one, job: "1024"}

pronounce:          # word: phonemes, for words the engine does not know
heard:              # misheard: meant
#  cellar bars: clip-ons
"""
