"""Products, prices, dates, promises and questions on film: found or not, and right or not.

A found one is the partner of a true one if they are said at the same time (the found sentences overlap the true
words, with 0.7 s of slack) and are the same thing: a product by its name, a price by its amount, a date by its day.
One to one, the longest overlap first; an optional one counts neither way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Protocol

from diaryidx.film_records import FilmReference, Step
from diaryidx.records import Entry, Event, Mention, ProductLine, Promise, Sentence
from diaryidx.vocabulary.loader import Vocabulary
from tests.bench.scoring_measures import Sheet
from tests.bench.scoring_terms import one_form
from tests.bench.scoring_truth import Thing, TrueFilm

SLACK = 0.7  # seconds
LONGEST_BEFORE = 6.0  # seconds: a warning begins with its sentence, the true words may stand in the middle of it
_STEP = "things said"


class Timed(Protocol):
    """Anything found in a film."""

    @property
    def start(self) -> float:
        """Seconds from the start of the film."""

    @property
    def end(self) -> float:
        """Seconds from the start of the film."""


def score_products(film: TrueFilm, found: Sequence[ProductLine], vocabulary: Vocabulary, sheet: Sheet) -> None:
    """Products by their names wherever they are said in their topic; then price, supplier and availability of those."""

    def same(true: Thing, other: ProductLine) -> bool:
        names = {one_form(name, "product", vocabulary) for name in true.right("product")}
        names |= {one_form(name, "part", vocabulary) for name in true.right("product")}
        return bool(names & {one_form(other.product, slot, vocabulary) for slot in ("product", "part")})

    pairs = _counted(film, "products", found, same, sheet, whole_topic=True)
    for true, other in pairs:
        for field in ("price", "supplier", "availability"):
            if field in true.fields:
                right = [_plain(one, field, vocabulary) for one in true.right(field)]
                hit = _plain(getattr(other, field), field, vocabulary) in right
                sheet.measure(_STEP, f"products: {field} right, of those found").add(true.topic.name, hit)
                if not hit:
                    shown = f"{true.topic.name}: {other.product}: {getattr(other, field)}, not {true.fields[field]}"
                    sheet.errors[f"products' {field}"].append(shown)


def score_prices(film: TrueFilm, sentences: Sequence[Sentence], mentions: Sequence[Mention], sheet: Sheet) -> None:
    """Sums of money, by amount and currency."""
    found = [_Said(one, sentences[one.sentence]) for one in mentions if one.label == "PRICE"]

    def same(true: Thing, other: _Said) -> bool:
        value = other.mention.value or {}
        return (value.get("amount"), value.get("currency")) == (true.fields["amount"], true.fields["currency"])

    _counted(film, "prices", found, same, sheet)


def score_dates(film: TrueFilm, found: Sequence[Event], sheet: Sheet) -> None:
    """Dates for the calendar, by their day."""
    pairs = _counted(film, "dates", found, lambda true, other: other.date in true.right("date"), sheet)
    for true, other in pairs:
        if "tentative" in true.fields:
            hit = other.tentative == true.fields["tentative"]
            sheet.measure(_STEP, "dates: tentative or not, of those found").add(true.topic.name, hit)


def score_promises(film: TrueFilm, found: Sequence[Promise], sheet: Sheet) -> None:
    """Promises by when they are said; then when they are due."""
    pairs = _counted(film, "promises", found, lambda true, other: True, sheet)
    for true, other in pairs:
        right = true.right("due")
        hit = other.due in right or any(one and other.due and one.startswith(other.due) for one in right)
        sheet.measure(_STEP, "promises: due date right, of those found").add(true.topic.name, bool(hit))
        if not hit:
            sheet.errors["promises' due dates"].append(f"{true.topic.name}: {other.due}, not {right}: {true.words!r}")


def score_questions(film: TrueFilm, found: Sequence[Entry], sheet: Sheet) -> None:
    """Questions asked and answered on film: an entry whose stretch holds the answer, and that begins with the question.

    Entries of a tutorial as a whole ("how to change front brake pads") are none of these and not judged.
    """
    asked = [one for one in found if any(_overlap(true, one) > 0 for true in film.things["questions"])]
    _counted(film, "questions", asked, lambda true, other: True, sheet)


def score_references(film: TrueFilm, found: Sequence[FilmReference], names: Mapping[str, str], sheet: Sheet) -> None:
    """Earlier films referred to, by when that is said; then whether the right film is meant.

    :param names: the names of the true films by the ids of recordings.
    """
    earlier = [one for one in found if not one.coming]
    pairs = _counted(film, "other films", earlier, lambda true, other: True, sheet, true_things="references")
    for true, other in pairs:
        hit = names.get(other.film or "") in true.right("film")
        sheet.measure(_STEP, "other films: film right, of those found").add(true.topic.name, hit)
        if not hit:
            sheet.errors["other films' film"].append(f"{true.topic.name}: {other.film}, not {true.fields['film']}")


def score_warnings(film: TrueFilm, steps: Sequence[Step], sheet: Sheet) -> None:
    """Warnings of tutorials that the steps have: said at the same time. There may be others, so only recall counts."""
    warnings = [warning for step in steps for warning in step.warnings]
    for true in film.things["cautions"] if steps else ():
        hit = any(true.start - LONGEST_BEFORE <= one.start <= true.end + SLACK for one in warnings)
        sheet.measure(_STEP, "warnings of tutorials: found").add(true.topic.name, hit)
        if not hit:
            sheet.errors["warnings missed"].append(f"{true.topic.name}: {true.fields['words']}")


class _Said:
    """A mention with the times of its sentence."""

    def __init__(self, mention: Mention, sentence: Sentence) -> None:
        self.mention, self.start, self.end = mention, sentence.start, sentence.end
        self.text = f"{mention.canonical} in {sentence.text!r}"


def _counted(
    film: TrueFilm,
    kind: str,
    found: Sequence[Any],
    same: Callable[[Thing, Any], bool],
    sheet: Sheet,
    *,
    whole_topic: bool = False,
    true_things: str | None = None,
) -> list[tuple[Thing, Any]]:
    """Count one kind of thing into precision, recall and F1; the pairs of required ones."""
    things = film.things[true_things or kind]
    partner, alone = _pairs(things, found, same, whole_topic)
    required = []
    for number, true in enumerate(things):
        if true.optional:
            continue
        if number in partner:
            required.append((true, partner[number]))
        else:
            sheet.errors[f"{kind} missed"].append(f"{true.topic.name}: {dict(true.fields)}")
        sheet.f1(_STEP, kind, true.topic.name, (number in partner, 0, number not in partner))
    for other in alone:
        topic = film.topic_at((other.start + other.end) / 2).name
        sheet.f1(_STEP, kind, topic, (0, 1, 0))
        sheet.errors[f"{kind} too many"].append(f"{topic}: {_shown(other)}")
    return required


def _pairs(
    true: Sequence[Thing], found: Sequence[Any], same: Callable[[Thing, Any], bool], whole_topic: bool
) -> tuple[dict[int, Any], list[Any]]:
    ranked = sorted(_ranked(true, found, same, whole_topic))
    partner: dict[int, Any] = {}
    taken: set[int] = set()
    for _, _, first, second in ranked:
        if first not in partner and second not in taken:
            partner[first] = found[second]
            taken.add(second)
    return partner, [other for second, other in enumerate(found) if second not in taken]


def _ranked(
    true: Sequence[Thing], found: Sequence[Any], same: Callable[[Thing, Any], bool], whole_topic: bool
) -> Iterator[tuple[bool, float, int, int]]:
    for first, one in enumerate(true):
        for second, other in enumerate(found):
            overlap = _overlap(one.topic if whole_topic else one, other)
            if overlap > 0 and same(one, other):
                yield one.optional, -overlap, first, second


def _overlap(true: Timed, found: Timed) -> float:
    return min(true.end, found.end) - max(true.start, found.start) + 2 * SLACK


def _plain(value: object, field: str, vocabulary: Vocabulary) -> object:
    return one_form(value, "supplier", vocabulary) if field == "supplier" else value


def _shown(found: Any) -> str:
    return str(getattr(found, "product", None) or getattr(found, "question", None) or found.text) + (
        f" ({found.price})" if isinstance(found, ProductLine) else ""
    )
