"""Guess when a recording was made, which month it tells of, what kind it is and what it is called.

Everything here is a guess out of names and tags, and a person may correct each (`diaryidx recording`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from diaryidx.errors import WrongUse
from diaryidx.media.files import shown
from diaryidx.records import RecordingKind

EARLIEST = date(1990, 1, 1)  # no shop's digital film is older; own choice
SLACK = timedelta(days=366)  # how far ahead a date may lie, for clocks set wrong; own choice

# Dates that clocks show after a flat battery, and the zero of QuickTime (1904), Unix (1970) and FAT (1980) time.
CLOCK_ZEROS = frozenset({date(1904, 1, 1), date(1970, 1, 1), date(1980, 1, 1), date(2000, 1, 1)})

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
_MONTH = "(?P<name>" + "|".join(f"{name[:3]}(?:{name[3:]})?" if name != "may" else "may" for name in MONTHS) + "|sept)"
_YEAR = r"(?P<y>(?:19|20)\d\d)"
_SEP = r"(?P<s>[-_. ]?)"
_ORDINAL = r"(?P<d>0?[1-9]|[12]\d|3[01])(?:st|nd|rd|th)?"

# Ways of writing a date in a file's name, tried in this order; the first that is a real day wins.
DAY_PATTERNS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"(?<!\d){_YEAR}{_SEP}(?P<m>\d\d)(?P=s)(?P<d>\d\d)(?!\d)",  # 2026-10-03, 20261003
        rf"(?<!\d){_YEAR}(?P<m>\d\d)(?P<d>\d\d)(?:[01]\d|2[0-3])[0-5]\d[0-5]\d(?!\d)",  # 20261003142233
        rf"(?<!\d){_YEAR}(?P<s>[-_.])(?P<m>\d\d?)(?P=s)(?P<d>\d\d?)(?!\d)",  # 2026-1-3
        rf"(?<!\d)(?P<d>\d\d?)(?P<s>[-_. ])(?P<m>\d\d?)(?P=s){_YEAR}(?!\d)",  # 03.10.2026, the day first
        rf"(?<!\d)(?P<m>\d\d?)(?P<s>[-_. ])(?P<d>\d\d?)(?P=s){_YEAR}(?!\d)",  # 10-25-2026, if nothing else fits
        rf"(?<!\d){_ORDINAL}[-_., ]*(?:of[ _])?{_MONTH}(?![a-z])[-_., ]*{_YEAR}(?!\d)",  # 3rd October 2026
        rf"(?<![a-z]){_MONTH}[-_., ]+{_ORDINAL}[-_., ]+{_YEAR}(?!\d)",  # October 3, 2026
        rf"(?<!\d){_YEAR}[-_., ]*{_MONTH}[-_., ]*{_ORDINAL}(?!\d)",  # 2026 October 3
    )
)
MONTH_PATTERNS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"(?<!\d){_YEAR}[-_.](?P<m>0[1-9]|1[0-2])(?![-_.]?\d)",  # 2026-10
        rf"(?<![\d.-])(?P<m>0[1-9]|1[0-2])[-_.]{_YEAR}(?!\d)",  # 10-2026
        rf"(?<![a-z]){_MONTH}(?![a-z])\W*(?:_|[a-z-]+[\W_]+){{0,3}}{_YEAR}(?!\d)",  # October 2026, October diary 2026
        rf"(?<!\d){_YEAR}[-_., ]*{_MONTH}(?![a-z])",  # 2026 October
    )
)
# A month without a year counts only beside a word for a monthly film: "may" and "march" are words of their own.
_FULL_MONTH = "(?P<name>" + "|".join(MONTHS) + ")"
_MONTHLY = r"(?:diary|vlog|update|news|round[- _]?up)"
BARE_MONTH = re.compile(
    rf"^{_FULL_MONTH}$|(?<![a-z]){_FULL_MONTH.replace('name', 'name2')}(?:'s)?[\W_]+{_MONTHLY}"
    rf"|{_MONTHLY}[\W_]+(?:for[\W_]+)?{_FULL_MONTH.replace('name', 'name3')}(?![a-z])",
    re.IGNORECASE,
)

# What words in a name say about the kind of film, the most telling first. Own choice.
KIND_WORDS: tuple[tuple[RecordingKind, str], ...] = (
    ("diary", r"diary|diaries|vlog|build update|workshop update|walk ?round|walk ?around|round ?up"),
    ("tutorial", r"tutorials?|how ?to|guide|lesson|step by step|masterclass"),
    ("questions", r"questions?|q ?(?:&|and|n|\+) ?a|qa|faqs?|ask us|your answers|answered"),
    ("product news", r"product news|new products?|products?|news|launch|new stock|shop news"),
    ("bench note", r"bench ?notes?|voice ?(?:notes?|memos?)|notes?|memos?|new recording|audio ?note|dictation"),
)
# What telephones record sound as; the longest that is taken for a note, in seconds; and names such as "job 2304 tank".
# Own choices.
VOICE_NOTE_SUFFIXES = frozenset((".m4a", ".opus", ".amr", ".awb", ".ogg", ".oga", ".3gp", ".3ga", ".caf", ".aac"))
LONGEST_VOICE_NOTE = 600.0
NAMED_AFTER_JOB = re.compile(r"(?<![a-z0-9])(?:job|order) (?:(?:no|nr|num|number) )?#?\d")
EMPTY_TITLES = re.compile(
    r"|untitled.*|video|movie|my movie|project ?\d*|sequence ?\d*|.* handler|new recording ?\d*", re.I
)
CAMERA_NAME = re.compile(r"(?:vid|img|mvi|dji|gopr|gx|gh|pxl|dsc|mov|rec|wp|signal)?[-_ ]?[\d_\-. ]*(?:wa\d+)?", re.I)
CLOCK_TIME = r"(?:[T_ -]*(?:[01]\d|2[0-3])[-.:]?[0-5]\d(?:[-.:]?[0-5]\d)?(?!\d))?"


def guess_date(
    path: Path, container_date: str | None, mtime: float, timezone: str, today: date | None = None
) -> tuple[str, str]:
    """Guess when a recording was made, or which month it is of.

    Args:
        path: the file; its own name is read first, its folder's name last.
        container_date: ISO 8601 date or date and time out of the container's tags (local where it has no zone).
        mtime: the file's time of last change, seconds since 1970 UTC.
        timezone: the shop's time zone by its IANA name ("Europe/London"); decides which day it was there.
        today: the last day that is not in the future; the current day if not given.

    Returns: an ISO 8601 date ("2026-10-03") or, where a name says only the month, a month ("2026-10"), and where it
    comes from: "file name", "container tag" or "file time".

    Raises WrongUse: the time zone's name is unknown.
    """
    zone = _zone(timezone)
    latest = (today or datetime.now(zone).date()) + SLACK
    tagged = _local_day(container_date, zone, latest)
    changed = _file_day(mtime, zone)
    named = date_in_name(path.stem, tagged or changed, latest)
    if named and not (len(named) == 7 and tagged and tagged.isoformat().startswith(named)):
        return named, "file name"
    if tagged:  # also where a name gives the month and the tag a day in it
        return tagged.isoformat(), "container tag"
    folder = date_in_name(path.parent.name, None, latest)
    return (folder, "file name") if folder else (changed.isoformat(), "file time")


def guess_month(date_or_month: str, *names: str) -> str:
    """Guess the month, "2026-10", that a recording tells of.

    It is the month of its date, an ISO 8601 date, date and time, or month; but "October diary", filmed on the second
    of November, tells of October. ``names`` are the file's name and title; a month in them counts if it is the one
    before (common practice for monthly films, no source).
    """
    month = date_or_month[:7]
    year, number = int(month[:4]), int(month[5:7])
    before = f"{year:04}-{number - 1:02}" if number > 1 else f"{year - 1:04}-12"
    for name in names:
        named = BARE_MONTH.search(name.strip())
        if named and _month_number({"name": next(filter(None, named.groups()))}) == int(before[5:]):
            return before
    return month


def date_in_name(name: str, near: date | None, latest: date) -> str | None:
    """Return the date (or month, "2026-10") written in a name, or None.

    ``near`` is about when the film was made: a month without a year ("October diary") is the last such month before
    it. Days before 1990 or after ``latest`` are not believed.
    """
    for _match, found in _days(name):
        if EARLIEST <= found <= latest and found not in CLOCK_ZEROS:
            return found.isoformat()
    for pattern in MONTH_PATTERNS:
        for match in pattern.finditer(name):
            month = _month_number(match.groupdict())
            found = date(int(match["y"]), month, 1)
            if EARLIEST <= found <= latest:
                return f"{found:%Y-%m}"
    match_bare = BARE_MONTH.search(name.strip())
    if match_bare and near:
        month = _month_number({"name": next(filter(None, match_bare.groups()))})
        year = near.year if month <= near.month else near.year - 1
        return f"{year:04}-{month:02}"
    return None


def read_date_tag(tag: str | None) -> str | None:
    """Return a container's date tag as ISO 8601, or None where it is no date.

    Understands ISO 8601, "2026:10:03 14:22:33" (Exif), "20261003T142233Z" and "2026/10/03"; a bare year is too little.
    """
    if not tag:
        return None
    text = re.sub(r"^(\d{4})[:/](\d\d)[:/](\d\d)", r"\1-\2-\3", tag.strip())
    text = re.sub(r"^(\S+) (\d\d:\d\d\S*) ?(?:UTC|Z)$", r"\1T\2+00:00", text, flags=re.IGNORECASE)
    if not re.match(r"\d{4}-?\d\d-?\d\d(?!\d)", text):
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        return None
    return moment.date().isoformat() if re.fullmatch(r"\d{4}-?\d\d-?\d\d", text) else moment.isoformat()


def guess_kind(
    path: Path, title: str | None, *, duration: float | None = None, has_picture: bool = True
) -> RecordingKind:
    """Guess the kind of a recording from its file name, then its title, then the folders it lies in; else "other".

    Where these say nothing, a short recording is a bench note if it is sound as telephones record it, or if its file is
    named after a job ("job 2304 tank").

    Args:
        path: the file.
        title: the title tag, if any.
        duration: in seconds; None where it is not known.
        has_picture: whether it is a film.
    """
    for text in (path.stem, title or "", path.parent.name, path.parent.parent.name):
        words = _words(text)
        for kind, pattern in KIND_WORDS:
            if re.search(rf"(?<![a-z0-9])(?:{pattern})(?![a-z0-9])", words):
                return kind
    if duration is None or duration > LONGEST_VOICE_NOTE:
        return "other"
    by_phone = not has_picture and path.suffix.lower() in VOICE_NOTE_SUFFIXES
    return "bench note" if by_phone or NAMED_AFTER_JOB.search(_words(path.stem)) else "other"


def guess_title(path: Path, container_title: str | None) -> str:
    """Guess a title: the container's if it says something, else the file's name without its date and underscores.

    It is one printable line, whatever the name is made of.
    """
    title = " ".join((container_title or "").split())
    if not EMPTY_TITLES.fullmatch(title) and not CAMERA_NAME.fullmatch(Path(title).stem) and title != path.name:
        return shown(title)
    stem = path.stem
    if stem.strip() and CAMERA_NAME.fullmatch(stem):
        return shown(stem)
    leading = next((match[0] for match, _day in _days(stem) if match.start() == 0), "")
    rest = re.sub(re.escape(leading) + CLOCK_TIME, "", stem, count=1) if leading else stem
    tidy = " ".join(re.sub(r"[_\s]+", " ", rest).split()).strip(" -–.,")
    if re.search(r"[^\W\d_]", tidy):
        return shown(tidy[:1].upper() + tidy[1:])
    return shown(stem) if stem.strip() else "film without a name"


def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise WrongUse(f"the time zone {name!r} is unknown; use a name such as Europe/London") from None


def _local_day(moment: str | None, zone: ZoneInfo, latest: date) -> date | None:
    """Return the day of a tag in the shop's time zone, unless it is absurd."""
    iso = read_date_tag(moment)
    if iso is None:
        return None
    if len(iso) == 10:
        day = date.fromisoformat(iso)
    else:
        when = datetime.fromisoformat(iso)
        if when.replace(tzinfo=None).date() in CLOCK_ZEROS:
            return None
        # UTC is moved to the shop's zone; a tag without a zone, or with one of its own, already says the local day.
        day = when.astimezone(zone).date() if when.utcoffset() == timedelta(0) else when.date()
    return day if EARLIEST <= day <= latest and day not in CLOCK_ZEROS else None


def _file_day(mtime: float, zone: ZoneInfo) -> date:
    try:
        return datetime.fromtimestamp(mtime, zone).date()
    except (OverflowError, ValueError, OSError):
        return date(1970, 1, 1)


def _days(name: str) -> Iterator[tuple[re.Match[str], date]]:
    """Yield every stretch of a name that reads as a real day, with that day."""
    for pattern in DAY_PATTERNS:
        for match in pattern.finditer(name):
            try:
                yield match, date(int(match["y"]), _month_number(match.groupdict()), int(match["d"]))
            except ValueError:
                continue


def _month_number(groups: dict[str, str | None]) -> int:
    if groups.get("m"):
        return int(groups["m"] or 0)
    return [name[:3] for name in MONTHS].index((groups["name"] or "")[:3].lower()) + 1


def _words(text: str) -> str:
    """Return a name as lower-case words: "HowTo_brake-pads" becomes "how to brake pads"."""
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z])(?=\d)|(?<=\d)(?=[A-Za-z])", " ", text)
    return re.sub(r"[\s_\-.,()\[\]]+", " ", spaced).lower()
