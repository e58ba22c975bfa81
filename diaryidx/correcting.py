"""A person's word on a film: what was guessed about it, what was misheard in it; checked, then kept for good."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from urllib.parse import urlsplit

from sqlite_utils import Database

from diaryidx import teaching
from diaryidx.builds import review
from diaryidx.builds.film_references import refresh_references
from diaryidx.errors import WrongUse
from diaryidx.records import RECORDING_KINDS, Decision, Recording
from diaryidx.shop import Shop
from diaryidx.store import decisions, reading, writing


def correct(db: Database, recording_id: str, corrections: Mapping[str, str]) -> Recording:
    """Correct what was guessed about a film. A corrected date moves the film to that month unless a month is said too.

    :param corrections: any of ``title``, ``kind``, ``date`` (YYYY-MM-DD), ``month`` (YYYY-MM) and ``address``.
    :returns: the film as it is known now.
    :raises NotFound: there is no such film.
    :raises WrongUse: a value that cannot be; nothing is kept then.
    """
    reading.recording(db.conn, recording_id)
    checked = {field: _checked(field, value) for field, value in corrections.items()}
    if "date" in checked and "month" not in checked:
        checked["month"] = checked["date"][:7]
    writing.correct_recording(db, recording_id, checked)
    refresh_references(db)  # what is said of films is held against their titles, kinds and dates
    return reading.recording(db.conn, recording_id)


def correct_word(
    shop: Shop, db: Database, item_id: str, heard: str, meant: str, actor: str, *, later: bool = False
) -> Decision:
    """Correct a misheard word where it was met in review; it is taught, so it holds for all films.

    :param item_id: the stretch of film in which it was met, see `builds.review`.
    :param later: it is only kept; whoever calls has it applied by `teaching.apply_decisions`.
    :raises WrongUse: the words cannot be taught; nothing is kept then.
    """
    actor = review.checked_actor(actor)
    met = review.item(db.conn, item_id)
    taught = teaching.keep(db, teaching.plan_teaching(shop, db, heard, meant), actor)
    if not later:
        teaching.apply_decisions(shop, db)
    what = {"heard": taught.heard, "meant": taught.meant, "taught": taught.id}
    evidence = {"recording": met.recording, "title": met.title, "said_on": met.said_on, "text": met.text}
    return decisions.decide(db, met.recording, "word", met.start, met.end, actor, what, evidence)


def undo(shop: Shop, db: Database, actor: str, decision_id: int | None = None, *, later: bool = False) -> Decision:
    """Take back a decision, a corrected word too; without a number, the last one that this person made.

    :param later: as for `correct_word`.
    :raises NotFound: there is none.
    :raises WrongUse: it was undone before.
    """
    undone = review.undo(db, actor, decision_id)
    held = {one.id for one in reading.taught(db.conn) if one.undone_number is None}
    if undone.kind == "word" and undone.what["taught"] in held:
        teaching.keep(db, teaching.plan_undoing(shop, db, str(undone.what["taught"])), actor)
        if not later:
            teaching.apply_decisions(shop, db)
    return undone


def _checked(field: str, value: str) -> str:
    value = value.strip()
    if field == "date":
        return _date(value, value, "date", "YYYY-MM-DD").isoformat()
    if field == "month":
        return _date(value, f"{value}-01", "month", "YYYY-MM").isoformat()[:7]
    if field == "kind" and value not in RECORDING_KINDS:
        raise WrongUse(f"a film cannot be {value!r}; it may be {', '.join(RECORDING_KINDS)}")
    if field == "title" and not value:
        raise WrongUse("a title cannot be empty")
    if field == "address":
        parts = urlsplit(value)
        if parts.scheme not in ("http", "https") or not parts.netloc:
            raise WrongUse(f"{value!r} is no web address; it begins with https://")
    return value


def _date(said: str, iso: str, field: str, form: str) -> date:
    """A calendar date in exactly the extended form ``YYYY-MM-DD`` of ISO 8601; ``date.fromisoformat`` takes others."""
    try:
        found = date.fromisoformat(iso)
    except ValueError:
        found = None
    if found is None or found.isoformat() != iso:
        raise WrongUse(f"{said!r} is no {field}; write it as {form}")
    return found
