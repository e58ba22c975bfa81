"""The invented archive as the program reads it: each film with the job book of its day, read once a run and kept.

Films are read as `index` reads them: in order of their dates, with the vocabulary of the shipped words and the job book
as known that day. What was read is kept under the system's folder for temporary files, by a key of the program's
language and vocabulary and of the archive's generator.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import diaryidx
from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Build, Reading, Recording, Sentence
from diaryidx.transcript.corrections import apply_corrections
from diaryidx.vocabulary.loader import load_vocabulary
from fixtures import archive as generator
from fixtures.archive import Archive, Film, make_archive


@dataclass(frozen=True)
class ReadFilm:
    """A film of the archive as the program has it: what was heard, what the language step makes of it, the job book."""

    film: Film
    recording: Recording
    sentences: tuple[Sentence, ...]
    reading: Reading
    book: tuple[Build, ...]


def read_archive(seed: int) -> list[ReadFilm]:
    """The films of the archive of a seed, read in order of their dates."""
    kept = _folder() / f"{_key()}-{seed}.pickle"
    if kept.is_file():
        films: list[ReadFilm] = pickle.loads(kept.read_bytes())
        return films
    films = list(_read(make_archive(seed)))
    unfinished = kept.with_suffix(f".{os.getpid()}")
    unfinished.write_bytes(pickle.dumps(films))
    unfinished.replace(kept)
    return films


def _read(archive: Archive) -> Iterator[ReadFilm]:
    book: tuple[Build, ...] = ()
    for film in archive.films():
        if not book or archive.job_book(film.date) != book:
            book = archive.job_book(film.date)
            vocabulary = load_vocabulary(None, book)
            nlp = build_pipeline(vocabulary)
        sentences = tuple(apply_corrections(sentence, vocabulary) for sentence in film.sentences)
        reading = read_recording(nlp, sentences, film.kind, film.date, vocabulary)
        yield ReadFilm(film, recording_of(film), sentences, reading, book)


def recording_of(film: Film) -> Recording:
    """The record of a film that was heard."""
    end = film.sentences[-1].end
    return Recording(
        film.id,
        f"{film.id}.mp4",
        film.id,
        film.kind,
        film.date,
        "file name",
        film.date[:7],
        end,
        True,
        "vosk",
        "indexed",
    )


def _folder() -> Path:
    folder = Path(tempfile.gettempdir()) / "diaryidx-bench"
    folder.mkdir(exist_ok=True)
    return folder


def _key() -> str:
    """A key of all that shapes what is read."""
    digest = hashlib.sha256()
    package = Path(diaryidx.__file__).parent
    rooms = [package / "language", package / "vocabulary", package / "transcript", Path(generator.__file__).parent]
    for file in sorted(file for room in rooms for file in room.rglob("*") if file.suffix in (".py", ".yaml")):
        digest.update(file.read_bytes())
    return digest.hexdigest()[:16]
