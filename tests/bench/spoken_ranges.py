"""Numbers, ordinals, years and prices as num2words writes them, read back: the whole ranges.

    python -m tests.bench.spoken_ranges

num2words writes British English; "and" and hyphens are also left out, as engines do. Every number stands in a sentence,
since that is how it is read.
"""

from __future__ import annotations

import re
import time
from collections.abc import Iterable, Iterator

from num2words import num2words  # type: ignore[import-untyped]

from diaryidx.transcript.numbers import Quantity, read_quantities
from diaryidx.vocabulary.spoken_words import split_words

CURRENCIES = ("GBP", "EUR", "USD")
Misread = tuple[str, object]


def misread_numbers(numbers: Iterable[int]) -> Iterator[Misread]:
    """Whole numbers that do not come back: what was said, and what was read."""
    for number in numbers:
        words = num2words(number, lang="en_GB")
        for form in _forms(words):
            yield from _misread(f"there are {form} bolts in the box", "number", "amount", number)


def misread_ordinals(numbers: Iterable[int]) -> Iterator[Misread]:
    """Ordinals that do not come back."""
    for number in numbers:
        for form in _forms(num2words(number, lang="en_GB", to="ordinal")):
            yield from _misread(f"that was the {form} bolt", "ordinal", "amount", number)


def misread_years(years: Iterable[int]) -> Iterator[Misread]:
    """Years that do not come back, as num2words says them and in the other usual ways."""
    for year in years:
        said = {num2words(year, lang="en_GB", to="year"), *_year_in_other_words(year)}
        for form in {form for one in said for form in _forms(one)}:
            yield from _misread(f"it was built in {form}", "year", "year", year)


def misread_prices(prices: Iterable[int], currency: str) -> Iterator[Misread]:
    """Prices in hundredths that do not come back."""
    for price in prices:
        words = num2words(price / 100, lang="en_GB", to="currency", currency=currency)
        for form in _forms(words):
            yield from _misread(f"that is {form} all in", "money", "amount", price / 100, currency)


def _forms(words: str) -> Iterator[str]:
    """As it is written, and as engines give it: without marks; and without "and", as Americans say it."""
    plain = words.replace("-", " ").replace(",", "")
    yield words
    if plain != words:
        yield plain
    if " and " in plain and not re.search(r"hundred and .*(?:pound|euro|dollar)", plain):
        yield plain.replace(" and ", " ")


def _year_in_other_words(year: int) -> Iterator[str]:
    century, rest = divmod(year, 100)
    if rest == 0:
        return
    pair = f"oh {num2words(rest)}" if rest < 10 else num2words(rest)
    yield f"{num2words(century)} {pair}"
    if century == 20:
        yield f"two thousand and {num2words(rest)}"


def _misread(sentence: str, kind: str, key: str, value: float, currency: str | None = None) -> Iterator[Misread]:
    found = read_quantities([word.word for word in split_words(sentence)])
    if not (len(found) == 1 and _is(found[0], kind, key, value, currency)):
        yield sentence, [(one.kind, one.value) for one in found]


def _is(one: Quantity, kind: str, key: str, value: float, currency: str | None) -> bool:
    return one.kind == kind and one.value[key] == value and one.value.get("currency") == currency


def main() -> None:
    """Read all of it and say what did not come back."""
    ranges = {
        "numbers 0 to 1,000,000": lambda: misread_numbers(range(1_000_001)),
        "ordinals 1 to 1,000": lambda: misread_ordinals(range(1, 1_001)),
        "years 1900 to 2100": lambda: misread_years(range(1900, 2101)),
        **{
            f"prices 0.00 to 9,999.99 {currency}": lambda currency=currency: misread_prices(range(1_000_000), currency)
            for currency in CURRENCIES
        },
    }
    for name, misread in ranges.items():
        begin, wrong = time.monotonic(), list(misread())
        print(f"{name}: {len(wrong)} not read back, {time.monotonic() - begin:.0f} s", *wrong[:5], sep="\n    ")


if __name__ == "__main__":
    main()
