"""One pipeline for all tests of this room; building it takes most of a second."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from film_reader import Reader
from spacy.language import Language

from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Build, Reading, RecordingKind, Sentence
from diaryidx.vocabulary import Vocabulary, load_vocabulary

WORDS = """
suppliers: [Fell Castings]
products: [{name: Short Tail Kit, supplier: Fell Castings}]
people: [{name: Imogen, role: upholsterer}]
"""
BUILDS = (
    Build("2001", customer="Ann Alder", make="Orrin", model="Lapwing 650"),
    Build("2002", customer="Bo Fell", make="Orrin", model="Dipper"),
)


@pytest.fixture(scope="session")
def vocabulary(tmp_path_factory: pytest.TempPathFactory) -> Vocabulary:
    path = tmp_path_factory.mktemp("shop") / "words.yaml"
    path.write_text(WORDS, encoding="utf-8")
    return load_vocabulary(path, BUILDS)


@pytest.fixture(scope="session")
def nlp(vocabulary: Vocabulary) -> Language:
    return build_pipeline(vocabulary)


@pytest.fixture(scope="session")
def read(nlp: Language, vocabulary: Vocabulary) -> Reader:
    """Read a film told as one sentence a line; each takes two seconds."""

    def read_film(
        lines: Sequence[str] | str, kind: RecordingKind = "diary", date: str | None = "2025-10-05"
    ) -> Reading:
        told = [line.strip() for line in (lines.splitlines() if isinstance(lines, str) else lines) if line.strip()]
        sentences = [Sentence(2.0 * at, 2.0 * at + 1.8, text, text) for at, text in enumerate(told)]
        return read_recording(nlp, sentences, kind, date, vocabulary)

    return read_film
