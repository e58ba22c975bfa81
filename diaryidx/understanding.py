"""From heard sentences to what they say: the shop's words, loaded once a run, and the steps that use them in order."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING

from sqlite_utils import Database

from diaryidx.builds.dates import first_day, met_from
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
class Hearing:
    """What sentences are put right with: the words that the shop knew on the day of a film."""

    vocabulary: Vocabulary
    job_numbers: frozenset[str]
    _repairer: Repairer | None = None

    def repairer(self) -> Repairer:
        """What repairs misheard terms by their sound; made only when something is to be repaired."""
        if self._repairer is None:
            from diaryidx.transcript.repair import build_repairer

            self._repairer = build_repairer(self.vocabulary)
        return self._repairer


@dataclass(slots=True)
class Understanding:
    """What sentences of one shop are understood with. ``decision`` is the last one on misheard words it follows.

    ``load`` gives the vocabulary with the names of some builds.
    """

    load: Callable[[Sequence[Build]], Vocabulary]
    builds: Sequence[Build]
    decision: int
    _vocabulary: Vocabulary | None = None
    _language: Language | None = None
    _hearings: dict[tuple[str, ...], Hearing] = field(default_factory=dict)

    @property
    def vocabulary(self) -> Vocabulary:
        """The shop's words with all names of the job book."""
        if self._vocabulary is None:
            self._vocabulary = self.load(self.builds)
        return self._vocabulary

    def hearing(self, day: str | None) -> Hearing:
        """What the sentences of a film of a day are put right with.

        Nobody names a bike before the shop has met it: so a new row of the job book leaves older films as they are, and
        films of any age are put right alike in whatever order the job book grew.
        """
        met = known_on(self.builds, day)
        key = tuple(build.job_number for build in met)
        if key not in self._hearings:
            words = self.vocabulary if len(met) == len(self.builds) else self.load(met)
            self._hearings.clear()  # films come mostly by date
            self._hearings[key] = Hearing(words, frozenset(key))
        return self._hearings[key]

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
    :raises VocabularyError: words.yaml is wrong; told when the words are first used.
    """
    decision = reading.last_decision(db.conn)  # before the words: a decision made just now is then followed once more
    words = reading.taught_words(db.conn) if taught is None else taught
    load = partial(load_vocabulary, shop.words, currency=shop.settings.currency, taught=words)
    return Understanding(load, builds, decision)


def known_on(builds: Sequence[Build], day: str | None) -> list[Build]:
    """The builds whose names the shop knew on the day of a film; all where the day is not known."""
    filmed = first_day(day)
    return [build for build in builds if filmed is None or filmed >= met_from(build.date_in)]


def put_right(
    understanding: Understanding, film: Sequence[Sentence], day: str | None, only: Container[int] | None = None
) -> tuple[Sentence, ...]:
    """The sentences of a film with their texts written anew from what was heard.

    What a person taught comes first; then terms are repaired by their sound, which must leave that alone; then numbers
    are written in figures.

    :param day: ISO date of the film; it is put right with the words that the shop knew then.
    :param only: places of the sentences to be repaired by sound; None means all.
    """
    from diaryidx.transcript.repair import repair

    hearing = understanding.hearing(day)
    taught = [apply_corrections(sentence, hearing.vocabulary) for sentence in film]
    repaired = repair(hearing.repairer(), taught, only)
    return tuple(write_figures(sentence, hearing.vocabulary, hearing.job_numbers) for sentence in repaired)


def understand(understanding: Understanding, recording: Recording, sentences: Sequence[Sentence]) -> Reading:
    """What a film's sentences say, its topics cut with what the job book knows."""
    from diaryidx.builds.topics import refine_topics
    from diaryidx.language.reading import read_recording

    nlp = understanding.language()
    read = read_recording(nlp, sentences, recording.kind, recording.date, understanding.vocabulary)
    refined = refine_topics(replace(recording, kind=read.kind), sentences, read, understanding.builds)
    return replace(refined, talk=read.segments)
