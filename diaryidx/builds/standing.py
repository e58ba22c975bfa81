"""How a bike stands today, out of its history: the parts of each system, what is open, what is new since a day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from diaryidx.builds.history import run_of, same_item
from diaryidx.builds.wishes import shipped_vocabulary, terms_in
from diaryidx.builds.word_lists import word_set
from diaryidx.records import OPEN_STATUSES, History, Promise, Statement, Status
from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms
from diaryidx.wording import DOUBTFUL_BELOW

#: Where statements go that name no part of the trade's words.
WHOLE_BIKE = "the whole bike"
#: The systems in the order in which somebody walks round a bike (common practice, no source).
SYSTEMS = (
    "front end", "controls", "wheels and brakes", "engine", "fuel and intake", "exhaust", "drivetrain", "electrics",
    "frame and rear suspension", "seat and bodywork", "luggage and protection", "consumables", "tools", WHOLE_BIKE,
)  # fmt: skip
_SETTLED = ("done", "earlier work")
#: Statuses that tell what is or will be on the bike; the others tell only that something is not.
_TELLING = (*OPEN_STATUSES, *_SETTLED, "ruled out")


@dataclass(frozen=True, slots=True)
class PartState:
    """One part of a bike as it is now: what is on it, what was done to it, and how far it is.

    ``finish``, ``product``, ``quantity`` and ``tasks`` are of what is done; ``wanted`` is the finish that is still to
    come. It was fitted or done by the day ``fitted``; ``since`` is the day of the film or note that first said
    ``status``. ``latest`` is the statement that tells the status.
    """

    part: str
    side: str | None
    status: Status
    since: str | None
    latest: Statement
    fitted: str | None = None
    finish: str | None = None
    wanted: str | None = None
    supplier: str | None = None
    product: str | None = None
    quantity: str | None = None
    tasks: tuple[str, ...] = ()

    @property
    def certainty(self) -> float:
        """How sure its status is: what was understood, and that it was said of this bike."""
        return self.latest.certainty


@dataclass(frozen=True, slots=True)
class OpenItem:
    """What is still open: its latest statement, since which day, on whom it waits, and by when it was promised."""

    statement: Statement
    since: str | None
    on: str | None
    promised: str | None


def systems(history: History) -> dict[str, list[PartState]]:
    """The parts of a bike of which anything was said, by system, in the order of `SYSTEMS`."""
    found: dict[str, list[PartState]] = {}
    for said in _by_part(history.statements):
        state = _part_state(said, history)
        if state is not None:
            found.setdefault(system_of(state.latest, history.words), []).append(state)
    order = {system: place for place, system in enumerate(SYSTEMS)}
    return dict(sorted(found.items(), key=lambda pair: order.get(pair[0], len(order))))


def system_of(statement: Statement, words: Vocabulary | None = None) -> str:
    """The system of the bike that a statement's part belongs to; a part of the shop's own has that of what it is part
    of where the shop does not say its system.

    :param words: the shop's words; None means the trade's alone.
    """
    words = words or shipped_vocabulary()
    term = words.term(statement.part or statement.product, "PART")
    whole = words.term(term.part_of, "PART") if term and not term.system else None
    return (term and term.system) or (whole and whole.system) or _system_in(term, words) or WHOLE_BIKE


def _system_in(term: Term | None, words: Vocabulary) -> str | None:
    """The system of the last part of the trade in a name of the shop's: its "short battery tray" is a tray's."""
    named = terms_in(term.canonical) if term and term.origin == "words.yaml" else []
    return next((one.system for one in reversed(named) if one.label == "PART" and one.system), None)


def _by_part(statements: Iterable[Statement]) -> list[list[Statement]]:
    """What is said of each thing; where only one side of a part was ever named, an unnamed side is that one."""
    said: dict[tuple[str, str | None], list[Statement]] = {}
    listed = [one for one in statements if one.status in _TELLING and (one.part or one.product or one.task)]
    sides: dict[str, set[str]] = {}
    for one in listed:
        if one.side:
            sides.setdefault(_name(one), set()).add(one.side)
    for one in listed:
        named = sides.get(_name(one), set())
        side = one.side or (next(iter(named)) if len(named) == 1 else None)
        said.setdefault((_name(one), side), []).append(one)
    return list(said.values())


def _name(statement: Statement) -> str:
    return statement.part or statement.product or statement.task or ""


def _part_state(said: Sequence[Statement], history: History) -> PartState | None:
    """The state of one thing; None where all that was wanted of it stands finished in the job book alone."""
    open_ones = set(map(id, history.open))
    still_open = [one for one in said if id(one) in open_ones]
    settled = [one for one in said if one.status in _SETTLED and one.certainty >= DOUBTFUL_BELOW]
    latest = next(reversed(still_open or settled), None) or next(
        (one for one in reversed(said) if one.source != "book"), None
    )
    if latest is None:
        return None
    run = run_of(latest, history.statements)
    done = settled or ([latest] if latest.status in _SETTLED else [])
    finish = _last(done, "finish")
    wanted = _last([one for one in said if one.status in OPEN_STATUSES], "finish") if still_open else None
    return PartState(
        part=_name(latest),
        side=_last(said, "side"),
        status=latest.status,
        since=day_of(run[0]),
        latest=latest,
        fitted=day_of(_fitted(done)) if done else None,
        finish=finish,
        wanted=wanted if wanted != finish else None,
        supplier=_last([one for one in said if one.status != "ruled out"], "supplier"),
        product=_last(done, "product"),
        quantity=_last(done, "quantity"),
        tasks=tuple(dict.fromkeys(one.task for one in done if one.task and one.part)),
    )


def _fitted(done: Sequence[Statement]) -> Statement:
    """The statement by whose day a part was on the bike as it is now: the last that says fitted, else the last."""
    return next((one for one in reversed(done) if one.task in ("fit", "replace", "change", "assemble")), done[-1])


def _last(said: Sequence[Statement], slot: str) -> str | None:
    return next((value for one in reversed(said) if (value := getattr(one, slot))), None)


def day_of(statement: Statement) -> str | None:
    """The day of a film or note, or of the job book's row."""
    return statement.said_on or (statement.when if statement.source == "book" else None)


# --- what is open ----------------------------------------------------------------------------------------------------


def open_in_full(history: History) -> list[OpenItem]:
    """What is open, waiting things first, each since when, on whom it waits, and by when it was promised."""
    found = []
    for one in history.open:
        run = run_of(one, history.statements)
        on = waited_for(run, history.words)
        found.append(OpenItem(one, day_of(run[0]), on, _promised(run, history.promises)))
    return sorted(found, key=lambda item: (item.statement.status != "waiting", item.since or "9999"))


def waited_for(run: Sequence[Statement], words: Vocabulary | None = None) -> str | None:
    """Who is waited for, where that was said: a supplier, a person, or a trade ("the painter").

    :param words: the shop's words; None means the trade's alone.
    """
    waiting = [one for one in reversed(run) if one.status == "waiting"]
    return next((name for one in waiting if (name := _named(one, words))), None)


def _named(said: Statement, words: Vocabulary | None) -> str | None:
    """The supplier or person of a statement; one of the shop's people where the sentence says "on", "for" or "with"
    before the name, since who stands first in it may be the one who waits."""
    if named := said.supplier or said.who:
        return named
    if trade := next((term.canonical for term in terms_in(said.text) if term.label == "PERSON"), None):
        return trade
    found = find_terms(words, said.text) if words else []
    return next(
        (
            term.canonical
            for start, _end, term in found
            if term.label in ("PERSON", "SUPPLIER") and term.sort != "customer"
            and (before := said.text[:start].lower().split()) and before[-1] in word_set("waits_on")
        ),
        None,
    )  # fmt: skip


def _promised(run: Sequence[Statement], promises: Sequence[Promise]) -> str | None:
    """By when the latest of a run of statements was promised, in the same sentence."""
    for one in reversed(run):
        in_sentence = [p.due for p in promises if p.recording == one.recording and p.start == one.start and p.due]
        due = in_sentence[-1] if in_sentence else one.when if one.source != "book" else None
        if due:
            return due
    return None


# --- since a day -----------------------------------------------------------------------------------------------------


def news_since(history: History, day: str) -> tuple[Statement, ...]:
    """What was said on a day or later: what settled something, and what is open now.

    :param day: ISO 8601; what was said that day counts as new, since nobody knows what was said first.
    """
    open_ones = set(map(id, history.open))
    said = [one for one in history.statements if one.source != "book" and (one.said_on or "") >= day]
    return tuple(
        one
        for place, one in enumerate(said)
        if id(one) in open_ones or (one.status in (*_SETTLED, "ruled out") and not _repeated(one, said[place + 1 :]))
    )


def _repeated(one: Statement, later: Iterable[Statement]) -> bool:
    """Whether the same is said again later."""
    return any(same_item(one, other) and one.status == other.status and one.finish == other.finish for other in later)
