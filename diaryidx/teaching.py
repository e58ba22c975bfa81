"""A person's word on what was misheard: shown before it is kept, applied to every film without listening again.

A decision is kept at once, whatever else is going on. It is then applied to the sentences that the full-text index
finds for it, and only films that have such a sentence are read again. While an index runs, that index does it, before
its next film; what a killed program left undone, the next `teach` or `index` does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from sqlite_utils import Database

from diaryidx.alone import AtWork, alone_in
from diaryidx.builds.developments import refresh_developments
from diaryidx.builds.relinking import cut_by, relink
from diaryidx.errors import NotFound, WrongUse
from diaryidx.records import Sentence
from diaryidx.shop import Shop
from diaryidx.store import reading, writing
from diaryidx.store.reading import Taught, as_indexed
from diaryidx.transcript.repair.heard import WINDOW
from diaryidx.understanding import Understanding, put_right, understand, understanding_of
from diaryidx.vocabulary.loader import Vocabulary, find_terms
from diaryidx.vocabulary.spoken_words import heard_key

#: Longer than this, in words, nothing is misheard as one thing; it would match nowhere (common practice, no source).
LONGEST_PHRASE = 12
#: What is heard in more sentences than this, and in more than this share of all, is warned of: it is hardly always
#: misheard (common practice, no source).
MANY_SENTENCES, LARGE_SHARE = 20, 0.02
#: How long to wait for a program that may just be finishing, in seconds.
WAIT_SECONDS = 2.0


@dataclass(frozen=True, slots=True)
class Change:
    """A sentence that a decision changes: its film, its place there, and the sentence before and after."""

    recording: str
    place: int
    before: Sentence
    after: Sentence


@dataclass(frozen=True, slots=True)
class Plan:
    """What a decision would do, and what a person should know before it is made.

    ``undoes`` is the correction that it takes back; None for one that is to be taught.
    """

    heard: str
    meant: str
    changes: tuple[Change, ...]
    warnings: tuple[str, ...] = ()
    undoes: Taught | None = None


@dataclass(frozen=True, slots=True)
class Applied:
    """What was done: the correction as it is kept, and the films that were read again; None where another program is
    at work that will do it."""

    taught: Taught
    films: tuple[str, ...] | None


def plan_teaching(shop: Shop, db: Database, heard: str, meant: str) -> Plan:
    """What teaching a correction would change; nothing is kept.

    :param heard: what the engine wrote, in any case.
    :param meant: what is to stand there, written as it should be; the same words where they were heard right and a
        repair by sound was wrong.
    :raises WrongUse: the words cannot be taught: empty, too long, the same, or taught otherwise already.
    """
    heard, meant = _checked(heard, meant)
    taught = reading.taught_words(db.conn)
    _refuse_conflict(db, heard, meant)
    builds = reading.builds(db.conn)
    known = understanding_of(shop, db, builds)
    then = understanding_of(shop, db, builds, {**taught, heard: meant})
    changes = changed_sentences(db, then, [heard])
    if heard == meant and not changes:
        raise WrongUse(f"“{heard}” and “{meant}” are the same words, and nothing was put right there; nothing to teach")
    return Plan(heard, meant, tuple(changes), tuple(_warnings(db, known.vocabulary, heard, meant, len(changes))))


def plan_undoing(shop: Shop, db: Database, which: str) -> Plan:
    """What taking back a taught correction would change; nothing is kept.

    :param which: its number, or what was heard.
    :raises NotFound: no correction that holds has this number or these words.
    """
    one = _taught_correction(db, which)
    left = {heard: meant for heard, meant in reading.taught_words(db.conn).items() if heard != one.heard}
    then = understanding_of(shop, db, reading.builds(db.conn), left)
    instead = then.vocabulary.heard.get(heard_key(one.heard))
    warnings = [f"words.yaml says that “{one.heard}” means “{instead}”; that holds again then"] if instead else []
    return Plan(one.heard, one.meant, tuple(changed_sentences(db, then, [one.heard])), tuple(warnings), one)


def decide(
    shop: Shop, db: Database, plan: Plan, person: str | None, on_film: Callable[[int, int], None] | None = None
) -> Applied:
    """Keep a decision, then apply all that are not applied yet; as `keep`, with its errors.

    :param on_film: told before each film that is read again which one it is, from 1, and of how many.
    """
    taught = keep(db, plan, person)
    return Applied(taught, apply_decisions(shop, db, on_film))


def keep(db: Database, plan: Plan, person: str | None) -> Taught:
    """Keep a decision, without applying it: `apply_decisions` or the next index does.

    :param person: who decides, as the table `taught` will say.
    :raises WrongUse: somebody else decided otherwise since the plan was made.
    """
    if plan.undoes is None:
        _refuse_conflict(db, plan.heard, plan.meant)
        taught_id = writing.teach(db, plan.heard, plan.meant, person)
    else:
        taught_id = _taught_correction(db, str(plan.undoes.id)).id
        writing.undo_taught(db, taught_id, person)
    return next(one for one in reading.taught(db.conn) if one.id == taught_id)


def apply_decisions(
    shop: Shop, db: Database, on_film: Callable[[int, int], None] | None = None
) -> tuple[str, ...] | None:
    """Apply every decision that is not applied to every film yet, unless an index is at work, which does it itself.

    :returns: the films that were read again; None where another program is at work.
    """
    try:
        with alone_in(shop, wait=WAIT_SECONDS):
            understanding = understanding_of(shop, db, reading.builds(db.conn))
            films = catch_up(db, understanding, on_film)
            if films:
                cut_by(db, understanding.builds)
                relink(db, shop.words)
                refresh_developments(db, understanding.vocabulary)
            return tuple(films)
    except AtWork:
        return None


def catch_up(
    db: Database, understanding: Understanding, on_film: Callable[[int, int], None] | None = None
) -> list[str]:
    """Bring every film up to the decisions that an understanding follows; each film in one transaction.

    Only for a program that is alone in the shop. Films that are still being heard are left to the index.

    :returns: the films of which sentences changed, which were read again and are to be tied to builds again.
    """
    behind = reading.films_behind(db.conn, understanding.decision)
    if not behind:
        return []
    oldest = min(behind.values())
    phrases = [one.heard for one in reading.taught(db.conn) if one.last_number > oldest]
    changed: dict[str, dict[int, Sentence]] = {}
    for change in changed_sentences(db, understanding, phrases):
        changed.setdefault(change.recording, {})[change.place] = change.after
    for number, (recording_id, sentences) in enumerate(changed.items(), start=1):
        if on_film is not None:
            on_film(number, len(changed))
        _read_again(db, understanding, recording_id, sentences)
    writing.follow_decision(db, [one for one in behind if one not in changed], understanding.decision)
    return list(changed)


def changed_sentences(db: Database, understanding: Understanding, phrases: Iterable[str]) -> list[Change]:
    """The sentences in which any of some phrases was heard and whose text comes out differently now.

    The full-text index finds those in which the phrases may be; what is made of each decides.
    """
    match = " OR ".join(f'"{words}"' for phrase in phrases if (words := as_indexed(phrase)))
    found = reading.sentences_with(db.conn, match) if match else []
    dates = reading.film_dates(db.conn) if found else {}
    changes = []
    for recording_id, places in _by_film(found).items():
        film = reading.sentences_near(db.conn, recording_id, places, WINDOW)
        at_places = [at for at, (place, _) in enumerate(film) if place in places]
        put = put_right(understanding, [now for _, now in film], dates[recording_id], at_places)
        changes += [
            Change(recording_id, place, before, now)
            for (place, before), now in zip(film, put, strict=True)
            if place in places and (now.text, now.repairs) != (before.text, before.repairs)
        ]
    return changes


def _by_film(found: Iterable[tuple[int, Sentence]]) -> dict[str, set[int]]:
    films: dict[str, set[int]] = {}
    for place, sentence in found:
        films.setdefault(sentence.recording or "", set()).add(place)
    return films


def _read_again(db: Database, understanding: Understanding, recording_id: str, changed: Mapping[int, Sentence]) -> None:
    """Understand a film again with some of its sentences changed, the others as they are stored."""
    stored = reading.sentences(db.conn, recording_id)
    sentences = [changed.get(place, sentence) for place, sentence in enumerate(stored)]
    key = next(file.reading_key for file in reading.recording_files(db.conn) if file.id == recording_id)
    read = understand(understanding, reading.recording(db.conn, recording_id), sentences)
    writing.save_reading(
        db, recording_id, sentences, read, reading_key=key or "", decision=understanding.decision, names_known=False
    )


# --- what can be taught ----------------------------------------------------------------------------------------------


def _checked(heard: str, meant: str) -> tuple[str, str]:
    heard, meant = (" ".join(words.split()) for words in (heard, meant))
    for words, what in ((heard, "heard"), (meant, "meant")):
        if not heard_key(words) or not as_indexed(words):
            raise WrongUse(f"say what was {what}: “{words}” has no letters or digits")
        if not words.isprintable() or len(words.split()) > LONGEST_PHRASE:
            raise WrongUse(f"what was {what} must be a name or a few words, at most {LONGEST_PHRASE}")
    return heard, meant


def _refuse_conflict(db: Database, heard: str, meant: str) -> None:
    """Refuse what was taught already, the same or otherwise."""
    for one in reading.taught(db.conn):
        if one.undone_number is None and heard_key(one.heard) == heard_key(heard):
            if one.meant == meant:
                raise WrongUse(f"“{one.heard}” is taught as “{meant}” already (number {one.id}); nothing was changed")
            raise WrongUse(
                f"“{one.heard}” is taught as “{one.meant}” (number {one.id}); take that back first: "
                f"diaryidx teach --undo {one.id}"
            )


def _warnings(db: Database, vocabulary: Vocabulary, heard: str, meant: str, count: int) -> Iterable[str]:
    """What a person should know before a correction is made, each in a sentence."""
    key, all_sentences = heard_key(heard), reading.count_sentences(db.conn)
    if count == 0:
        yield f"no film says “{heard}” so far; it will hold for films to come"
        written = reading.sentences_with(db.conn, f'"{as_indexed(heard)}"', "text")
        if written:
            yield f"“{heard}” is how it is written; what was heard is “{written[0][1].heard}”: teach words of that"
    elif count > MANY_SENTENCES and count > LARGE_SHARE * all_sentences:
        yield (
            f"“{heard}” is heard in {count} of {all_sentences} sentences; if it is right in any of them, "
            "teach a longer stretch of words instead"
        )
    if (listed := vocabulary.heard.get(key)) and listed != meant:
        yield f"words.yaml says that “{heard}” means “{listed}”; what is taught goes before it"
    if key in vocabulary.phrases:
        yield f"“{heard}” is itself a word of the trade or the shop; where it was meant, it will be wrong"
    for other in vocabulary.heard:
        if other != key and (f" {key} " in f" {other} " or f" {other} " in f" {key} "):
            yield f"“{other}” is put right to “{vocabulary.heard[other]}” already; where both fit, the longer one holds"
    if heard != meant and not find_terms(vocabulary, meant):
        yield f"“{meant}” is in neither the job book nor words.yaml; it is written so, but taken for no part or name"


def _taught_correction(db: Database, which: str) -> Taught:
    """The correction that holds and has this number, or these words as what was heard."""
    held: Sequence[Taught] = [one for one in reading.taught(db.conn) if one.undone_number is None]
    for one in held:
        if str(one.id) == which.strip():
            return one
    for one in held:
        if heard_key(one.heard) == heard_key(which):
            return one
    raise NotFound(f"nothing is taught for {which!r}; `diaryidx teach --list` shows what is")
