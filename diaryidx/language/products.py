"""Product lines: what the shop sells, from whom, for which bike, at what price, and whether it can be had."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from diaryidx.language.discourse import phrases, phrases_of, words_of
from diaryidx.language.found import Found, Item
from diaryidx.language.hedges import price_hedge
from diaryidx.language.patterns import Row, patterns
from diaryidx.language.segments import Stretch
from diaryidx.language.told import Told
from diaryidx.records import ProductLine, RecordingKind
from diaryidx.vocabulary.loader import Vocabulary

_FILE = "availability.yaml"
_VERBS = ("are", "is", "'re", "'s", "were", "come", "fit", "will", "'ll")
Availability = Literal["available", "coming", "sold out"]


def product_lines(
    told: Sequence[Told], stretches: Sequence[Stretch], kind: RecordingKind, vocabulary: Vocabulary
) -> list[ProductLine]:
    """Find product lines.

    Arguments:
        told: all sentences of the film.
        stretches: its topic stretches; a price belongs to a product of the same stretch.
        kind: the kind of film; outside product news a price must stand with words of selling.
        vocabulary: for what words.yaml says of a product (supplier, fits).
    Returns: one line for each product of a stretch, with the price said nearest after it.
    """
    lines: list[ProductLine] = []
    if kind == "product news":
        return [line for part in _joined(told, stretches) for line in _lines(part, vocabulary)]
    for stretch in stretches:
        part = told[stretch.first : stretch.last + 1]
        if stretch.subject.kind == "product":
            lines += _lines(part, vocabulary)
        elif kind != "bench note":
            lines += [line for line in _lines(part, vocabulary) if _sells(part, line)]
    return lines


def _joined(told: Sequence[Told], stretches: Sequence[Stretch]) -> list[list[Told]]:
    """The sentences of each stretch; one that only speaks on ("these are from ...") belongs to the one before."""
    joined: list[list[Told]] = []
    for stretch in stretches:
        part = list(told[stretch.first : stretch.last + 1])
        if joined and _is_pronoun(_subject(part[0]), part[0].words):
            joined[-1] += part
        else:
            joined.append(part)
    return joined


def _sells(told: Sequence[Told], line: ProductLine) -> bool:
    """Whether the sentence with the price speaks of selling, not of what a job costs a customer."""
    sentences = [one for one in told if one.text == line.text]
    return line.price is not None and any(phrases("product cues").within(one.words) for one in sentences)


def _lines(told: Sequence[Told], vocabulary: Vocabulary) -> list[ProductLine]:
    """The lines of one stretch. A sentence that names nothing ("they're forty quid") tells of the last product."""
    lines: dict[str, ProductLine] = {}
    current: str | None = None
    for one in told:
        named = _named(one, first=current is None)
        for name, found in named:
            known = next((line for line in lines if line.lower().endswith(name.lower())), None)
            name = known or name
            lines.setdefault(name, _line(name, found, one, vocabulary))
            current = name
        if current is not None:
            lines[current] = _told_more(lines[current], one)
    return [line for line in lines.values() if _says_something(line, vocabulary)]


def _says_something(line: ProductLine, vocabulary: Vocabulary) -> bool:
    return line.price is not None or bool(line.availability) or vocabulary.term(line.product, "PRODUCT") is not None


def _named(one: Told, first: bool) -> list[tuple[str, Found]]:
    """Products by name; else the part that a sentence names first, as it is called here ("waxed canvas pannier")."""
    products = one.labelled("PRODUCT")
    if products:
        return [(found.canonical, found) for found in products]
    subject = _subject(one)
    if subject is None or (subject.letter == "t" and subject.word not in ("here", "there", "this", "these")):
        return []
    if not first and _is_pronoun(subject, one.words):
        return []
    selling = one.labelled("PRICE") or _of_goods(one) or "new" in one.words
    parts = one.labelled("PART")[:1]
    return [(_called(one, found), found) for found in parts] if selling or first else []


def _subject(one: Told) -> Item | None:
    """The first thing of a sentence: a stand-in ("they"), a part or a bike."""
    return next((item for item in one.doc._.items if item.letter in "tPB"), None)


def _is_pronoun(subject: Item | None, words: Sequence[str]) -> bool:
    """Whether it stands for what was named before: "they", "these are from ...", but not "these are the new ..."."""
    if subject is None or subject.letter != "t" or subject.word in ("here", "there"):
        return False
    if subject.word not in ("this", "these", "that", "those"):
        return True
    behind = words[subject.end : subject.end + 2]
    return bool(behind) and behind[0] in _VERBS and words_of("introduces a product").isdisjoint(behind[1:])


def _of_goods(one: Told) -> bool:
    return phrases("product cues").within(one.words) or phrases("stock words").within(one.words)


_JOINED_TO = ("on", "in")  # "bolt on hoop kit", "weld in bung"
_FIXED_BY = ("bolt", "slip", "clip", "weld", "plug", "screw", "snap")


def _called(one: Told, found: Found) -> str:
    start = found.start
    while start > 0 and found.start - start < 5 and _of_name(one.words, start - 1):
        start -= 1
    end = found.end
    while end < len(one.words) and one.words[end] in ("kit", "set", "kits", "sets"):
        end += 1
    return one.quote(start, end).lower()


def _of_name(words: Sequence[str], place: int) -> bool:
    if words[place] in _JOINED_TO:
        return place > 0 and words[place - 1] in _FIXED_BY
    return words[place].isalpha() and words[place] not in words_of("never in a product's name")


def _line(name: str, found: Found, one: Told, vocabulary: Vocabulary) -> ProductLine:
    term = vocabulary.term(name, "PRODUCT")
    return ProductLine(
        product=name, start=one.sentence.start, end=one.sentence.end, text=one.text,
        supplier=term.supplier if term else None, fits=term.fits if term else None,
        certainty=0.8 if found.label == "PRODUCT" else 0.6,
    )  # fmt: skip


def _told_more(line: ProductLine, one: Told) -> ProductLine:
    prices, suppliers = one.labelled("PRICE"), one.labelled("SUPPLIER")
    if prices and line.price is None:
        value, hedge = prices[0].value or {}, price_hedge(one, prices[0])
        line = replace(
            line, price=value["amount"], currency=value["currency"], text=one.text, end=one.sentence.end,
            approximate=bool(value["approximate"]) or hedge is not None or _hedged(one, prices[0]), hedge=hedge,
        )  # fmt: skip
    if suppliers and line.supplier is None:
        line = replace(line, supplier=suppliers[0].canonical)
    if line.fits is None and (fits := _fits(one)):
        line = replace(line, fits=fits)
    availability = _availability(one)
    if availability and line.availability is None:
        line = replace(line, availability=availability, end=max(line.end, one.sentence.end))
    return line


def _hedged(one: Told, price: Found) -> bool:
    clause = next((clause for clause in one.clauses if clause.start <= price.start < clause.end), None)
    return clause is not None and "hedge" in clause.kinds


def _fits(one: Told) -> str | None:
    names = [
        found
        for found in one.labelled("MODEL", "MAKE")
        if {"fit", "fits", "for", "fitting", "suit", "suits"} & set(one.words[max(0, found.start - 6) : found.start])
    ]
    return " ".join(dict.fromkeys(found.canonical for found in names)) or None


def _availability(one: Told) -> Availability | None:
    """What a sentence says of stock: what is gone counts before what is to come, that before what is there.

    But what is said to be back after it was gone is there again, and what is there now is there, though more may come.
    """
    dates = (date for date in one.labelled("DATE") if not (date.value or {}).keys() <= {"text", "day"})
    row = Row.of(one.words, ((date.start, date.end, "DATE") for date in dates))  # "the first delivery" is no day
    gone, coming, there = (patterns(_FILE, name).first(row) for name in ("sold out", "coming", "available"))
    if gone and (there or coming):
        after = [(match.start, name) for match, name in ((coming, "coming"), (there, "available")) if match]
        later = [name for start, name in sorted(after) if start >= gone.end]
        if later and phrases_of(_FILE, "back again").within(one.words):
            return "coming" if coming else "available"
    if gone:
        return "sold out"
    if coming and there and there.end <= coming.start and phrases_of(_FILE, "by now").within(one.words[: coming.start]):
        return "available"
    return "coming" if coming else "available" if there else None
