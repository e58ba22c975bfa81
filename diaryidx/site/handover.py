"""The handover sheet of a bike: what was done, what is open, its cautions and places to sign, on A4 paper.

It is given away, so no words said on film are quoted on it, and names, numbers and addresses of other customers are
taken out of what the job book says.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from diaryidx.builds.history import history
from diaryidx.builds.private import without_owner, without_private
from diaryidx.builds.standing import PartState, open_in_full, systems
from diaryidx.builds.wording import describe, item_words, on_words, open_words, said_date
from diaryidx.records import Build, History, Statement
from diaryidx.remark_wording import customer_part_words
from diaryidx.resources import plugins_folder
from diaryidx.shapes import Shape
from diaryidx.shop import Shop
from diaryidx.site.addresses import build_address
from diaryidx.site.context import vocabulary_of
from diaryidx.site.page import Asked, Page
from diaryidx.site.safety import cautions_of
from diaryidx.site.wording import build_words, capitalised
from diaryidx.store import reading
from diaryidx.wording import DOUBTFUL_BELOW, SURE_FROM

_SHEET = "handover.html"
_DONE = ("done", "earlier work")


@dataclass(frozen=True, slots=True)
class Row:
    """One part on the sheet, in words; ``check`` where the films are not sure of it."""

    part: str
    on_it: str
    supplier: str
    by: str
    check: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """What stands on a handover sheet, in words."""

    build: Build
    described: str
    done: tuple[tuple[str, tuple[Row, ...]], ...]
    open: tuple[str, ...]
    to_settle: tuple[str, ...]
    cautions: tuple[str, ...]
    from_customer: tuple[str, ...] = ()


def handover_page(db: sqlite3.Connection, shop: Shop, asked: Asked) -> Page:
    """The sheet as a page of its own, to be printed from the browser."""
    build = reading.build(db, asked.names["job"])
    sheet = sheet_of(db, shop, build if asked.may("customers") else without_owner(build))
    values = {"sheet": sheet, "styles": None, "back": build_address(sheet.build.job_number)}
    return Page(_SHEET, f"Handover of job {sheet.build.job_number}", values, _sheet_json(sheet), "builds")


def handover_html(db: sqlite3.Connection, shop: Shop, build: Build) -> str:
    """The sheet as one HTML file that needs nothing beside it."""
    styles = (plugins_folder() / "static" / "handover.css").read_text(encoding="utf-8")
    return _templates().get_template(_SHEET).render(
        sheet=sheet_of(db, shop, build), styles=styles, back=None, shop=shop.settings,
        title=f"Handover of job {build.job_number}",
    )  # fmt: skip


def sheet_of(db: sqlite3.Connection, shop: Shop, build: Build) -> Sheet:
    """Everything that stands on the sheet of a bike."""
    words = vocabulary_of(db, shop)
    known = history(db, build, words)
    others = [one for one in reading.builds(db) if one.customer != build.customer]
    by_system = systems(known)
    done = tuple(
        (capitalised(system), rows)
        for system, parts in by_system.items()
        if (rows := tuple(_row(part, others) for part in parts if part.fitted or part.status in _DONE))
    )
    still_open = tuple(
        without_private(f"{capitalised(item_words(item.statement))}: {open_words(item)}", others)
        for item in open_in_full(known)
        if item.statement.source == "book" or describe(item.statement) != item.statement.text
    )
    worked_on = [one for one in known.statements if one.status != "ruled out"]
    cautions = cautions_of(
        words,
        [term for one in worked_on for term in (one.part, one.task)],
        [build.asked_for or ""],
    )
    sure = [one for one in known.customer_parts if one.certainty >= DOUBTFUL_BELOW]
    from_customer = dict.fromkeys(without_private(capitalised(customer_part_words(one)), others) for one in sure)
    return Sheet(
        build, build_words(build), done, still_open, tuple(_to_settle(known, others)), tuple(cautions),
        tuple(from_customer),
    )  # fmt: skip


def _row(part: PartState, others: Sequence[Build]) -> Row:
    name = ", ".join(word for word in (part.part, part.side) if word)
    on_it = on_words(part) or ("done before" if part.status == "earlier work" else "done")
    check = part.certainty < SURE_FROM and not part.latest.decided
    by = said_date(part.fitted) if part.fitted else ""
    return Row(capitalised(name), without_private(on_it, others), part.supplier or "", by, check)


def _to_settle(known: History, others: Sequence[Build]) -> list[str]:
    """What somebody must look at before the bike is given away: contradictions, and what is not as it was asked for."""
    pairs = [(earlier, later, "or") for earlier, later in known.conflicts]
    pairs += [
        (one.earlier, one.later, "asked for; it was done as") for one in known.changes if one.kind == "not as asked"
    ]
    return [
        without_private(f"{capitalised(_dated(earlier))} {between} {_dated(later)}?", others)
        for earlier, later, between in pairs
    ]


def _dated(statement: Statement) -> str:
    day = statement.said_on or statement.when
    return describe(statement) + (f" ({said_date(day)})" if day else "")


def _sheet_json(sheet: Sheet) -> Shape:
    return {
        "job_number": sheet.build.job_number,
        "done": [
            {
                "system": system,
                "parts": [
                    {"part": r.part, "on_it": r.on_it, "supplier": r.supplier, "by": r.by, "check": r.check}
                    for r in rows
                ],
            }
            for system, rows in sheet.done
        ],
        "open": list(sheet.open),
        "to_settle": list(sheet.to_settle),
        "from_customer": list(sheet.from_customer),
        "cautions": list(sheet.cautions),
    }


@cache
def _templates() -> Environment:
    folder = plugins_folder() / "templates" / "site"
    environment = Environment(loader=FileSystemLoader(folder), autoescape=True, undefined=StrictUndefined)
    environment.filters["said_date"] = said_date
    return environment
