"""Runs the steps over new and changed films: survey, hear, understand, link, store. Only here is their order known."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Container, Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Literal, Protocol

from sqlite_utils import Database

from diaryidx import __version__
from diaryidx.alone import alone_in
from diaryidx.builds.developments import refresh_developments
from diaryidx.builds.job_import import plan_import, read_shops_job_book
from diaryidx.builds.relinking import cut_by, relink
from diaryidx.errors import DiaryidxError, JobBookError, MediaError
from diaryidx.media.dates import guess_date, guess_kind, guess_month, guess_title
from diaryidx.media.decode import SAMPLE_RATE, decode_blocks
from diaryidx.media.probe import probe
from diaryidx.naming import follow_names
from diaryidx.noting import read_notes
from diaryidx.records import Build, Recording, Word
from diaryidx.sameness.following import known_as, listen, remember
from diaryidx.sameness.landmarks import METHOD, Ear
from diaryidx.shop import Shop
from diaryidx.speech.hearing import Job, hear_all
from diaryidx.speech.home import open_engine
from diaryidx.speech.protocol import Engine
from diaryidx.speech.splitting import split
from diaryidx.store import reading, writing
from diaryidx.store.sounds import recordings_without_sound
from diaryidx.store.writing import RecordingRow
from diaryidx.survey import Film, Unreadable, new_id, survey
from diaryidx.teaching import catch_up
from diaryidx.transcript.sentences import sentences
from diaryidx.understanding import Understanding, put_right, understand, understanding_of

#: Folders of this package whose files shape what is understood; when one changes, films are understood again.
_SHAPING = ("vocabulary", "language", "transcript", "builds")


@dataclass(frozen=True, slots=True)
class Indexed:
    """What became of one file. ``outcome`` is "indexed", "unchanged" or "failed"."""

    path: str
    outcome: Literal["indexed", "unchanged", "failed"]
    recording: Recording | None = None
    error: str | None = None


class Progress(Protocol):
    """What a run tells whoever watches it. All times are seconds of film."""

    def plan(self, seconds: float, films: int) -> None:
        """So much film is to be heard."""

    def engine(self, engine: Engine) -> None:
        """This engine listens."""

    def heard(self, path: str, seconds: float) -> None:
        """So much more of a film has been heard, or was already."""

    def done(self, indexed: Indexed) -> None:
        """This file is finished, one way or another."""

    def problem(self, text: str) -> None:
        """Something other than a film failed; the films go on."""


class Silent:
    """Progress that nobody watches."""

    def plan(self, seconds: float, films: int) -> None:
        """Say nothing."""

    def engine(self, engine: Engine) -> None:
        """Say nothing."""

    def heard(self, path: str, seconds: float) -> None:
        """Say nothing."""

    def done(self, indexed: Indexed) -> None:
        """Say nothing."""

    def problem(self, text: str) -> None:
        """Say nothing."""


def index(
    shop: Shop,
    db: Database,
    paths: Sequence[Path] = (),
    *,
    workers: int | None = None,
    engine: str | None = None,
    progress: Progress | None = None,
) -> list[Indexed]:
    """Bring the index up to date with the films: new and changed ones are heard, the rest is left alone.

    A run that is killed loses at most the stretches being heard; the next one goes on behind them. Films whose words
    are stored but were understood with other words or another job book are understood again without being heard.

    :param paths: films or folders; none means the shop's recordings folder.
    :param workers: stretches heard at the same time; None means one a core.
    :param engine: an engine's name that overrides the shop's setting; films heard by another one are heard again.
    :returns: one item a file, in the order of their names.
    :raises DiaryidxError: nothing could be done at all: no engine, a locked database, a wrong words file.
    """
    with alone_in(shop):
        return _index(shop, db, paths, workers, engine, progress or Silent())


def _index(
    shop: Shop, db: Database, paths: Sequence[Path], workers: int | None, engine: str | None, progress: Progress
) -> list[Indexed]:
    """The index itself, once no other one runs."""
    job_book_changed = refresh_job_book(shop, db, progress)
    builds = reading.builds(db.conn)
    key = reading_key(shop)
    run = _Run(shop, db, key, progress, engine or shop.settings.engine, workers or os.cpu_count() or 1, builds)
    read_again = follow_names(db, run.understanding(), key)
    films = survey(shop, db, paths, key, engine)
    if not paths:
        found = {film.name for film in films}
        writing.forget_failures(db, [name for name in reading.failed_files(db.conn) if name not in found])
    results = {
        film.name: outcome for film in films if (outcome := _settled(db, film, read_again, progress)) is not None
    }
    to_do = [film for film in films if isinstance(film, Film) and film.why != "unchanged"]
    for outcome in run.all(to_do):
        results[outcome.path] = outcome
        progress.done(outcome)
        run.follow_decisions()
    run.follow_decisions()
    run.listen_where_people_decided()
    cut_by(db, builds)
    films_changed = reading.links_due(db.conn)
    if job_book_changed or films_changed:
        relink(db, shop.words)
        run.follow_decisions()
    if films_changed:
        refresh_developments(db, run.understanding().vocabulary)
    read_notes(shop, db)
    return [results[film.name] for film in films]


def refresh_job_book(shop: Shop, db: Database, progress: Progress) -> bool:
    """Read the shop's job book again where its rows differ from what is stored; a missing file changes nothing.

    A job book that cannot be read is told of and leaves what is stored; so does each row that cannot be taken. Columns
    are those that a person has confirmed, else guessed; an empty cell erases nothing.

    :returns: whether anything changed.
    """
    if not shop.watches_job_book or not shop.job_book.is_file():
        return False
    try:
        book = read_shops_job_book(shop, db, shop.job_book)
    except JobBookError as error:
        progress.problem(str(error))
        return False
    for problem in book.problems:
        progress.problem(f"{shop.job_book.name}, {problem}")
    plan = plan_import(book, reading.builds(db.conn))
    if plan.builds:
        writing.save_builds(db, plan.builds)
    return bool(plan.builds)


def reading_key(shop: Shop) -> str:
    """A key of all that shapes how sentences are understood, but for the job book: the program, its words, the shop's.

    Computed from the files' bytes, without loading them, so that a run with nothing to do stays short. What the job
    book shapes is followed by `naming` and `builds.relinking`.
    """
    digest = hashlib.sha256(__version__.encode())
    package = Path(__file__).parent
    files = sorted(
        file for folder in _SHAPING for file in (package / folder).rglob("*") if file.suffix in (".py", ".yaml")
    )
    for file in [*files, shop.words]:
        if file.is_file():
            digest.update(file.read_bytes())
    digest.update(shop.settings.currency.encode())
    return digest.hexdigest()[:32]


def _settled(db: Database, film: Film | Unreadable, read_again: Container[str], progress: Progress) -> Indexed | None:
    """The outcome of a file that needs no work any more, or None."""
    outcome = None
    if isinstance(film, Unreadable):
        outcome = Indexed(film.name, "failed", error=film.error)
    elif film.why == "unchanged" and film.known is not None:
        what: Literal["indexed", "unchanged"] = "indexed" if film.known.id in read_again else "unchanged"
        outcome = Indexed(film.name, what, reading.recording(db.conn, film.known.id))
    if outcome is not None:
        progress.done(outcome)
    return outcome


@dataclass(slots=True)
class _Hearing:
    """A film whose stretches are being heard. ``words`` grows as they come; ``open`` counts those still out."""

    film: Film
    row: RecordingRow
    words: dict[tuple[int, int], tuple[Word, ...]] = field(default_factory=dict)
    ear: Ear = field(default_factory=Ear)
    open: int = 0
    all_sent: bool = False
    error: str | None = None
    warnings: list[str] = field(default_factory=list)

    @property
    def finished(self) -> bool:
        return self.all_sent and self.open == 0


@dataclass(slots=True)
class _Run:
    """One run of the index: what it works with, and the engine once something has to be heard."""

    shop: Shop
    db: Database
    key: str
    progress: Progress
    engine_name: str
    workers: int
    builds: Sequence[Build]
    _understanding: Understanding | None = None

    def all(self, films: Sequence[Film]) -> Iterator[Indexed]:
        for film in films:
            if film.why == "understand":
                yield self._understand_again(film)
        to_hear = [film for film in films if film.why == "hear"]
        if to_hear:
            engine = open_engine(self.engine_name, self.shop.model)
            self.understanding().language()  # a wrong words file is said before an hour of listening, not after
            self.progress.engine(engine)
            yield from self._hear(to_hear, engine)

    def understanding(self) -> Understanding:
        """The shop's words and the pipeline made from them, loaded once something is to be understood."""
        if self._understanding is None:
            self._understanding = understanding_of(self.shop, self.db, self.builds)
        return self._understanding

    def follow_decisions(self) -> None:
        """Apply what people decided about misheard words since films were read, also while this run was at work."""
        decision = reading.last_decision(self.db.conn)
        if self._understanding is not None and self._understanding.decision != decision:
            self._understanding = None
        if reading.films_behind(self.db.conn, decision):
            catch_up(self.db, self.understanding())

    def _hear(self, films: Sequence[Film], engine: Engine) -> Iterator[Indexed]:
        """Hear films with all workers from the start, and finish each as soon as its last stretch is in."""
        hearings: list[_Hearing] = []
        for film in films:
            try:
                hearings.append(self._begin(film, engine))
            except (MediaError, OSError) as error:
                yield self._failed(film, str(error))
        self.progress.plan(sum(hearing.row.duration for hearing in hearings), len(hearings))
        waiting = list(hearings)
        for heard in hear_all(self._jobs(hearings, engine), engine, self.workers):
            hearing: _Hearing = heard.key
            self._keep(hearing, engine, heard.start_sample, heard.end_sample, heard.words)
            yield from self._finish_ready(waiting, engine)
        yield from self._finish_ready(waiting, engine)

    def _begin(self, film: Film, engine: Engine) -> _Hearing:
        """Look into a film and store what can be guessed about it."""
        facts = probe(film.path)
        if not facts.has_sound:
            raise MediaError(f"{film.name}: no sound in this film; nothing to listen to")
        date, date_from = guess_date(
            film.path, facts.container_date, film.modified_ns / 1e9, self.shop.settings.timezone
        )
        title = guess_title(film.path, facts.title)
        assert film.content_hash is not None
        row = RecordingRow(
            id=film.known.id if film.known else new_id(self.db, film.name),
            path=film.name,
            size=film.size,
            modified_ns=film.modified_ns,
            content_hash=film.content_hash,
            title=title,
            kind=guess_kind(film.path, facts.title, duration=facts.duration, has_picture=facts.has_picture),
            date=date,
            date_from=date_from,
            month=guess_month(date, film.path.stem, title),
            duration=facts.duration,
            has_picture=facts.has_picture,
            engine=film.known.engine if film.known else None,
        )
        writing.save_recording(self.db, row)
        return _Hearing(film, row)

    def _jobs(self, hearings: Sequence[_Hearing], engine: Engine) -> Iterator[Job]:
        """The stretches still to be heard, film after film; decoding goes on while the workers listen."""
        for hearing in hearings:
            stored = reading.stretches(self.db.conn, hearing.row.content_hash, engine.fingerprint)
            try:
                sound = decode_blocks(hearing.film.path, on_warning=hearing.warnings.append)
                for stretch in split(hearing.ear.listening(sound)):
                    place = (stretch.start_sample, stretch.end_sample)
                    if place in stored:
                        hearing.words[place] = stored[place]
                        self.progress.heard(hearing.film.name, stretch.end - stretch.start)
                    elif stretch.silent:
                        self.progress.heard(hearing.film.name, stretch.end - stretch.start)
                    else:
                        hearing.open += 1
                        yield Job(hearing, stretch)
            except (MediaError, OSError) as error:
                hearing.error = str(error)
            hearing.all_sent = True

    def _keep(
        self, hearing: _Hearing, engine: Engine, start_sample: int, end_sample: int, words: tuple[Word, ...]
    ) -> None:
        hearing.open -= 1
        hearing.words[start_sample, end_sample] = words
        writing.save_stretch(self.db, hearing.row.content_hash, engine.fingerprint, start_sample, end_sample, words)
        self.progress.heard(hearing.film.name, (end_sample - start_sample) / SAMPLE_RATE)

    def _finish_ready(self, waiting: list[_Hearing], engine: Engine) -> Iterator[Indexed]:
        for hearing in [hearing for hearing in waiting if hearing.finished]:
            waiting.remove(hearing)
            yield self._finish(hearing, engine)

    def _finish(self, hearing: _Hearing, engine: Engine) -> Indexed:
        if hearing.error is not None:
            return self._failed(hearing.film, hearing.error)
        words = tuple(word for place in sorted(hearing.words) for word in hearing.words[place])
        warnings = [*hearing.warnings, *([] if words else ["no speech was heard in this film"])]
        warning = "; ".join(warnings) or None
        recording_id = self._known_as(hearing)
        return self._store(recording_id, hearing.film, words, engine=f"{engine.name}:{engine.model}", warning=warning)

    def _known_as(self, hearing: _Hearing) -> str:
        """Keep how a film sounds; its id, which is that of an earlier one where it is the same film in a new file."""
        row = hearing.row
        found = remember(self.db, row.content_hash, row.title, hearing.ear.landmarks())
        if reading.recording(self.db.conn, row.id).sentences:
            return row.id
        return known_as(self.db, row.id, found, lambda path: (self.shop.recordings / path).exists())

    def listen_where_people_decided(self) -> None:
        """Keep how films sound that people decided about, where an earlier version did not."""
        without = set(recordings_without_sound(self.db.conn, METHOD))
        for file in reading.recording_files(self.db.conn) if without else ():
            if file.id in without:
                with suppress(MediaError, OSError):  # the file is gone or damaged, which `check` tells
                    film = reading.recording(self.db.conn, file.id)
                    remember(self.db, file.content_hash, film.title, listen(self.shop.recordings / file.path))

    def _understand_again(self, film: Film) -> Indexed:
        assert film.known is not None
        stored = reading.sentences(self.db.conn, film.known.id)
        return self._store(film.known.id, film, tuple(word for sentence in stored for word in sentence.words))

    def _store(
        self,
        recording_id: str,
        film: Film,
        words: tuple[Word, ...],
        *,
        engine: str | None = None,
        warning: str | None = None,
    ) -> Indexed:
        """Understand a film's words and store everything about it in one go."""
        recording = reading.recording(self.db.conn, recording_id)
        try:
            understanding = self.understanding()
            meant = put_right(understanding, sentences(words), recording.date)
            result = understand(understanding, recording, meant)
            writing.save_reading(
                self.db,
                recording_id,
                meant,
                result,
                reading_key=self.key,
                engine=engine,
                warning=warning,
                decision=understanding.decision,
            )
        except DiaryidxError as error:
            return self._failed(film, str(error))
        return Indexed(film.name, "indexed", reading.recording(self.db.conn, recording_id))

    def _failed(self, film: Film, error: str) -> Indexed:
        writing.save_failure(self.db, film.name, film.size, film.modified_ns, error)
        return Indexed(film.name, "failed", error=error)


def indexed_json(indexed: Sequence[Indexed]) -> dict[str, object]:
    """``index --json``: one object a file."""
    rows = []
    for one in indexed:
        recording = one.recording
        shown = asdict(recording) if recording else {}
        keys = ("id", "date", "month", "kind", "title", "duration", "engine", "sentences")
        rows.append(
            {"path": one.path, **{key: shown.get(key) for key in keys}, "outcome": one.outcome, "error": one.error}
        )
    return {"recordings": rows}
