"""Product lines: what the shop sells, from whom, for which bike, at what price, and whether it can be had."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from diaryidx.language.discourse import phrases
from diaryidx.language.found import Found
from diaryidx.language.segments import Stretch
from diaryidx.language.told import Told
from diaryidx.records import ProductLine, RecordingKind
from diaryidx.vocabulary.loader import Vocabulary

Availability = Literal["available", "coming", "sold out"]
_NAME_STOPS = frozenset(
    (
        "the",
        "a",
        "an",
        "some",
        "our",
        "these",
        "those",
        "this",
        "that",
        "new",
        "with",
        "and",
        "of",
        "in",
        "for",
        "got",
        "have",
        "is",
        "are",
        "we",
        "'ve",
        "'s",
        "'re",
        "to",
        "from",
        "on",
        "also",
        "just",
        "first",
        "next",
        "up",
        ",",
        ".",
        "both",
        "set",
        "pair",
        "by",
        "here",
        "now",
        "see",
        "sell",
        "selling",
        "get",
        "called",
        "as",
        "at",
        "own",
        "so",
        "then",
        "his",
        "her",
        "their",
        "lovely",
        "nice",
        "great",
        "brand",
    )
)


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
    for stretch in stretches:
        part = told[stretch.first : stretch.last + 1]
        if kind == "product news" or stretch.subject.kind == "product":
            lines += _lines(part, vocabulary)
        elif kind != "bench note":
            lines += [line for line in _lines(part, vocabulary) if _sells(part, line)]
    return lines


def _sells(told: Sequence[Told], line: ProductLine) -> bool:
    """Whether the sentence with the price speaks of selling, not of what a job costs a customer."""
    sentences = [one for one in told if one.text == line.text]
    return line.price is not None and any(phrases("product cues").within(one.words) for one in sentences)


def _lines(told: Sequence[Told], vocabulary: Vocabulary) -> list[ProductLine]:
    lines: dict[str, ProductLine] = {}
    current: str | None = None
    for one in told:
        for name, found in _named(one):
            known = current is not None and current.lower().endswith(name.lower())
            if known and current is not None:
                name = current
            lines.setdefault(name, _line(name, found, one, vocabulary))
            current = (
                name
                if found.label == "PRODUCT" or current is None or one.labelled("PRICE") or not lines[current].price
                else name
            )
        if current is not None and one.place >= 0:
            name = _nearest(one, lines, current)
            lines[name] = _told_more(lines[name], one)
    return [
        line
        for line in lines.values()
        if line.price is not None or line.availability or vocabulary.term(line.product, "PRODUCT")
    ]


def _named(one: Told) -> list[tuple[str, Found]]:
    """Products by name; else parts as they are called here ("waxed canvas pannier")."""
    products = one.labelled("PRODUCT")
    if products:
        return [(found.canonical, found) for found in products]
    selling = one.labelled("PRICE") or phrases("product cues").within(one.words) or "new" in one.words
    return [(_called(one, found), found) for found in one.labelled("PART")[:1]] if selling else []


def _called(one: Told, found: Found) -> str:
    start = found.start
    while (
        start > 0
        and found.start - start < 4
        and one.words[start - 1].isalpha()
        and one.words[start - 1] not in _NAME_STOPS
    ):
        start -= 1
    end = found.end
    while end < len(one.words) and one.words[end] in ("kit", "set", "kits", "sets"):
        end += 1
    return one.quote(start, end).lower()


def _nearest(one: Told, lines: dict[str, ProductLine], current: str) -> str:
    names = [name for name, _ in _named(one) if name in lines]
    return names[-1] if names else current


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
        value = prices[0].value or {}
        line = replace(
            line, price=value["amount"], currency=value["currency"], text=one.text, end=one.sentence.end,
            approximate=bool(value["approximate"]) or _hedged(one, prices[0]),
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
    if phrases("sold out").within(one.words):
        return "sold out"
    if phrases("coming").within(one.words):
        return "coming"
    if phrases("available").within(one.words):
        return "available"
    return None
