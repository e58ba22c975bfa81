"""Ties the topics of films to builds again, after anything changed that the links rest on: of those films alone.

What a film is tied to rests on what it says, on the rows of the builds that were in the shop or are named in it, on the
shop's words, on what people decided, and on what films before it said of those builds and the order in which the last
ones showed them. What it gave to later films is kept beside it (`store.links`). So a film is tied again only where one
of these changed, and what follows from it is marked in the same transaction; nothing is lost if a run is killed.

Where topics begin rests on the job book too (`builds.topics`). A film that a new or changed row may touch is cut again
from what was kept of its reading, without reading it again, before it is tied.
"""

from __future__ import annotations

import hashlib
from bisect import bisect_left, bisect_right, insort
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path

from sqlite_utils import Database

from diaryidx.builds.dates import GRACE_DAYS, first_day, met_from
from diaryidx.builds.film_references import refresh_references
from diaryidx.builds.known import he_or_she
from diaryidx.builds.linking import (
    codes_said,
    far_names,
    is_walk,
    link,
    named_far,
    shown_in_order,
    walk_after,
)
from diaryidx.builds.spoken import tokens
from diaryidx.builds.topics import cut_again
from diaryidx.builds.voice_notes import tie_voice_note
from diaryidx.builds.wording import describe
from diaryidx.records import Build, Recording, Segment, Sentence, Statement
from diaryidx.store import decisions, links, reading, writing
from diaryidx.store.links import CUT, Basis, LinkState
from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary

#: How often it is begun again because a person decided meanwhile; then the next index does it.
MOST_ROUNDS = 5
#: So many of the last walk-rounds tell in which order bikes stand, and so much of what was said of a build last is
#: thought of (our own choice; a bike of the invented archive is spoken of in some sixty sentences).
WALKS, MOST_SAID = 3, 150
#: Changes whenever films would be tied otherwise by the same words and rows.
METHOD = "4"
#: What of a build's row tells where topics begin.
_CUTTING = (
    "job_number", "make", "model", "nickname", "customer", "registration", "colour", "asked_for", "date_in", "date_out",
)  # fmt: skip


def relink(db: Database, words: Path | None = None) -> None:
    """Tie the segments of films to builds again where anything changed, oldest film first.

    Films of one day do not know of each other, and a film without a date knows of none. What people decided is a fact.
    The links are those that tying all films again would give. Then references to other films are settled.

    :param words: the shop's words.yaml; None means the shipped words alone.
    """
    vocabulary = _vocabulary(words)
    for _ in range(MOST_ROUNDS):
        if _relink_due(db, vocabulary, decisions.version(db.conn)):
            break
    settled = links.films_as_known(db.conn)
    if links.references_settled(db.conn) != settled:  # it takes a while in years of film
        refresh_references(db)
        links.settle_references(db, settled)


def cut_by(db: Database, builds: Sequence[Build]) -> None:
    """Mark films to be cut again that were read with other rows of the job book than it has now.

    :param builds: those that films were read with, by a program that was at work while the job book changed.
    """
    now = reading.builds(db.conn)
    if list(builds) != now:
        run = _begin(db, _vocabulary(None))
        touched = _touched(run, _rows(builds), _rows(now), cuts=True)
        links.rest_on(db, list(links.basis(db.conn).values()), (), touched)


def tied(statement: Statement, segments: Sequence[Segment]) -> Statement:
    """A statement with the build of its segment, as `store.writing.save_links` ties it."""
    about_a_build = statement.subject is None or statement.subject.kind == "build"
    if statement.segment is None or not about_a_build or statement.status == "usual practice":
        return statement
    return replace(statement, build=segments[statement.segment].build)


def _vocabulary(words: Path | None) -> Vocabulary:
    text = words.read_bytes() if words is not None and words.is_file() else b""
    return _loaded(words if text else None, hashlib.sha256(text).hexdigest())


@lru_cache(maxsize=2)
def _loaded(words: Path | None, _content: str) -> Vocabulary:
    return load_vocabulary(words)


@dataclass(slots=True)
class _Run:
    """One run: all films by date, the builds, and what is known of films tied so far.

    ``by_date`` are the films with a date, ``walks`` those that are walk-rounds, both as (date, film) in order.
    """

    db: Database
    vocabulary: Vocabulary
    films: Mapping[str, Recording]
    builds: Sequence[Build]
    states: dict[str, LinkState]
    by_date: Sequence[tuple[str, str]]
    walks: list[tuple[str, str]]
    said: dict[str, list[Statement]] = field(default_factory=dict)

    def dated(self, film_id: str | None) -> str:
        film = self.films.get(film_id or "")
        return (film.date if film else None) or ""


def _relink_due(db: Database, vocabulary: Vocabulary, version: tuple[int, int]) -> bool:
    """Tie all films that are due; False where a person decided meanwhile."""
    run = _begin(db, vocabulary)
    due = _mark_due(run)
    to_cut = links.films_due(db.conn, CUT)
    for film in run.films.values():
        if film.id in due:
            if film.id in to_cut:
                _cut(run, film)
            later = _relink_film(run, film, version)
            if later is None:
                return False
            due |= later
    return True


def _begin(db: Database, vocabulary: Vocabulary) -> _Run:
    films = {one.id: one for one in sorted(reading.recordings(db.conn), key=lambda film: (film.date or "", film.id))}
    states = links.states(db.conn)
    dated = [(film.date, film.id) for film in films.values() if film.date]
    walks = sorted((state.date, name) for name, state in states.items() if state.walk and state.date)
    return _Run(db, vocabulary, films, reading.builds(db.conn), states, dated, walks)


def _cut(run: _Run, film: Recording) -> None:
    """Cut the topics of a film again with the job book as it is."""
    talk = links.talk(run.db.conn, film.id)
    if talk is None:  # it was read by an earlier version; the next index reads it again
        return
    cut = cut_again(film, reading.sentences(run.db.conn, film.id), talk, run.builds)
    topics = [(one.first, one.last, one.title, one.subject, one.certainty) for one in cut.segments]
    if topics != links.topics(run.db.conn, film.id):
        writing.save_cuts(run.db, film.id, cut)


def _relink_film(run: _Run, film: Recording, version: tuple[int, int]) -> set[str] | None:
    """Tie the segments of one film.

    :returns: the later films that may follow from it; None where a person decided meanwhile.
    """
    db = run.db
    outcomes = decisions.outcomes(db, film.id)
    segments = reading.segments(db.conn, recording_id=film.id)
    statements = reading.statements(db.conn, recording_id=film.id)
    away = reading.aside_places(db.conn, film.id)  # a chat tells nothing of the bike that stands there
    mentions = [one for one in reading.mentions(db.conn, film.id) if one.sentence not in away]
    sentences = [
        replace(one, heard="", text="") if place in away else one
        for place, one in enumerate(reading.sentences(db.conn, film.id))
    ]
    named = named_far(run.builds, film.date, sentences)
    linked = link(
        film, segments, sentences, mentions, statements, run.builds, _earlier(run, film, named), outcomes,
        walk=_walk(run, film), vocabulary=run.vocabulary,
    )  # fmt: skip
    linked = tie_voice_note(film, linked, run.builds, outcomes)
    state = _state(film, linked, [tied(one, linked) for one in statements], sentences, named)
    later = _dependents(run, run.states.get(film.id), state)
    changed = [new for new, old in zip(linked, segments, strict=True) if new != old]
    if not links.save(db, film.id, changed, state, later, version):
        return None
    before = run.states.get(film.id, LinkState(film.date))
    for job in before.said.keys() | state.said.keys() if changed else ():
        run.said.pop(job, None)
    if before.walk and before.date:
        run.walks.remove((before.date, film.id))
    if state.walk and state.date:
        insort(run.walks, (state.date, film.id))
    run.states[film.id] = state
    return later


def _changed_jobs(before: LinkState, now: LinkState) -> set[str]:
    """The builds of which a film says something else than before."""
    return {job for job in before.said.keys() | now.said.keys() if before.said.get(job) != now.said.get(job)}


# --- what a film knows of those before it ----------------------------------------------------------------------------


def _earlier(run: _Run, film: Recording, named: Collection[str]) -> list[Statement]:
    """What films before this one said of the builds that it may speak of."""
    if not film.date:
        return []
    found: list[Statement] = []
    for build in run.builds:
        if build.job_number in named or _meets(_stay(build), film.date):
            if build.job_number not in run.said:
                run.said[build.job_number] = reading.statements(run.db.conn, build=build.job_number)
            said = [one for one in run.said[build.job_number] if "" < run.dated(one.recording) < film.date]
            found += said[-MOST_SAID:]
    return found


def _walk(run: _Run, film: Recording) -> list[str]:
    """The order in which the last walk-rounds before a film showed their bikes."""
    end = bisect_left(run.walks, (film.date or "",))
    walk: list[str] = []
    for _, name in run.walks[max(end - WALKS, 0) : end]:
        walk = walk_after(walk, run.states[name].walk)
    return walk


def _state(
    film: Recording,
    segments: Sequence[Segment],
    statements: Iterable[Statement],
    sentences: Sequence[Sentence],
    named: Collection[str],
) -> LinkState:
    """What a film gives to later ones."""
    digests: dict[str, hashlib._Hash] = {}
    for one in statements:
        if one.build is not None:
            told = (  # all that later films make of it (`known.shop_on_the_day`)
                one.status, one.part, one.side, one.task, one.finish, one.product, one.supplier, one.decided,
                describe(one), he_or_she(tokens(one.text)),
            )  # fmt: skip
            digests.setdefault(one.build, hashlib.sha256()).update(repr(told).encode())
    order = shown_in_order(segments)
    said = {job: digest.hexdigest()[:16] for job, digest in digests.items()}
    walk = tuple(order) if is_walk(order) else ()
    return LinkState(film.date, said, walk, tuple(sorted(named)), codes_said(sentences))


# --- which films are due ---------------------------------------------------------------------------------------------


def _mark_due(run: _Run) -> set[str]:
    """Mark all films whose links or topics may change by the job book, the shop's words or their dates.

    :returns: they, and those that were marked before.
    """
    before, now = links.basis(run.db.conn), _basis(run)
    films = set(run.films)
    due = links.films_due(run.db.conn) & films | (films - run.states.keys())
    moved = {name for name, state in run.states.items() if (state.date or "") != run.dated(name)}
    to_cut = moved & films
    if moved or before.get("words") != now["words"]:
        due = films
    elif before != now:
        due |= _touched(run, before, now)
    if before and before != now:  # films that were never tied are cut by the rows as they are
        to_cut |= _touched(run, before, now, cuts=True)
    if before != now or due:
        links.rest_on(run.db, list(now.values()), due, to_cut)
    return due | to_cut


def _basis(run: _Run) -> dict[str, Basis]:
    words = Basis("words", f"{METHOD} {run.vocabulary.fingerprint}")
    return {words.what: words, **_rows(run.builds)}


def _rows(builds: Iterable[Build]) -> dict[str, Basis]:
    rows = []
    for build in builds:
        digests = [
            hashlib.sha256(repr(one).encode()).hexdigest()[:16]
            for one in ([getattr(build, name) for name in _CUTTING], build)
        ]
        rows.append(Basis(f"build {build.job_number}", " ".join(digests), build.date_in, build.date_out))
    return {row.what: row for row in rows}


def _touched(run: _Run, before: Mapping[str, Basis], now: Mapping[str, Basis], *, cuts: bool = False) -> set[str]:
    """The films that may speak of builds whose rows are new or changed: by their stay, old or new, or by a name.

    :param cuts: only of builds of which that changed on which topics rest.
    """
    rows = [(what, before.get(what), now.get(what)) for what in (before.keys() | now.keys()) - {"words"}]
    changed = [(what, one, two) for what, one, two in rows if one != two]
    if cuts:
        changed = [(what, one, two) for what, one, two in changed if not (one and two and one.cuts == two.cuts)]
    jobs = {what.removeprefix("build ") for what, _, _ in changed}
    stays = {_between(row.date_in, row.date_out) for _, one, two in changed for row in (one, two) if row}
    names = far_names(tuple(build for build in run.builds if build.job_number in jobs))
    found = links.films_saying(run.db.conn, names)
    for name, film in run.films.items():
        state = run.states.get(name)
        if (
            film.kind == "bench note"  # it may be named after the job
            or any(_meets(stay, film.date) for stay in stays)
            or (state is not None and (jobs & set(state.named) or state.codes & names.keys()))
        ):
            found.add(name)
    return found & run.films.keys()


def _dependents(run: _Run, before: LinkState | None, now: LinkState) -> set[str]:
    """The films after one that follow from what changed in what it says of builds, or in the order it shows them."""
    was = before or LinkState(now.date)
    jobs = _changed_jobs(was, now)
    if not now.date or not (jobs or was.walk != now.walk):
        return set()
    stays = [_stay(build) for build in run.builds if build.job_number in jobs]
    last = _last_by_walk(run, now.date) if was.walk != now.walk else ""
    return {
        name
        for day, name in run.by_date[bisect_right(run.by_date, (now.date, "\uffff")) :]
        if day <= last
        or any(_meets(stay, day) for stay in stays)
        or (name in run.states and jobs & set(run.states[name].named))
    }


def _last_by_walk(run: _Run, day: str) -> str:
    """The last day of films that know the order in which a film of a day shows its bikes."""
    later = run.walks[bisect_right(run.walks, (day, "\uffff")) :]
    return later[WALKS - 1][0] if len(later) >= WALKS else "9999"


Stay = tuple[date, date]


def _stay(build: Build) -> Stay:
    return _between(build.date_in, build.date_out)


def _between(date_in: str | None, date_out: str | None) -> Stay:
    """The days between which a film may speak of a bike without naming it, at the widest (`linking.in_shop`)."""
    came, left = first_day(date_in), first_day(date_out)
    if came and left and left < came:
        date_in, left = date_out, came
    return met_from(date_in), (left + timedelta(days=GRACE_DAYS) if left else date.max)


def _meets(stay: Stay, day: str | None) -> bool:
    filmed = first_day(day)
    return filmed is None or stay[0] <= filmed <= stay[1]
