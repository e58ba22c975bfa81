"""Component ``measures``: prices, dates, measures and quantities, as digits or as people say them.

Money: "thirty nine ninety nine", "forty quid", "£1,200", "about a hundred and twenty pounds". Dates: "the third of
October", "next month", "in three weeks", "by Friday"; what day that is depends on when it was said, see ``dates``.
Measures after the units of the SI and NIST SP 811. Words are data in ``cues/measures.yaml``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.found import Found
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.transcript.numbers import is_number_word, read_number, read_ordinal
from diaryidx.vocabulary.loader import Vocabulary, shipped_data
from diaryidx.vocabulary.spoken_words import spoken_key

_RELATIVE = ("next", "last", "this", "following", "coming")
_SPANS = ("week", "month", "year", "weekend", "fortnight", "weeks", "months", "days", "day", "years")
_ODD_CENTS = frozenset((99, 95, 50, 90, 49, 75, 25, 80, 60, 40, 20, 45, 85, 70, 30, 97, 98))


@Language.factory("measures", requires=["doc._.terms"], assigns=["doc._.measures"])
def make_measures(nlp: Language, name: str) -> Measures:
    """Build the component; prices without a currency word are in the shop's currency."""
    return Measures(vocabulary_of(nlp))


class Measures:
    """Finds PRICE, DATE, MEASURE and QUANTITY. Sets ``doc._.measures`` (list of Found in reading order)."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        data = shipped_data("measures.yaml")
        self.currency = vocabulary.currency
        self.currency_of = {word: code for code, words in data["currencies"].items() for word in words}
        self.pennies = frozenset(data["pennies"])
        self.unit_of = {spoken_key(word): unit for unit, words in data["units"].items() for word in words}
        self.price_cues = frozenset(data["price cues"])
        self.approximate = tuple(tuple(spoken_key(phrase).split()) for phrase in data["approximate"])
        self.month_of = {name: place + 1 for place, name in enumerate(data["months"])}
        self.months_cut = {name[:3]: place + 1 for place, name in enumerate(data["months"])} | {"sept": 9}
        self.day_of = {name: place for place, name in enumerate(data["days"])}
        self.seasons: Mapping[str, str] = data["seasons"]
        self.quantities = {tuple(phrase.split()): phrase for phrase in data["quantity"]}
        self.date_words = frozenset(
            (*self.month_of, *self.day_of, *_RELATIVE, *self.seasons, "tomorrow", "yesterday", "today", "tonight",
             "weekend", "end", "beginning", "start", "middle", "in", "couple", "christmas", "easter", "the", "week",
             "later", "bank", "new", "early", "late", "mid", "fortnight", "month")
        )  # fmt: skip

    def __call__(self, doc: Doc) -> Doc:
        """Find the measures of one text."""
        words: list[str] = doc.user_data["words"]
        taken = {place for one in doc._.terms if one.label != "SIDE" for place in range(one.start, one.end)}
        found: list[Found] = []
        place = 0
        while place < len(words):
            one = self._at(words, place, taken)
            if one is None:
                place += 1
            else:
                found.append(one)
                place = one.end
        doc._.measures = found
        return doc

    def _at(self, words: list[str], place: int, taken: set[int]) -> Found | None:
        word = words[place]
        if place in taken and not is_number_word(word):
            return None
        if word in self.date_words or is_number_word(word) or word in self.months_cut:
            found = self._date(words, place)
            if found is not None:
                return found
        if place in taken:
            return None
        if word in self.currency_of and place + 1 < len(words) and words[place + 1][:1].isdigit():
            return self._price_after_sign(words, place)
        if is_number_word(word) or (word in ("a", "an", "half") and place + 1 < len(words)):
            return self._quantity_phrase(words, place) or self._number(words, place, taken)
        return self._quantity_phrase(words, place) if word in ("pair", "set", "couple", "full") else None

    # --- money and units ---------------------------------------------------------------------------------------------

    def _price_after_sign(self, words: list[str], place: int) -> Found | None:
        number = read_number(words, place + 1)
        if number is None:
            return None
        amount, end = number
        return self._price(words, place, end, amount, self.currency_of[words[place]])

    def _number(self, words: list[str], place: int, taken: set[int]) -> Found | None:
        number = read_number(words, place)
        if number is None:
            return None
        value, end = number
        if words[end : end + 1] in (["to"], ["or"]) and end + 1 < len(words):
            upper = self._number(words, end + 1, taken)
            if upper is not None and upper.label == "PRICE" and upper.value and upper.value["amount"] > value:
                price = self._price(words, place, upper.end, value, upper.value["currency"])
                return replace(price, value={**(price.value or {}), "to": upper.value["amount"], "approximate": True})
        after = words[end] if end < len(words) else ""
        if after in self.currency_of:
            return self._pounds(words, place, end, value)
        if after in self.pennies and after != "p":
            return self._price(words, place, end + 1, value / 100, self.currency)
        unit = self._unit(words, end)
        if unit is not None:
            name, unit_end = unit
            value_of = {"amount": value, "unit": name}
            return Found("MEASURE", f"{_plain_number(value)} {name}", place, unit_end, value=value_of)
        said = self._said_price(words, place, end, value)
        if said is not None:
            return said
        if value == int(value) and value < 1000 and place not in taken:
            if word_is_stand_in(words, place, end):
                return None
            return Found("QUANTITY", _plain_number(value), place, end, value={"amount": value})
        return None

    def _pounds(self, words: list[str], place: int, end: int, value: float) -> Found:
        """ "forty pounds", "forty pounds fifty", "a hundred quid or so"."""
        currency = self.currency_of[words[end]]
        end += 1
        cents = read_number(words, end) if end < len(words) else None
        if cents is not None and cents[0] in _ODD_CENTS and value == int(value):
            after = words[cents[1]] if cents[1] < len(words) else ""
            if after not in self.currency_of and self._unit(words, cents[1]) is None:
                value, end = value + cents[0] / 100, cents[1]
                end += after in self.pennies
        return self._price(words, place, end, value, currency)

    def _said_price(self, words: list[str], place: int, end: int, value: float) -> Found | None:
        """ "thirty nine ninety nine" after a word that announces a price: pounds, then pence."""
        cents = read_number(words, end) if end < len(words) and not words[end][:1].isdigit() else None
        announced = place > 0 and words[place - 1] in self.price_cues
        if cents is not None and cents[0] in _ODD_CENTS and 1 <= value < 10_000 and value == int(value):
            in_digits = words[place][:1].isdigit() or self._unit(words, cents[1]) is not None
            if (cents[0] in (99, 95) or announced) and not in_digits:
                return self._price(words, place, cents[1], value + cents[0] / 100, self.currency)
        if announced and words[place][:1].isdigit() and "." in words[place] and len(words[place].split(".")[-1]) == 2:
            return self._price(words, place, end, value, self.currency)
        return None

    def _price(self, words: list[str], start: int, end: int, amount: float, currency: str) -> Found:
        approximate = self._approximate(words, start, end)
        amount = round(amount, 2)
        value: dict[str, Any] = {"amount": amount, "currency": currency, "approximate": approximate}
        return Found("PRICE", f"{amount:.2f} {currency}", start, end, value=value)

    def _approximate(self, words: list[str], start: int, end: int) -> bool:
        for phrase in self.approximate:
            before = tuple(words[max(0, start - len(phrase)) : start])
            two_before = tuple(words[max(0, start - len(phrase) - 1) : max(0, start - 1)])
            after = tuple(words[end : end + len(phrase)])
            if before == phrase or (after == phrase and phrase in (("or", "so"), ("ish",))):
                return True
            if two_before == phrase and words[start - 1] in ("a", "the", "about", "be"):
                return True
        return False

    def _unit(self, words: list[str], end: int) -> tuple[str, int] | None:
        for length in (3, 2, 1):
            phrase = " ".join(words[end : end + length])
            if len(words) - end >= length and phrase in self.unit_of:
                return self.unit_of[phrase], end + length
        return None

    def _quantity_phrase(self, words: list[str], place: int) -> Found | None:
        for phrase, name in self.quantities.items():
            if tuple(words[place : place + len(phrase)]) == phrase:
                kind = "set" if "set" in name else "2"
                amount = 2.0 if kind == "2" else None
                return Found("QUANTITY", kind, place, place + len(phrase), value={"amount": amount})
        return None

    # --- dates -------------------------------------------------------------------------------------------------------

    def _date(self, words: list[str], place: int) -> Found | None:
        for read in (self._day_and_month, self._month_and_day, self._relative, self._named, self._in_some_time):
            hit = read(words, place)
            if hit is not None:
                value, end = hit
                text = " ".join(words[place:end])
                return Found("DATE", text, place, end, value={"text": text, **value})
        return None

    def _day_and_month(self, words: list[str], place: int) -> tuple[dict[str, Any], int] | None:
        """ "the third of October", "3 October 2025", "twenty first of may"."""
        at = place + 1 if words[place] == "the" else place
        if at >= len(words):
            return None
        day = read_ordinal(words, at)
        if day is None:
            number = read_number(words, at)
            day = (int(number[0]), number[1]) if number and number[0] == int(number[0]) else None
        if day is None or not 1 <= day[0] <= 31:
            return None
        end = day[1] + 1 if day[1] < len(words) and words[day[1]] == "of" else day[1]
        if (
            end < len(words)
            and words[end] in self.month_of
            and (words[end] not in ("may", "march") or end > day[1] or at > place)
        ):
            year, end_of_year = self._year(words, end + 1)
            return {"day": day[0], "month": self.month_of[words[end]], "year": year}, end_of_year
        if at > place and read_ordinal(words, at) and not self._goes_on(words, day[1]):
            return {"day": day[0]}, day[1]
        return None

    def _goes_on(self, words: list[str], end: int) -> bool:
        """Whether "the third" goes on to a thing ("the third one"), so that it is no date; only an end makes it one."""
        return end < len(words) and words[end] not in (".", ",", "and", "at", "so", "if", "which")

    def _month_and_day(self, words: list[str], place: int) -> tuple[dict[str, Any], int] | None:
        """ "October the third", "October 3rd", "October", "in March"."""
        month = self.month_of.get(words[place])
        if month is None:
            return None
        at = place + 1
        at += at < len(words) and words[at] == "the"
        day = read_ordinal(words, at) if at < len(words) else None
        if day is None and at < len(words) and words[at].isdigit() and 1 <= int(words[at]) <= 31:
            day = int(words[at]), at + 1
        if day is not None and 1 <= day[0] <= 31:
            year, end = self._year(words, day[1])
            return {"day": day[0], "month": month, "year": year}, end
        if words[place] in ("may", "march") and (
            place == 0
            or words[place - 1]
            not in ("in", "of", "by", "until", "since", "till", "early", "late", "mid", "for", "last", "next", "this")
        ):
            return None
        year, end = self._year(words, place + 1)
        return {"month": month, "year": year}, end

    def _year(self, words: list[str], place: int) -> tuple[int | None, int]:
        if place < len(words) and words[place].isdigit() and 1900 <= int(words[place]) <= 2100:
            return int(words[place]), place + 1
        if words[place : place + 1] == ["twenty"] and place + 1 < len(words):
            number = read_number(words, place + 1)
            if number is not None and 10 <= number[0] <= 99:
                return 2000 + int(number[0]), number[1]
        return None, place

    def _relative(self, words: list[str], place: int) -> tuple[dict[str, Any], int] | None:
        """ "next month", "last week", "this weekend", "next spring", "last October", "end of the month"."""
        word = words[place]
        if word in ("end", "beginning", "start", "middle") and words[place + 1 : place + 2] == ["of"]:
            at = place + 2
            at += words[at : at + 1] == ["the"]
            if at < len(words) and words[at] in ("month", "week", "year"):
                return {"relative": "this", "span": words[at], "part": word}, at + 1
            inner = self._relative(words, at) or self._month_and_day(words, at) if at < len(words) else None
            return ({**inner[0], "part": word}, inner[1]) if inner else None
        if word not in _RELATIVE or place + 1 >= len(words):
            return None
        after = words[place + 1]
        relative = "next" if word in ("following", "coming") else word
        if after in ("week", "month", "year", "weekend", "fortnight"):
            return {"relative": relative, "span": after}, place + 2
        if after in self.month_of:
            return {"relative": relative, "month": self.month_of[after]}, place + 2
        if after in self.day_of:
            return {"relative": relative, "weekday": self.day_of[after]}, place + 2
        if after in self.seasons:
            return {"relative": relative, "month": int(self.seasons[after])}, place + 2
        return None

    def _named(self, words: list[str], place: int) -> tuple[dict[str, Any], int] | None:
        word = words[place]
        days = {"tomorrow": 1, "yesterday": -1, "today": 0, "tonight": 0}
        if word in days:
            return {"days": days[word]}, place + 1
        if word in self.day_of:
            return {"relative": "this", "weekday": self.day_of[word]}, place + 1
        if word == "the" and words[place + 1 : place + 2] == ["weekend"]:
            return {"relative": "this", "span": "weekend"}, place + 2
        if (
            word in ("christmas", "easter")
            and place
            and words[place - 1] in ("before", "after", "by", "for", "until", "at")
        ):
            return {"month": 12, "day": 25} if word == "christmas" else {"month": 4}, place + 1
        if word in self.seasons and place and words[place - 1] in ("in", "the", "this", "early", "late", "for", "by"):
            return {"month": int(self.seasons[word])}, place + 1
        return None

    def _in_some_time(self, words: list[str], place: int) -> tuple[dict[str, Any], int] | None:
        """ "in three weeks", "in a couple of months", "two weeks ago", "a couple of weeks"."""
        at = place + 1 if words[place] == "in" else place
        count, end = self._count(words, at)
        if count is None or end >= len(words):
            return None
        if words[end] not in ("week", "weeks", "month", "months", "day", "days", "year", "years", "fortnight"):
            return None
        span, end = words[end].rstrip("s"), end + 1
        end += words[end : end + 1] == ["'"] or words[end : end + 1] == ["time"]
        days = {"day": 1, "week": 7, "fortnight": 14, "month": 30, "year": 365}[span]
        if words[end : end + 1] == ["ago"]:
            return {"days": -int(count * days), "loose": True}, end + 1
        if at > place or words[end - 1] == "time":
            return {"days": int(count * days), "loose": True}, end
        return None

    def _count(self, words: list[str], at: int) -> tuple[float | None, int]:
        if words[at : at + 3] == ["a", "couple", "of"]:
            return 2, at + 3
        if words[at : at + 2] == ["a", "few"]:
            return 3, at + 2
        if words[at : at + 1] in (["a"], ["an"]):
            return 1, at + 1
        number = read_number(words, at) if at < len(words) else None
        return number if number is not None else (None, at)


def word_is_stand_in(words: list[str], place: int, end: int) -> bool:
    """Whether "one" stands for a thing ("the front one") and counts nothing, or is part of a name ("this one")."""
    return words[place] == "one" and end == place + 1


def _plain_number(value: float) -> str:
    return str(int(value)) if value == int(value) else f"{value:g}"
