"""What in a stretch of film speaks for which build: each clue with the gain it gives, as a logarithm of odds.

A name said on film (a model, a nickname, a customer, a number) is taken to be the build's own with a fixed trust,
against the share of builds in the shop that have the same name: what many share tells little. Parts, finishes and tasks
are scored as in query likelihood with Jelinek-Mercer smoothing (Zhai and Lafferty, "A study of smoothing methods for
language models applied to information retrieval", ACM TOIS 22(2), 2004): how much likelier a term is said of this
build, by what was asked for and said before, than of any.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from diaryidx.builds.finding import plain_number, plain_registration
from diaryidx.builds.spoken import job_numbers_said, spelled_signs, tokens
from diaryidx.builds.wishes import shipped_vocabulary, stems, terms_in, wishes
from diaryidx.builds.word_lists import word_set
from diaryidx.records import Build, Mention, Segment, Sentence, Statement
from diaryidx.vocabulary.loader import Vocabulary, everyday_words

#: How often a name that is said is that of the bike being shown, and not of another one spoken of in passing (our own
#: estimate; `tests/bench/bench_linking_small.py` shows what comes of it).
TRUST = {"nickname": 0.9, "model": 0.88, "make": 0.85, "customer": 0.85, "job number": 0.98, "registration": 0.98}
#: How much of what is said of a bike is what was asked for or said of it before; the rest could be said of any bike.
OWN_SHARE = {"part": 0.35, "finish": 0.35, "task": 0.2, "pair": 0.45, "word": 0.25, "name": 0.35}
#: No single term, however rare, counts for more than this.
MOST_GAIN = 3.0
#: What it costs a build when another finish of the same sort is said of a part than the one asked for.
CONTRADICTION = -0.8
_SHORTEST_REGISTRATION = 4
_LONGEST_NAME = 5

Key = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Clue:
    """Something said: the gain for each build that it fits, and for all others; ``words`` says it to a person."""

    gains: dict[str, float]
    otherwise: float
    words: dict[str, str]


@dataclass(slots=True)
class Profile:
    """What is known of one build, as terms; each with how a person would be told of it."""

    terms: dict[Key, str] = field(default_factory=dict)
    finishes: dict[str, dict[str, set[str]]] = field(default_factory=lambda: defaultdict(lambda: defaultdict(set)))

    def add(self, statement: Statement, told: str) -> None:
        """Add the terms of a wish or of something said before."""
        for key in statement_terms(statement):
            self.terms.setdefault(key, told)
        for sort, names in by_sort(statement.finish).items():
            self.finishes[statement.part or ""][sort] |= names


@dataclass(frozen=True, slots=True)
class Shop:
    """The builds as a film of one day may speak of them: ``weights`` says how likely each is in the shop that day."""

    builds: Sequence[Build]
    weights: Mapping[str, float]
    profiles: Mapping[str, Profile]
    names: Mapping[str, Mapping[str, frozenset[str]]]
    counts: Mapping[Key, float]
    totals: Mapping[str, float]

    def share(self, jobs: Iterable[str]) -> float:
        """The share of the bikes in the shop that these are."""
        total = sum(self.weights.values())
        return min(1.0, max(sum(self.weights[job] for job in jobs), min(self.weights.values())) / total)


@dataclass(frozen=True, slots=True)
class Said:
    """What is said in one segment: words as heard and as repaired, terms with how often, mentions."""

    words: tuple[tuple[str, ...], ...]
    mentions: tuple[Mention, ...]
    terms: Counter[Key]
    finishes: Mapping[str, Mapping[str, set[str]]]


# --- what is known ---------------------------------------------------------------------------------------------------


def shop_on_the_day(builds: Sequence[Build], weights: Mapping[str, float], earlier: Sequence[Statement]) -> Shop:
    """Gather what is known of each build before a film: the job book, and what earlier films said.

    :param weights: how likely each build is in the shop, above 0, by job number.
    """
    profiles = {build.job_number: Profile() for build in builds}
    for build in builds:
        for wish in wishes(build):
            profiles[build.job_number].add(wish, f"asked for: {wish.text}")
        if build.colour:
            for names in by_sort(build.colour).values():
                for name in names:
                    profiles[build.job_number].terms.setdefault(("finish", name), f"is {build.colour}")
    for statement in earlier:
        if statement.build in profiles and statement.status != "usual practice" and statement.source != "book":
            profiles[statement.build].add(statement, f"said of it before: {statement.text}")
    counts: Counter[Key] = Counter()
    for job, profile in profiles.items():
        for key in profile.terms:
            counts[key] += weights[job]  # type: ignore[assignment]
    totals: Counter[str] = Counter()
    for key, count in counts.items():
        totals[key[0]] += count
    return Shop(builds, weights, profiles, _names(builds), counts, totals)


def _names(builds: Sequence[Build]) -> dict[str, dict[str, frozenset[str]]]:
    """``{kind: {name as said: job numbers}}``, for names that are not everyday words."""
    found: dict[str, dict[str, set[str]]] = {kind: defaultdict(set) for kind in TRUST}
    for build in builds:
        for kind, text in (("nickname", build.nickname), ("make", build.make), ("model", build.model)):
            words = [word for word in tokens(text or "") if not (kind == "nickname" and word in ("the", "a"))]
            forms = {" ".join(words)} | ({words[0]} if kind == "model" and words and _tells(words[0]) else set())
            for form in forms:
                if form and form not in everyday_words():
                    found[kind][form].add(build.job_number)
        for form in _customer_forms(build.customer or ""):
            found["customer"][form].add(build.job_number)
        found["job number"][plain_number(build.job_number)].add(build.job_number)
        if len(plate := plain_registration(build.registration or "")) >= _SHORTEST_REGISTRATION:
            found["registration"][plate].add(build.job_number)
    return {kind: {name: frozenset(jobs) for name, jobs in names.items()} for kind, names in found.items()}


def _tells(word: str) -> bool:
    return len(word) > 3 and word.isalpha()


def _customer_forms(customer: str) -> set[str]:
    """A customer's whole name and surname; first names alone come as mentions, judged by the vocabulary."""
    words = [word for word in tokens(customer) if word not in word_set("titles")]
    forms = {" ".join(words)} if len(words) > 1 else set()
    if words and _tells(words[-1]) and not _is_trade_word(words[-1]):
        forms.add(words[-1])
    return {form for form in forms if form not in everyday_words()}


def _is_trade_word(word: str) -> bool:
    return word in shipped_vocabulary().phrases


def statement_terms(statement: Statement) -> Iterator[Key]:
    """The terms of a statement or wish: alone, in pairs of part and what is said of it, and its other telling words."""
    part, finishes = statement.part, [name for names in by_sort(statement.finish).values() for name in sorted(names)]
    tasks = [statement.task] if statement.task else []
    if part:
        yield "part", part
    yield from (("finish", finish) for finish in finishes)
    yield from (("task", task) for task in tasks)
    yield from (("name", name) for name in (statement.product, statement.supplier) if name)
    if part:
        yield from (("pair", part, other) for other in (*finishes, *tasks))
        if statement.side:
            yield "pair", part, statement.side
    if statement.source == "book":
        yield from (("word", word) for word in _other_words(statement.text))


def _other_words(text: str) -> Iterator[str]:
    """Telling words of a wish that the trade has no term for."""
    covered = {word for term in terms_in(text) for phrase in term.variants for word in stems(phrase)}
    yield from (word for word in dict.fromkeys(stems(text)) if word not in covered and len(word) > 2)


def by_sort(finish: str | None, vocabulary: Vocabulary | None = None) -> dict[str, set[str]]:
    """A finish cut into its terms by their sort: ``{"colour": {"black"}, "sheen": {"satin"}}``."""
    sorts: dict[str, set[str]] = {}
    for term in terms_in(finish, vocabulary) if finish else ():
        if term.label == "FINISH":
            sorts.setdefault(term.sort or "finish", set()).add(term.canonical)
    if finish and not sorts:
        sorts["finish"] = {finish.lower()}
    return sorts


# --- what is said ----------------------------------------------------------------------------------------------------


def said_in(
    segment: Segment, sentences: Sequence[Sentence], mentions: Sequence[Mention], statements: Sequence[Statement]
) -> Said:
    """Gather what is said in a segment. Usual practice and advice say nothing of the bike that stands there."""
    spoken = sentences[segment.first : segment.last + 1]
    own = tuple(mention for mention in mentions if segment.first <= mention.sentence <= segment.last)
    facts = [
        one for one in statements if segment.first <= one.sentence <= segment.last and one.status != "usual practice"
    ]
    terms: Counter[Key] = Counter()
    finishes: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    labels = {"PART": "part", "FINISH": "finish", "TASK": "task", "PRODUCT": "name", "SUPPLIER": "name"}
    for mention in own:
        if mention.label in labels:
            terms[labels[mention.label], mention.canonical] += 1
    for fact in facts:
        for key in set(statement_terms(fact)):
            terms[key] += 1
        for sort, names in by_sort(fact.finish).items():
            finishes[fact.part or ""][sort] |= names
    for sentence in spoken:
        for word in set(stems(sentence.text)):
            terms["word", word] += 1
    words = tuple(dict.fromkeys(tuple(tokens(text)) for one in spoken for text in (one.text, one.heard)))
    return Said(words, own, terms, finishes)


# --- clues -----------------------------------------------------------------------------------------------------------


def clues(said: Said, shop: Shop, film: Mapping[Key, float]) -> list[Clue]:
    """Every clue of one segment.

    :param film: the share of the film's segments in which each term is said; what is said of every bike tells little.
    """
    found = [clue for kind in TRUST if (clue := _name_clue(kind, said, shop)) is not None]
    for key in said.terms:
        if (clue := _term_clue(key, shop, film.get(key, 0.0))) is not None:
            found.append(clue)
    return [*found, *_contradictions(said, shop)]


def _name_clue(kind: str, said: Said, shop: Shop) -> Clue | None:
    """All names of one kind that are said; the trust is shared out by how often each is."""
    heard = _names_heard(kind, said, shop)
    if not heard:
        return None
    total = sum(heard.values())
    trust = TRUST[kind]
    gains: dict[str, float] = {}
    words: dict[str, str] = {}
    for name, count in heard.items():
        jobs = shop.names[kind][name]
        gain = math.log((1 - trust + trust * count / total) / max(shop.share(jobs), 1e-6))
        for job in jobs:
            if gain > gains.get(job, -math.inf):
                gains[job], words[job] = gain, _told(kind, name)
    otherwise = math.log(1 - trust)
    for build in shop.builds:
        if kind in ("model", "make") and getattr(build, kind) is None:
            gains.setdefault(build.job_number, 0.0)
    return Clue(gains, otherwise, words)


def _told(kind: str, name: str) -> str:
    """A clue in words; what is private to a customer is not spelled out."""
    if kind == "customer":
        return "named the customer"
    if kind == "registration":
        return "said its registration"
    return f"said job number {name}" if kind == "job number" else f"said '{name}'"


def _names_heard(kind: str, said: Said, shop: Shop) -> Counter[str]:
    names = shop.names[kind]
    heard: Counter[str] = Counter()
    if kind == "job number":
        for words in said.words:
            heard.update({number.lstrip("0") for number in job_numbers_said(words)} & names.keys())
        heard.update(name for mention in said.mentions if mention.label == "JOB"
                     and (name := plain_number(mention.canonical)) in names)  # fmt: skip
        return heard
    if kind == "registration":
        for words in said.words:
            for signs in map(plain_registration, spelled_signs(words)):
                heard.update(plate for plate in names if plate in signs)
        return heard
    labels = {"nickname": "NICKNAME", "make": "MAKE", "model": "MODEL", "customer": "PERSON"}
    for mention in said.mentions:
        if mention.label == labels[kind]:
            name = " ".join(
                word for word in tokens(mention.canonical) if not (kind == "nickname" and word in ("the", "a"))
            )
            heard.update({name} & names.keys())
    for words in said.words:
        heard.update(_names_in(words, names))
    return _without_parts(heard)


def _names_in(words: Sequence[str], names: Mapping[str, frozenset[str]]) -> Iterator[str]:
    """Names among words: as they are, with a possessive, or cut in two by the engine ("dun lin")."""
    plain = [word.removesuffix("'s") for word in words]
    for start in range(len(plain)):
        for length in range(1, min(_LONGEST_NAME, len(plain) - start) + 1):
            phrase = " ".join(plain[start : start + length])
            if phrase in names:
                yield phrase
        joined = "".join(plain[start : start + 2])
        if len(joined) > 5 and joined in names and start + 1 < len(plain):
            yield joined


def _without_parts(heard: Counter[str]) -> Counter[str]:
    """A name that is only part of a longer one that is said is not said by itself: "otter 500" is not every otter."""
    longer = [name for name in heard if any(name != other and f" {name} " in f" {other} " for other in heard)]
    return Counter({name: count for name, count in heard.items() if name not in longer})


def _term_clue(key: Key, shop: Shop, film_share: float) -> Clue | None:
    """A term of the trade: what it gains every build whose profile has it."""
    if key not in shop.counts:
        return None
    family = key[0]
    own = OWN_SHARE[family]
    anywhere = max(shop.counts[key] / shop.totals[family], 1e-6)
    gains: dict[str, float] = {}
    words: dict[str, str] = {}
    for job, profile in shop.profiles.items():
        if key in profile.terms:
            size = sum(1 for other in profile.terms if other[0] == family)
            ratio = (1 / size) / anywhere
            gain = math.log(1 + own / (1 - own) * ratio) * (1 - 0.5 * film_share)
            gains[job], words[job] = min(gain, MOST_GAIN), profile.terms[key]
    return Clue(gains, 0.0, words)


def _contradictions(said: Said, shop: Shop) -> list[Clue]:
    """Builds of whose parts other finishes are known than those that are said."""
    found = []
    for part, sorts in said.finishes.items():
        for sort, names in sorts.items():
            against = {
                job: CONTRADICTION
                for job, profile in shop.profiles.items()
                if part and part in profile.finishes
                and (known := profile.finishes[part].get(sort)) and not known & names
            }  # fmt: skip
            if against:
                found.append(Clue(against, 0.0, {}))
    return found
