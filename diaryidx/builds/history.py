"""What is known of one build: every statement in the order of days, what is open, what disagrees, what was changed."""

from __future__ import annotations

import re
import sqlite3
from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import combinations

from diaryidx.builds.retold import retold_films
from diaryidx.builds.wishes import exclude_each_other, wishes
from diaryidx.builds.word_lists import word_set
from diaryidx.records import OPEN_STATUSES, Build, Change, ChangeKind, History, Statement
from diaryidx.store import reading
from diaryidx.vocabulary.loader import Vocabulary
from diaryidx.wording import DOUBTFUL_BELOW

_SETTLING = ("done", "ruled out", "earlier work")
#: Statuses of what is on a bike or being put on it, and those by which a shop says what it will be.
_STATED = ("done", "in progress", "earlier work")
_SAID_TO_COME = ("waiting", "planned")


#: How films say of a whole bike that it is finished. Common practice, no source.
_FINISHED_WORDS = re.compile(
    r"\b(?:all (?:done|finished)|(?:is|it's|she's|he's|bike's|now|completely) (?:finished|complete)"
    r"|ready to (?:go|ride|collect)|gone (?:home|back to)|handed over|been collected|picked (?:it|her|him) up)\b"
)


def history(db: sqlite3.Connection, build: Build, words: Vocabulary | None = None) -> History:
    """Everything said of a build, oldest first: what the job book says was asked for, then the films and notes.

    Usual practice is left out: it is true of no bike in particular. What is heard in two films, as in raw footage and
    its cut, is there once and names both.

    :param words: the shop's words; None means the trade's alone.
    """
    said = [one for one in said_of(db, [build.job_number]) if one.status != "usual practice"]
    notes = tuple(note for note in reading.notes(db, build=build.job_number) if note.undone_at is None)
    statements = (*wishes(build, words), *said)
    return History(
        build,
        statements,
        tuple(open_items(statements, build)),
        tuple(conflicts(statements, words)),
        notes,
        tuple(changes(statements, words)),
        tuple(retold_films(db).once(reading.promises_about(db, build.job_number))),
        tuple(reading.customer_parts(db, build=build.job_number)),
        words,
    )


def said_of(db: sqlite3.Connection, job_numbers: Sequence[str] | None = None) -> list[Statement]:
    """What films and notes say of some builds, or of all, in the order of days; what two films hold is there once."""
    filmed = retold_films(db).once(reading.statements(db, builds=job_numbers))
    noted = [one for one in reading.note_statements(db) if job_numbers is None or one.build in job_numbers]
    return sorted((*filmed, *noted), key=lambda one: one.said_on or "") if noted else filmed


def open_counts(db: sqlite3.Connection, builds: Sequence[Build], words: Vocabulary | None = None) -> dict[str, int]:
    """How many items of each build are still open, by job number: one read for all of them."""
    said: dict[str, list[Statement]] = defaultdict(list)
    for one in said_of(db, [build.job_number for build in builds]):
        said[one.build or ""].append(one)
    return {
        build.job_number: len(open_items((*wishes(build, words), *said[build.job_number]), build)) for build in builds
    }


def open_items(statements: Iterable[Statement], build: Build | None = None) -> list[Statement]:
    """The latest statement of each part, side and task, where that is still asked for, planned, going on or waiting.

    A later statement settles or replaces an earlier one of the same part when sides and tasks can be the same: unnamed
    fits any, "both" fits each; a doubtful one settles and replaces nothing. What nobody can tell apart from another
    thing (no part, task or product) is left out, unless it stands in the job book. Wishes of a build that the job book
    calls finished are no longer open.

    :param statements: in the order in which they were said.
    """
    finished = build is not None and is_finished(build)
    still_open: list[Statement] = []
    for said in statements:
        if finished and said.source == "book":
            continue
        if said.source != "book" and not (said.part or said.task or said.product):
            continue
        if said.status not in (*OPEN_STATUSES, *_SETTLING) or _doubtful_beside(said, still_open):
            continue
        still_open = [one for one in still_open if not same_item(one, said)]
        if said.status in OPEN_STATUSES:
            still_open.append(said)
    return still_open


def _doubtful_beside(said: Statement, still_open: Iterable[Statement]) -> bool:
    """Whether a statement is too doubtful to settle anything, or to replace what is known better."""
    if said.certainty >= DOUBTFUL_BELOW:
        return False
    return said.status in _SETTLING or any(
        same_item(one, said) and one.certainty >= DOUBTFUL_BELOW for one in still_open
    )


def is_finished(build: Build) -> bool:
    """Whether the job book says that a build is finished or has left."""
    state = " ".join((build.state or "").lower().split())
    return bool(build.date_out) or state in word_set("finished_states")


def says_finished(statement: Statement) -> bool:
    """Whether a statement says of a whole bike that it is finished or has left."""
    if statement.status != "done" or statement.part is not None:
        return False
    return statement.task in word_set("finishing_tasks") or bool(_FINISHED_WORDS.search(statement.text.lower()))


def same_item(one: Statement, other: Statement) -> bool:
    """Whether two statements can be about the same part (or product), side and task of a bike."""
    if (one.part or one.product) != (other.part or other.product):
        return False
    if not (one.part or one.product or one.task) or not (other.part or other.product or other.task):
        return one.text == other.text
    return _sides_meet(one.side, other.side) and _tasks_meet(one, other)


def conflicts(statements: Sequence[Statement], words: Vocabulary | None = None) -> list[tuple[Statement, Statement]]:
    """Pairs of statements of films and notes that cannot both be true and that nothing said in between explains.

    Two kinds: the same part and side has two different finishes; the same task is done and later still to do. A change
    of mind (the new finish was asked for or planned in between) and work done again are no conflicts, nor is what is
    doubtful. What the job book says was asked for is no statement of how a bike is; see `changes`.

    :param statements: in the order in which they were said.
    """
    found = []
    for said in _sure_by_part(statements):
        for (first, earlier), (second, later) in combinations(enumerate(said), 2):
            if (
                "book" in (earlier.source, later.source)
                or (earlier.recording, earlier.note) == (later.recording, later.note)
                or not _sides_meet(earlier.side, later.side)
                or _said_again(later)
            ):
                continue
            between, after = said[first + 1 : second], said[second + 1 :]
            wished = between if earlier.status in _STATED else [*said[:first], *between]
            if _finishes_disagree(earlier, later, wished, words) or _undone(earlier, later, after, words):
                found.append((earlier, later))
    return found


def _finishes_disagree(
    earlier: Statement, later: Statement, wished: Iterable[Statement], words: Vocabulary | None
) -> bool:
    """Two finishes that one part cannot have: is and is, or was to be by the shop's word and is; none explains it.

    :param wished: what was said before the later one, or, where the part had the earlier finish, since then.
    """
    said_by_shop = earlier.said_by == "shop" or earlier.status in _STATED
    if earlier.status not in (*_STATED, *_SAID_TO_COME) or not said_by_shop:
        return False
    if later.status not in ("done", "in progress") or not (earlier.finish and later.finish):
        return False
    if not exclude_each_other(earlier.finish, later.finish, words):
        return False
    return not any(
        exclude_each_other(earlier.finish, wish.finish, words)
        and not exclude_each_other(later.finish, wish.finish, words)
        for wish in wished
        if wish.status in OPEN_STATUSES and wish.finish
    )


def _undone(earlier: Statement, later: Statement, after: Sequence[Statement], words: Vocabulary | None) -> bool:
    """Done in one film, still to do in a later one, and not done again since."""
    if earlier.status != "done" or later.status not in ("planned", "in progress", "waiting"):
        return False
    if earlier.task is None or earlier.task != later.task:
        return False
    if earlier.finish and later.finish and exclude_each_other(earlier.finish, later.finish, words):
        return False
    return not any(one.status in _SETTLING and same_item(one, later) for one in after)


def _said_again(statement: Statement) -> bool:
    return not word_set("again").isdisjoint(statement.text.lower().split())


def _sides_meet(one: str | None, other: str | None) -> bool:
    return one is None or other is None or one == other or "both" in (one, other)


# --- what was changed ------------------------------------------------------------------------------------------------


def changes(statements: Sequence[Statement], words: Vocabulary | None = None) -> list[Change]:
    """Where a wish or plan for a part was replaced, or was not followed; doubtful statements count for nothing.

    A later wish of the customer is a change of mind; a later plan without a word of the customer is a change of plan; a
    finish that is there, and is not what the customer had asked for last, is not as asked, unless the wished one
    follows. What the shop said would be there and is not is no change but a conflict.

    :param statements: in the order in which they were said, what the job book has first.
    """
    found = []
    for said in _sure_by_part(statements):
        for place, one in enumerate(said):
            if one.status in ("done", "in progress"):
                wanted = _not_followed(one, said[:place], said[place + 1 :], words)
                found += [Change("not as asked", wanted, one)] if wanted else []
            elif one.status in ("asked for", "planned", "waiting", "ruled out"):
                replaced = _replaced(one, said[:place], words)
                kind: ChangeKind = "change of mind" if one.said_by == "customer" else "change of plan"
                found += [Change(kind, replaced, one)] if replaced else []
    return _last_of_each(found)


def _not_followed(
    there: Statement, before: Sequence[Statement], after: Sequence[Statement], words: Vocabulary | None
) -> Statement | None:
    """What the customer had asked for last, where something else is there and no plan since then says so."""
    wished = [
        (place, one)
        for place, one in enumerate(before)
        if one.finish and _sides_meet(one.side, there.side) and _is_wish(one)
    ]
    if not wished or not there.finish:
        return None
    place, wanted = wished[-1]
    if not exclude_each_other(wanted.finish or "", there.finish, words) or _had(wanted, after, words):
        return None
    planned = [one.finish for one in before[place + 1 :] if one.status in _SAID_TO_COME and one.finish]
    return None if any(not exclude_each_other(plan, there.finish, words) for plan in planned) else wanted


def _is_wish(said: Statement) -> bool:
    """Whether a statement says what the customer would like: the job book's, or reported on film."""
    return said.status == "asked for" or (said.said_by == "customer" and said.status in _SAID_TO_COME)


def _replaced(later: Statement, before: Sequence[Statement], words: Vocabulary | None) -> Statement | None:
    """The wish or plan before another one that it does not fit, None where it fits or there is none.

    Two sentences of one film replace each other only where the customer is reported; a shop thinks aloud on film.
    """
    wishes_before = [
        one
        for one in before
        if one.status in ("asked for", "planned", "waiting") and _sides_meet(one.side, later.side)
        and (one.finish or (later.status == "ruled out" and _tasks_meet(one, later)))
    ]  # fmt: skip
    if not wishes_before:
        return None
    last = wishes_before[-1]
    aloud = later.said_by != "customer" and last.recording is not None and last.recording == later.recording
    if aloud or last.text == later.text:
        return None
    apart = bool(last.finish and later.finish) and exclude_each_other(last.finish or "", later.finish or "", words)
    return last if apart != (later.status == "ruled out") else None


def _had(wanted: Statement, after: Iterable[Statement], words: Vocabulary | None) -> bool:
    """Whether what was wanted is there later, or what is there was wanted after all."""
    return any(
        one.finish and _sides_meet(one.side, wanted.side)
        and (one.status != "done" or not exclude_each_other(one.finish, wanted.finish or one.finish, words))
        for one in after
        if one.status in ("done", "asked for")
    )  # fmt: skip


def _tasks_meet(one: Statement, other: Statement) -> bool:
    return one.task is None or other.task is None or one.task == other.task


def _sure_by_part(statements: Iterable[Statement]) -> list[list[Statement]]:
    by_part: dict[str, list[Statement]] = {}
    for one in statements:
        if one.part and one.certainty >= DOUBTFUL_BELOW:
            by_part.setdefault(one.part, []).append(one)
    return list(by_part.values())


def _last_of_each(found: Iterable[Change]) -> list[Change]:
    """One change for each pair of kind and replaced wish: the last."""
    return list({(change.kind, change.earlier): change for change in found}.values())


# --- what is waited for ----------------------------------------------------------------------------------------------


def run_of(item: Statement, said: Sequence[Statement]) -> list[Statement]:
    """The statements of a thing that have its status without a break, up to and with ``item``, oldest first."""
    run: list[Statement] = []
    for one in said:
        if same_item(one, item):
            run = [*run, one] if one.status == item.status else []
        if one is item:
            break
    return run or [item]
