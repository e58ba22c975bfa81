"""What a found form says: its value as plain data, and how it is written."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import floor, log10
from typing import Any

from diaryidx.transcript.numbers.forms import Matched, money_signs, phrase_list, units
from diaryidx.transcript.numbers.spoken import Number

_DAYS_OF = {"day": 1, "week": 7, "fortnight": 14, "month": 30, "year": 365}
_SIGNS = {"1/2": "½", "1/4": "¼", "3/4": "¾", "1/3": "⅓", "2/3": "⅔"}
#: Below this, numbers stay words where no unit symbol stands behind them (common practice of English style guides).
WRITTEN_FROM = 10
#: Years said in two figures are the nearest past ones: up to this one of this century (common practice, no source).
LAST_SHORT_YEAR = 30
_IN_WORDS = ("duration", "distance", "volume", "mass", "count")  # "two litres", but "5 mm"


@dataclass(frozen=True, slots=True)
class Quantity:
    """Something said in numbers: words ``start`` to ``end`` (not included) of a text.

    ``kind`` is "money", "torque", "tyre size" and so on; ``value`` plain data (``amount`` with ``unit`` or
    ``currency``, ``size``, ``code``, ``year``, ``day`` …); ``canonical`` the value as one text; ``written`` how it is
    written in a transcript, None where the words stay as they were said.
    """

    kind: str
    value: dict[str, Any]
    canonical: str
    written: str | None
    start: int
    end: int
    form: str


def made(match: Matched, words: Sequence[str], currency: str) -> Quantity:
    """The quantity that a found form says.

    Arguments:
        match: from ``find_forms``.
        words: the words it was found in.
        currency: that of prices which name none, as ISO 4217 code.
    """
    kind, value, canonical, written = _MAKERS.get(match.form.kind, _size)(match, words, currency)
    return Quantity(kind, value, canonical, written, match.start, match.end, match.form.name)


_Made = tuple[str, dict[str, Any], str, "str | None"]


def _size(match: Matched, _words: Sequence[str], _currency: str) -> _Made:
    """Tyres, chains, threads and oils: what counts is how they are written."""
    written = _filled(match) if match.form.written else _LETTERED[match.form.name](match, _words)
    size = written.removesuffix("s")  # "two 3.25-19s"
    return match.form.kind, {"size": size}, size, written


def _filled(match: Matched) -> str:
    text = match.form.written or ""
    for name, one in match.captured.items():
        if isinstance(one, Number):
            text = text.replace(f"{{{name}}}", shown_figures(one) if one.how == "plural" else one.figures)
            text = text.replace(f"{{{name}:inches}}", f"{one.value if one.value < 50 else one.value / 100:.2f}")
            text = text.replace(f"{{{name}:decimal}}", plain(one.value))
        else:
            text = text.replace(f"<{name}>", one)
    return text.replace("<tyre build>", "-")


def _lettered_tyre(match: Matched, words: Sequence[str]) -> str:
    letters = "".join(words[match.start : match.start + 2]) if len(words[match.start]) == 1 else words[match.start]
    build = str(match.captured.get("tyre build", "-"))
    return f"{letters.upper()}{_figures(match, 'code')}{build}{_figures(match, 'rim')}"


def _thread(match: Matched, _words: Sequence[str]) -> str:
    pitch = f" x {plain(_value(match, 'pitch'))}" if "pitch" in match.captured else ""
    return f"M{plain(_value(match, 'thread'))}{pitch}"


_LETTERED: dict[str, Callable[[Matched, Sequence[str]], str]] = {
    "tyre with letters": _lettered_tyre,
    "thread": _thread,
}


# --- money -----------------------------------------------------------------------------------------------------------


def _money(match: Matched, words: Sequence[str], currency: str) -> _Made:
    got = match.captured
    currency = str(got.get("currency sign") or got.get("currency") or currency)
    if got.get("pennies") == "c" and "currency" not in got and currency == "GBP":
        currency = "USD"
    times = float(match.form.settings.get("times", 1))
    rough = next((got[name] for name in ("rough money", "rough grand", "few") if name in got), None)
    amount = times * (float(str(rough or got.get("slang money") or _alone(match, words))) + _and_a_part(match))
    if "pounds" in got:
        amount = _value(match, "pounds") + _value(match, "pence") / 100
    value: dict[str, Any] = {"amount": round(amount, 2), "currency": currency}
    rough = rough or match.form.settings.get("rough")
    value["approximate"] = rough is not None or "upper" in got or is_approximate(words, match.start, match.end)
    written = _priced(amount, currency) if rough is None else None
    if "upper" in got:
        value["amount"] = round(amount * _scale_of_upper(match, words), 2)
        written = _priced(value["amount"], currency)
        value["to"] = round(times * _value(match, "upper"), 2)
        written = f"{written} to {_priced(value['to'], currency)}"
    return "money", value, f"{value['amount']:.2f} {currency}", written


def _alone(match: Matched, words: Sequence[str]) -> float:
    """The amount; one where only "a" stands before the unit, a half for "half a"."""
    if isinstance(match.captured.get("amount"), Number):
        return _value(match, "amount")
    said = words[match.start : match.end]
    return 0.5 if said[0] == "half" else 0.25 if "quarter" in said[:2] else 1.0


def _and_a_part(match: Matched) -> float:
    """What "and a half", "and three eighths" add behind the unit."""
    if "part" in match.captured:
        return _value(match, "part")
    return float(str(match.captured.get("half", 0)))


def _priced(amount: float, currency: str) -> str:
    sign = money_signs().get(currency, f"{currency} ")
    if currency == "GBP" and 0 < amount < 1:
        return f"{round(amount * 100)}p"
    return f"{sign}{int(amount):,}" if amount == int(amount) else f"{sign}{amount:,.2f}"


# --- measures --------------------------------------------------------------------------------------------------------


def _measure(match: Matched, words: Sequence[str], _currency: str) -> _Made:
    got = match.captured
    if "hours" in got or "minutes" in got:
        return _hours(match)
    if "feet" in got:
        return _feet(match)
    unit = next(
        (str(got[name]) for name in _UNIT_CLASSES if name in got), match.form.settings.get("unit", "degree Celsius")
    )
    told = units()[unit]
    times = float(match.form.settings.get("times", 1))
    told_of = next((str(got[name]) for name in ("few units", "part of an inch") if name in got), None)
    amount = times * ((float(told_of) if told_of else _alone(match, words)) + _and_a_part(match))
    if words[match.start] == "minus":
        amount = -abs(amount)
    value: dict[str, Any] = {"amount": round(amount, 6), "unit": unit}
    if "few units" in got or is_approximate(words, match.start, match.end):
        value["approximate"] = True
    if "upper" in got:
        value["amount"] = amount = amount * _scale_of_upper(match, words)
        value["to"] = _value(match, "upper")
    kind = str(told["kind"])
    if kind == "length" and phrase_list("gaps").within(words):
        kind = "clearance"
    return kind, value, f"{plain(amount)} {unit}", _written_measure(match, words, value, told)


_UNIT_CLASSES = ("unit", "one unit", "near unit")


def _scale_of_upper(match: Matched, words: Sequence[str]) -> float:
    """ "four to five thousand" is four thousand to five thousand."""
    upper = _number(match, "upper")
    scale = {"hundred": 100.0, "thousand": 1000.0}.get(words[upper.end - 1], 1.0)
    return scale if _value(match, "amount") < upper.value / scale else 1.0


def _written_measure(
    match: Matched, words: Sequence[str], value: dict[str, Any], told: Mapping[str, Any]
) -> str | None:
    amount = match.captured.get("amount")
    symbol = told.get("symbol")
    whole = isinstance(amount, Number) and amount.how in ("whole", "paired", "digits")
    if not isinstance(amount, Number):
        return None
    if not symbol and told["kind"] in _IN_WORDS and whole and value["amount"] < WRITTEN_FROM:
        return None
    figures = shown_figures(amount)
    if value["amount"] < 0:
        figures = f"-{figures}"
    if "half" in match.captured:
        figures = plain(value["amount"])
    upper = match.captured.get("upper")
    if isinstance(upper, Number):
        lower = plain(value["amount"]) if value["amount"] != amount.value else figures
        figures = f"{lower} to {shown_figures(upper)}"
    last = words[match.end - 1] if "half" not in match.captured else words[match.end - 4]
    if not match.captured.keys() & set(_UNIT_CLASSES) and match.form.name not in _UNITS_IN_FORM:
        return figures  # "three sixteenths", "four eights": the unit was not said
    return f"{figures}{'' if symbol == '%' else ' '}{symbol or last}"


_UNITS_IN_FORM = ("degrees of heat", "pounds of pressure", "pounds of weight", "millilitres")


def _hours(match: Matched) -> _Made:
    hours = _value(match, "hours") if "hours" in match.captured else 1.0
    amount = hours + _value(match, "minutes") / 60
    return "duration", {"amount": round(amount, 4), "unit": "hour"}, f"{plain(amount)} hour", None


def _feet(match: Matched) -> _Made:
    amount = _value(match, "feet") * 12 + _value(match, "inches")
    written = f"{_figures(match, 'feet')} ft {shown_figures(_number(match, 'inches'))} in"
    return "length", {"amount": amount, "unit": "inch"}, f"{plain(amount)} inch", written


def _engine(match: Matched, _words: Sequence[str], _currency: str) -> _Made:
    unit = match.form.settings.get("unit", "cubic centimetre")
    name = "cc" if "cc" in match.captured else "litres"
    amount = _value(match, name)
    written = shown_figures(_number(match, name)) if name == "cc" else None
    return "engine size", {"amount": amount, "unit": unit}, f"{plain(amount)} {unit}", written


def other_unit(value: Mapping[str, Any]) -> dict[str, Any] | None:
    """The same amount in the unit that is shown beside it: ``{"amount": 35.0, "unit": "foot pound"}`` for 47 N m.

    Rounded to the figures that make sense beside a rounded amount, as NIST SP 811 (2008), B.7.2 asks.
    """
    told = units().get(str(value.get("unit")), {})
    if "in" not in told or value.get("amount") is None:
        return None
    amount = float(value["amount"]) * float(told["is"]) + float(told.get("plus", 0))
    return {"amount": _rounded(amount, 3 if told["kind"] == "length" else 2), "unit": told["in"]}


def measured_by(value: Mapping[str, Any]) -> str | None:
    """The kind of quantity that a measure's unit is for: "torque", "length"; None where it has none."""
    told = units().get(str(value.get("unit")))
    return str(told["kind"]) if told else None


def measure_words(value: Mapping[str, Any]) -> str:
    """A measure with the same in its other unit: "47 Nm (35 lbf ft)", "20 to 25 Nm (15 to 18 lbf ft)"."""
    if (upper := value.get("to")) is not None:
        low, high = (measure_words({"amount": amount, "unit": value["unit"]}) for amount in (value["amount"], upper))
        first, bracket, second = low.partition(" (")
        start, other_start = first.split(" ")[0], second.split(" ")[0]
        return f"{start} to " + (high.replace(" (", f" ({other_start} to ") if bracket else high)
    other = other_unit(value)
    return _in_unit(value) + (f" ({_in_unit(other)})" if other else "")


def _in_unit(value: Mapping[str, Any]) -> str:
    symbol = units()[value["unit"]].get("symbol", value["unit"])
    return f"{plain(float(value['amount']))} {symbol}"


def _rounded(amount: float, figures: int) -> float:
    if not amount:
        return 0.0
    return round(amount, max(0, figures - 1 - floor(log10(abs(amount)))))


# --- numbers ---------------------------------------------------------------------------------------------------------


def _part_number(match: Matched, words: Sequence[str], _currency: str) -> _Made:
    name = "long" if "long" in match.captured else "code"
    code = _figures(match, name)
    return "part number", {"code": code}, code, _among_its_words(match, words, name)


def _job_number(match: Matched, words: Sequence[str], _currency: str) -> _Made:
    number = _figures(match, "job").lstrip("0") or "0"
    return "job number", {"number": number}, number, _among_its_words(match, words, "job")


def _among_its_words(match: Matched, words: Sequence[str], name: str) -> str:
    """The figures in place of the number words, with the words of the form around them ("job 2304")."""
    before = words[match.start : _begin(match, name)]
    behind = words[_number(match, name).end : match.end]
    return " ".join([*before, _figures(match, name), *behind])


def _plain_number(match: Matched, words: Sequence[str], _currency: str) -> _Made:
    if "dozen" in match.captured:
        amount = float(str(match.captured["dozen"]))
        return "number", {"amount": amount}, plain(amount), None
    one = next((one for one in match.captured.values() if isinstance(one, Number)), None)
    if one is None:  # "need one"
        return "number", {"amount": 1.0}, "1", None
    value: dict[str, Any] = {"amount": one.value}
    if "as_said" in match.form.settings:
        value["figures"] = one.figures
    if words[match.start][:1].isdecimal() and one.how in ("whole", "decimal"):
        return "number", value, one.figures, None  # it is written already
    loose = words[match.start] in ("a", "an") and match.end - match.start < 3  # "a hundred", "a thousand"
    stays = loose or (one.how == "whole" and one.value < WRITTEN_FROM) or one.how == "fraction"
    return "number", value, one.figures, None if stays else shown_figures(one)


def _ordinal(match: Matched, _words: Sequence[str], _currency: str) -> _Made:
    amount = _value(match, "ordinal")
    return "ordinal", {"amount": amount}, _with_ending(int(amount)), None


def _with_ending(number: int) -> str:
    ending = "th" if number % 100 in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
    return f"{number}{ending}"


def _quantity(match: Matched, words: Sequence[str], _currency: str) -> _Made:
    if match.captured.get("quantity set") == "set":
        return "quantity", {"amount": None}, "set", None
    return "quantity", {"amount": 2.0}, "2", None


# --- dates and times -------------------------------------------------------------------------------------------------


def _year(match: Matched, _words: Sequence[str], _currency: str) -> _Made:
    if "tens" in match.captured:
        year = int(_value(match, "tens"))
        return "year", {"year": year, "decade": True}, f"{year}s", None
    if "decade" in match.captured:
        century = 2000 if _words[match.start] == "twenty" else 1900
        year = century + int(str(match.captured["decade"]))
        return "year", {"year": year, "decade": True}, f"{year}s", f"{year}s"
    if "year" not in match.captured:
        short = int(_value(match, "short" if "short" in match.captured else "figure"))
        year = short + (2000 if short <= LAST_SHORT_YEAR else 1900)
        return "year", {"year": year}, str(year), None
    year = int(_value(match, "year"))
    return "year", {"year": year}, str(year), str(year)


def _date(match: Matched, words: Sequence[str], _currency: str) -> _Made:
    got, text = match.captured, " ".join(words[match.start : match.end])
    value: dict[str, Any] = {"text": text}
    for name in ("relative", "span", "part"):
        if name in got or name in match.form.settings:
            value[name] = str(got.get(name) or match.form.settings[name])
    if "part" in value:
        value.setdefault("relative", "this")
    for name in ("month", "plain month", "season"):
        if name in got:
            one = got[name]
            value["month"] = int(one.value if isinstance(one, Number) else one)
    for name, key in (("day", "day"), ("nth", "day"), ("year", "year")):
        if name in got:
            value[key] = int(_value(match, name))
    if "weekday" in got and "day" not in value:
        value |= {"weekday": int(str(got["weekday"])), "relative": value.get("relative", "this")}
        if "weeks" in match.form.settings:
            value["weeks"] = int(match.form.settings["weeks"])
    if "days" in got:
        value["days"] = int(str(got["days"]))
    if "feast" in got:
        month, _, day = str(got["feast"]).partition("-")
        value |= {"month": int(month)} | ({"day": int(day)} if day else {})
    if match.form.name in ("some time from now", "some time ago"):
        count = _value(match, "count") if "count" in got else float(str(got.get("few", 1)))
        days = int(count * _DAYS_OF.get(value.pop("span", "week"), 7))
        value |= {"days": -days if "ago" in match.form.settings else days, "loose": True}
    if not {"relative", "days"} & value.keys() or "weekday" in value:
        past, future = phrase_list("past words"), phrase_list("future words")
        if value.get("relative", "this") == "this" and past.within(words) and not future.within(words):
            value["past"] = True  # "came back on Friday" is the last one, "comes back on Friday" the next
    return "date", value, text, _written_date(match, value, words)


_NAMES = frozenset((
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday",
))  # fmt: skip
_DATES_IN_FIGURES = (
    "day of a month", "day of a month in a year", "day of the week and month", "month of a year",
)  # fmt: skip


def _written_date(match: Matched, value: dict[str, Any], words: Sequence[str]) -> str | None:
    """ "the 3rd of October 2026": the day and year in figures, all else as it was said."""
    if match.form.name not in _DATES_IN_FIGURES:
        return None
    pieces: list[str] = []
    place = match.start
    for name in sorted({"day", "nth", "year"} & match.captured.keys(), key=lambda one: _begin(match, one)):
        number = _number(match, name)
        pieces += words[place : _begin(match, name)]
        pieces.append(_with_ending(int(number.value)) if number.how == "ordinal" else number.figures)
        place = number.end
    pieces += words[place : match.end]
    return " ".join(one.capitalize() if one in _NAMES else one for one in pieces).replace(" ,", ",")


def _begin(match: Matched, name: str) -> int:
    return int(str(match.captured[f"{name} begins"]))


def _time(match: Matched, words: Sequence[str], _currency: str) -> _Made:
    got = match.captured
    value: dict[str, Any]
    if "noon" in got:
        value = {"time": f"{int(str(got['noon'])):02d}:00", "half": None}
        return "time", value, str(value["time"]), None
    if "clock" in got:
        hour, minute = divmod(int(_value(match, "clock")), 60)
    else:
        hour = int(_value(match, "hour"))
        minute = int(_value(match, "minute")) if "minute" in got else int(str(got.get("minutes past", 0)))
    if match.form.name == "half nine":
        minute = 30
    if "to_the_hour" in match.form.settings:
        hour, minute = (hour - 1 or 12), 60 - minute
    half = got.get("half day")
    if half == "pm" and hour < 12:
        hour += 12
    elif half == "am" and hour == 12:
        hour = 0
    value = {"time": f"{hour:02d}:{minute:02d}", "half": half}
    return "time", value, str(value["time"]), _written_time(match, words)


def _written_time(match: Matched, words: Sequence[str]) -> str | None:
    """ "9:30", "7 pm"; "half past nine" stays as it is."""
    if "minute" in match.captured and "oclock" not in match.captured and match.form.name.startswith("hour and minute"):
        hour, minute = _number(match, "hour"), _number(match, "minute")
        rest = " ".join(words[minute.end : match.end]).replace("a m", "am").replace("p m", "pm")
        return f"{int(hour.value)}:{int(minute.value):02d} {rest}".strip()
    if match.form.name == "full hour" and "half day" in match.captured and "oclock" not in match.captured:
        hour = _number(match, "hour")
        rest = " ".join(words[hour.end : match.end]).replace("a m", "am").replace("p m", "pm")
        return f"{int(hour.value)} {rest}" if rest in ("am", "pm") else None
    return None


# --- helpers ---------------------------------------------------------------------------------------------------------


def in_the_unit_of(one: Quantity, before: Quantity) -> Quantity:
    """A bare number as a measure in the unit of the measure said before it: "to thirty six psi and then to forty"."""
    value = {"amount": one.value["amount"], "unit": before.value["unit"]}
    canonical = f"{plain(one.value['amount'])} {value['unit']}"
    return replace(one, kind=before.kind, value=value, canonical=canonical, form="bare number in a unit said before")


def is_approximate(words: Sequence[str], start: int, end: int) -> bool:
    """Whether the words around say that a number is only about right."""
    before = phrase_list("approximate")
    filler = start > 1 and words[start - 1] in ("a", "the", "about", "be")
    behind = phrase_list("approximate behind")
    return bool(
        before.before(words, start) or (filler and before.before(words, start - 1)) or next(behind.at(words, end), None)
    )


def shown_figures(one: Number) -> str:
    """A number as it is written: "4,000" only from ten thousand on, "2½"."""
    if one.how == "fraction":
        whole, _, part = one.figures.rpartition(" ")
        whole = "" if whole == "0" else whole
        return f"{whole}{_SIGNS[part]}" if part in _SIGNS else f"{whole} {part}".strip()
    if one.how == "plural":
        return f"{one.figures}s"
    if one.how == "whole" and one.value >= 10_000:
        return f"{int(one.value):,}"
    return one.figures


def plain(value: float) -> str:
    """A number in figures without needless ones."""
    return str(int(value)) if value == int(value) else f"{round(value, 6):g}"


def _number(match: Matched, name: str) -> Number:
    one = match.captured[name]
    assert isinstance(one, Number)
    return one


def _value(match: Matched, name: str) -> float:
    return _number(match, name).value


def _figures(match: Matched, name: str) -> str:
    return _number(match, name).figures


_MAKERS: dict[str, Callable[[Matched, Sequence[str], str], _Made]] = {
    "money": _money, "measure": _measure, "engine size": _engine, "part number": _part_number,
    "job number": _job_number, "number": _plain_number, "ordinal": _ordinal, "quantity": _quantity, "year": _year,
    "date": _date, "time": _time,
}  # fmt: skip
