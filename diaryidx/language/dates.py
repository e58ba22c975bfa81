"""What day a spoken date means, given the day it was said. ISO 8601: a day (2025-10-03), a month (2025-11), a year."""

from __future__ import annotations

import datetime
from typing import Any


def resolve(value: dict[str, Any], said_on: str | None) -> str | None:
    """Turn a spoken date into ISO 8601.

    Arguments:
        value: the ``value`` of a DATE found by ``measures``.
        said_on: ISO date of the recording, or None when unknown.
    Returns: an ISO day, month or year; None where it cannot be known. A month or weekday without a year is the next one
        on or after the day it was said ("in March", said in October); with "last" the one before, and where the talk is
        of the past ("it came back on Friday") the one on or before that day. A week gives its month: a day would say
        more than was said.
    """
    day = _date(said_on)
    if value.get("year"):
        return _iso(value["year"], value["month"], value.get("day")) if value.get("month") else f"{value['year']:04d}"
    if day is None:
        return None
    if "days" in value:
        return _after_days(day, value)
    if "weekday" in value:
        return _weekday(day, value)
    if "span" in value:
        return _span(day, value)
    if "month" in value:
        return _month(day, value)
    if "day" in value:
        return _day_of_month(day, value["day"], past=bool(value.get("past")))
    return None


def _date(text: str | None) -> datetime.date | None:
    try:
        return datetime.date.fromisoformat((text or "")[:10])
    except ValueError:
        return None


def _iso(year: int, month: int, day: int | None = None) -> str | None:
    if day is None:
        return f"{year:04d}-{month:02d}"
    try:
        return datetime.date(year, month, day).isoformat()
    except ValueError:
        return f"{year:04d}-{month:02d}"


def _after_days(day: datetime.date, value: dict[str, Any]) -> str:
    then = day + datetime.timedelta(days=value["days"])
    if value.get("loose") and abs(value["days"]) >= 365:
        return f"{then:%Y}"  # "two years ago" names no month
    return f"{then:%Y-%m}" if value.get("loose") and abs(value["days"]) >= 28 else then.isoformat()


def _weekday(day: datetime.date, value: dict[str, Any]) -> str:
    ahead = (value["weekday"] - day.weekday()) % 7
    if value.get("past"):
        return (day - datetime.timedelta(days=-ahead % 7)).isoformat()
    if value.get("relative") == "last":
        return (day - datetime.timedelta(days=(7 - ahead) % 7 or 7)).isoformat()
    if value.get("relative") == "next":
        ahead = ahead or 7
    return (day + datetime.timedelta(days=ahead + 7 * value.get("weeks", 0))).isoformat()


def _span(day: datetime.date, value: dict[str, Any]) -> str:
    step = {"next": 1, "last": -1, "after next": 2}.get(value.get("relative", "this"), 0)
    if value["span"] == "month":
        month = day.year * 12 + day.month - 1 + step
        return f"{month // 12:04d}-{month % 12 + 1:02d}"
    if value["span"] == "year":
        return f"{day.year + step:04d}"
    if value["span"] == "weekend":
        saturday = day + datetime.timedelta(days=(5 - day.weekday()) % 7 + 7 * step)
        return saturday.isoformat()
    days = {"week": 7, "fortnight": 14}.get(value["span"], 7) * step
    thursday = day + datetime.timedelta(days=3 - day.weekday() + days)  # a week belongs to its Thursday's month
    return f"{thursday:%Y-%m}"


def _month(day: datetime.date, value: dict[str, Any]) -> str | None:
    month, of_month = value["month"], value.get("day")
    earlier = (month, of_month or 31) < (day.month, day.day)
    later = (month, of_month or 1) > (day.month, day.day)
    year = day.year + (1 if earlier else 0)
    if value.get("past"):
        year = day.year - (1 if later else 0)
    if value.get("relative") == "last":
        year = day.year if month < day.month else day.year - 1
    elif value.get("relative") == "next" and month == day.month and of_month is None:
        year = day.year + 1
    return _iso(year, month, of_month)


def _day_of_month(day: datetime.date, of_month: int, *, past: bool) -> str | None:
    month = day.year * 12 + day.month - 1
    if past:
        month -= of_month > day.day
    else:
        month += of_month < day.day
    return _iso(month // 12, month % 12 + 1, of_month)
