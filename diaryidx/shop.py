"""A shop folder and its settings: where its films, job book, words and database are, and how it wants things done."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Literal, get_args
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from diaryidx.errors import WrongUse
from diaryidx.resources import mini_model_folder

#: The settings' file, its tables and keys, each with the type it must have and what it is for; `init` and the
#: documentation are made from this list.
KNOWN_SETTINGS: dict[str, dict[str, tuple[type, str]]] = {
    "": {
        "name": (str, "the shop's name, as pages and replies show it"),
        "timezone": (str, "the shop's time zone, as in the IANA time zone database"),
        "currency": (str, "what prices are in, as an ISO 4217 code"),
        "spelling": (str, '"british" or "american", for what the tool writes itself'),
    },
    "speech": {
        "engine": (str, '"auto", "vosk" or "packaged"'),
        "model": (str, 'a Vosk model\'s folder, or "mini" for the small demo model; empty: the one you installed'),
    },
    "jobs": {
        "file": (
            str,
            "the job book, read again at each index when it changed; empty: none, `jobs import` alone brings jobs in",
        ),
        "sheet": (str, "its sheet, where it is a workbook of several; empty: the one with most columns of a job book"),
    },
    "staff": {
        "name": (str, "who may sign in on the site, as decisions and notes show it"),
        "role": (str, '"owner", "staff" or "marketing"'),
        "password_hash": (str, "written by `diaryidx staff add`; the password itself is stored nowhere"),
    },
}
#: Tables that stand in the file once for every person, as ``[[staff]]``.
REPEATED = ("staff",)
Role = Literal["owner", "staff", "marketing"]
ROLES: tuple[Role, ...] = get_args(Role)
MINI_MODEL = "mini"
SPELLINGS = ("british", "american")
ENGINES = ("auto", "vosk", "packaged")
#: Time zones of the United States (IANA time zone database, zone1970.tab), where dates are written month first.
_MONTH_FIRST_ZONES = re.compile(
    r"US/.+|Pacific/Honolulu|America/(?:Adak|Anchorage|Boise|Chicago|Denver|Detroit|Indiana/.+|Juneau|Kentucky/.+"
    r"|Los_Angeles|Menominee|Metlakatla|New_York|Nome|North_Dakota/.+|Phoenix|Sitka|Yakutat)"
)


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may sign in on the site. ``password_hash`` is as datasette-auth-passwords makes it."""

    name: str
    role: Role
    password_hash: str = field(default="", repr=False)


@dataclass(frozen=True, slots=True)
class Settings:
    """What ``shop.toml`` says, with the defaults for what it leaves out."""

    name: str = "Our workshop"
    timezone: str = "Europe/London"
    currency: str = "GBP"
    spelling: str = "british"
    engine: str = "auto"
    model: str | None = None
    jobs_file: str = "jobs.csv"
    jobs_sheet: str | None = None
    staff: tuple[Person, ...] = ()

    @property
    def month_first(self) -> bool:
        """Whether people here write 3/11/2025 for March the 11th: by the spelling or the time zone."""
        return self.spelling == "american" or bool(_MONTH_FIRST_ZONES.fullmatch(self.timezone))


@dataclass(frozen=True, slots=True)
class Shop:
    """A shop folder that was found and whose settings are sound."""

    folder: Path
    settings: Settings

    @property
    def recordings(self) -> Path:
        """The folder of the films, in any layout."""
        return self.folder / "recordings"

    @property
    def photos(self) -> Path:
        """The photos of notes, named by the hash of their bytes."""
        return self.folder / "photos"

    @property
    def database(self) -> Path:
        """Everything found and everything decided."""
        return self.folder / "shop.db"

    @property
    def words(self) -> Path:
        """The shop's own words."""
        return self.folder / "words.yaml"

    @property
    def model(self) -> Path | None:
        """The folder of the Vosk model that the settings name; None where they leave the choice to the program."""
        if self.settings.model is None:
            return None
        if self.settings.model == MINI_MODEL:
            return mini_model_folder()
        return self.folder / Path(self.settings.model).expanduser()

    @property
    def listens_with_mini_model(self) -> bool:
        """Whether the small demo model was chosen, so that pages and commands can say what it is."""
        return self.settings.model == MINI_MODEL

    @property
    def watches_job_book(self) -> bool:
        """Whether a file is read at each index; a shop that imports its job book by hand leaves it empty."""
        return bool(self.settings.jobs_file.strip())

    @property
    def job_book(self) -> Path:
        """The list of builds, as the shop keeps it; only where one is watched."""
        return self.folder / Path(self.settings.jobs_file).expanduser()


def load_shop(folder: Path) -> Shop:
    """Find a shop folder and read its settings.

    :param folder: the folder that holds ``shop.toml``.
    :raises WrongUse: there is no ``shop.toml``, or one of its settings is unknown or has a wrong value.
    """
    settings_file = folder / "shop.toml"
    if not settings_file.is_file():
        raise WrongUse(
            f"{folder}: no shop here (no shop.toml); make one with `diaryidx init {folder}` or name it by --shop"
        )
    try:
        raw = tomllib.loads(settings_file.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise WrongUse(f"{settings_file}: not valid TOML: {error}") from error
    except OSError as error:
        raise WrongUse(f"{settings_file}: cannot be read: {error.strerror}") from error
    return Shop(folder.resolve(), read_settings(raw, settings_file))


def read_settings(raw: Mapping[str, Any], settings_file: Path) -> Settings:
    """Check parsed settings and fill in the defaults.

    :raises WrongUse: names the setting, what is wrong with it, and what it may be.
    """
    known_keys = KNOWN_SETTINGS[""]
    flat: dict[str, Any] = {}
    for key, value in raw.items():
        if key in REPEATED:
            flat[key] = _people(value, key, settings_file)
        elif isinstance(value, dict) and key in KNOWN_SETTINGS:
            for inner, inner_value in value.items():
                _check_type(f"{key}.{inner}", inner_value, KNOWN_SETTINGS[key], inner, settings_file)
                flat[f"{key}.{inner}"] = inner_value
        else:
            _check_type(
                key, value, known_keys | {name: (dict, "") for name in KNOWN_SETTINGS if name}, key, settings_file
            )
            flat[key] = value
    default = Settings()
    settings = Settings(
        name=flat.get("name", default.name),
        timezone=flat.get("timezone", default.timezone),
        currency=str(flat.get("currency", default.currency)).upper(),
        spelling=flat.get("spelling", default.spelling),
        engine=flat.get("speech.engine", default.engine),
        model=flat.get("speech.model") or default.model,
        jobs_file=flat.get("jobs.file", default.jobs_file),
        jobs_sheet=flat.get("jobs.sheet") or default.jobs_sheet,
        staff=flat.get("staff", default.staff),
    )
    _check_values(settings, settings_file)
    return settings


def _people(rows: object, table: str, settings_file: Path) -> tuple[Person, ...]:
    """The people in ``[[staff]]``, each with all that is needed to sign in."""
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise WrongUse(f'{settings_file}: "{table}" must stand once for each person, as [[{table}]]')
    known, people = KNOWN_SETTINGS[table], []
    for row in rows:
        for key, value in row.items():
            _check_type(f"{table}.{key}", value, known, key, settings_file)
        missing = [key for key in known if not str(row.get(key, "")).strip()]
        if missing:
            raise WrongUse(
                f'{settings_file}: "{table}" lacks "{missing[0]}"; `diaryidx staff add NAME` writes it whole'
            )
        people.append(Person(row["name"], row["role"], row["password_hash"]))
    return tuple(people)


def _check_people(people: tuple[Person, ...], settings_file: Path) -> None:
    for person in people:
        if person.role not in ROLES:
            raise WrongUse(f'{settings_file}: "staff.role" is {person.role!r}; it may be {", ".join(ROLES)}')
    names = [person.name.casefold() for person in people]
    twice = next((person.name for person in people if names.count(person.name.casefold()) > 1), None)
    if twice is not None:
        raise WrongUse(f"{settings_file}: {twice!r} stands in staff twice; take one of them out")
    if people and all(person.role != "owner" for person in people):
        raise WrongUse(f'{settings_file}: nobody in staff has the role "owner"; give it to one of them')


def _check_type(
    shown: str, value: object, known: Mapping[str, tuple[type, str]], key: str, settings_file: Path
) -> None:
    if key not in known:
        near = get_close_matches(key, known, n=1)
        hint = f'; did you mean "{near[0]}"?' if near else f"; known are {', '.join(known)}"
        raise WrongUse(f'{settings_file}: unknown setting "{shown}"{hint}')
    if not isinstance(value, known[key][0]):
        raise WrongUse(f'{settings_file}: "{shown}" must be a {"table" if known[key][0] is dict else "text in quotes"}')


def _check_values(settings: Settings, settings_file: Path) -> None:
    _check_people(settings.staff, settings_file)
    for shown, value, allowed in (
        ("spelling", settings.spelling, SPELLINGS),
        ("speech.engine", settings.engine, ENGINES),
    ):
        if value not in allowed:
            raise WrongUse(f'{settings_file}: "{shown}" is {value!r}; it may be {", ".join(allowed)}')
    if len(settings.currency) != 3 or not settings.currency.isalpha():
        raise WrongUse(f'{settings_file}: "currency" is {settings.currency!r}; it must be three letters such as GBP')
    try:
        ZoneInfo(settings.timezone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise WrongUse(
            f'{settings_file}: "timezone" is {settings.timezone!r}; it must be one such as Europe/London'
        ) from error


def starter_settings(name: str) -> str:
    """A commented ``shop.toml`` for a new shop, made from the list of known settings."""
    default = Settings(name=name)
    values = {
        "name": default.name,
        "timezone": default.timezone,
        "currency": default.currency,
        "spelling": default.spelling,
        "speech.engine": default.engine,
        "speech.model": "",
        "jobs.file": default.jobs_file,
        "jobs.sheet": "",
    }
    lines: list[str] = []
    for table, keys in KNOWN_SETTINGS.items():
        if table in REPEATED:
            lines += ["", f"# Once for each person, by `diaryidx {table} add NAME --role ROLE`:", f"# [[{table}]]"]
            lines += [f"# {key} = {_toml_text('')}  # {purpose}" for key, (_type, purpose) in keys.items()]
            continue
        if table:
            lines += ["", f"[{table}]"]
        for key, (_type, purpose) in keys.items():
            value = values[f"{table}.{key}" if table else key]
            lines += [f"# {purpose}", f"{key} = {_toml_text(value)}"]
    return "\n".join(lines) + "\n"


def _toml_text(value: str) -> str:
    """A TOML basic string (TOML 1.0.0, section "String")."""
    escaped = value.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04x}" for c in escaped) + '"'
