"""From heard sentences to what they say: the shop's words, loaded once a run, and the steps that use them in order."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sqlite_utils import Database

from diaryidx.records import Build, Reading, Recording, Sentence
from diaryidx.shop import Shop
from diaryidx.store import reading
from diaryidx.transcript.corrections import apply_corrections
from diaryidx.transcript.figures import write_figures
from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary

if TYPE_CHECKING:
    from spacy.language import Language

    from diaryidx.transcript.repair import Repairer


@dataclass(slots=True)
class Understanding:
    """What sentences of one shop are understood with. ``decision`` is the last one on misheard words it follows."""

    vocabulary: Vocabulary
    builds: Sequence[Build]
    decision: int
    _language: Language | None = None
    _repairer: Repairer | None = None

    def repairer(self) -> Repairer:
        """What repairs misheard terms by their sound; made only when something is to be repaired."""
        if self._repairer is None:
            from diaryidx.transcript.repair import build_repairer

            self._repairer = build_repairer(self.vocabulary)
        return self._repairer

    def language(self) -> Language:
        """The spaCy pipeline; loaded only when a film is to be read."""
        if self._language is None:
            from diaryidx.language.pipeline import build_pipeline

            self._language = build_pipeline(self.vocabulary)
        return self._language


def understanding_of(
    shop: Shop, db: Database, builds: Sequence[Build], taught: Mapping[str, str] | None = None
) -> Understanding:
    """Load the words of a shop.

    :param taught: corrections to follow; None means those that are kept in the database.
    :raises VocabularyError: words.yaml is wrong.
    """
    decision = reading.last_decision(db.conn)  # before the words: a decision made just now is then followed once more
    words = reading.taught_words(db.conn) if taught is None else taught
    return Understanding(load_vocabulary(shop.words, builds, shop.settings.currency, words), builds, decision)


def put_right(
    understanding: Understanding, film: Sequence[Sentence], only: Container[int] | None = None
) -> tuple[Sentence, ...]:
    """The sentences of a film with their texts written anew from what was heard.

    What a person taught comes first; then terms are repaired by their sound, which must leave that alone; then numbers
    are written in figures.

    :param only: places of the sentences to be repaired by sound; None means all.
    """
    from diaryidx.transcript.repair import repair

    taught = [apply_corrections(sentence, understanding.vocabulary) for sentence in film]
    repaired = repair(understanding.repairer(), taught, only)
    job_numbers = frozenset(build.job_number for build in understanding.builds)
    return tuple(write_figures(sentence, understanding.vocabulary, job_numbers) for sentence in repaired)


def understand(understanding: Understanding, recording: Recording, sentences: Sequence[Sentence]) -> Reading:
    """What a film's sentences say, its topics cut with what the job book knows."""
    from diaryidx.builds.topics import refine_topics
    from diaryidx.language.reading import read_recording

    nlp = understanding.language()
    read = read_recording(nlp, sentences, recording.kind, recording.date, understanding.vocabulary)
    return refine_topics(replace(recording, kind=read.kind), sentences, read, understanding.builds)
