"""Cuts the topics of a film again with what the job book knows: one bike, one topic.

The language step cuts a film by how people talk; but one bike often follows another with no more than "now the bronze
one", and then a topic holds two. Here the film is read again sentence by sentence (`builds.stretches`): the states are
the builds of the job book, a bike that is in none, and talk about no bike; what a sentence says speaks for each of them
(`builds.clues`, as for whole topics), how it begins says whether the film turns (`builds.turns`). Only where topics
begin and end is taken from that: which build each is tied to is settled over the whole film (`builds.linking`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import compress

import numpy as np

from diaryidx.builds.known import Shop, shop_on_the_day
from diaryidx.builds.linking import in_shop, near, prior
from diaryidx.builds.said import said_by_sentence
from diaryidx.builds.stretches import SINGLE, States, best_cuts, sentence_gains
from diaryidx.builds.talk import talk_gains
from diaryidx.builds.turns import turns
from diaryidx.language.told import capital
from diaryidx.records import Build, Mention, Reading, Recording, Segment, Sentence, Statement, Subject

#: How often a film turns to talk about no bike (our own estimate).
TALK = 0.1
#: A cut too many costs less than one too few, which ties what is said of one bike to another: by so much the odds of a
#: turn are raised.
EAGER = 11.0
#: How likely a film turns to another bike in a chat, or with the sentence that comes back from it (own choice).
AFTER_ASIDE = 0.01
_TITLE_PARTS, _TITLE_WORDS = 3, 6


def refine_topics(
    recording: Recording,
    sentences: Sequence[Sentence],
    reading: Reading,
    builds: Sequence[Build],
) -> Reading:
    """Cut and join the topics of a film so that each is about one bike.

    :param sentences: those that were read, in order.
    :param reading: as the language step made it. Topics about a product, a tutorial or a development stay as they are.
    :param builds: the job book. What earlier films said is left aside, so that a film is cut alike in whatever order
        films are indexed.
    :returns: the reading with other segments, not yet tied to builds; they cover the same sentences in order. Its
        statements have their segments' places and are about a bike where their segments are.
    """
    if not builds or not any(segment.subject.kind == "build" for segment in reading.segments):
        return reading
    builds = near([replace(build, state=None) for build in builds], recording.date, sentences)
    weights = {build.job_number: in_shop(build, recording.date) for build in builds}
    shop = shop_on_the_day(builds, weights, (), day=recording.date)
    said = said_by_sentence(sentences, reading.mentions, reading.statements)
    cuts = {segment.first for segment in reading.segments}
    turning = turns(sentences, said, cuts, reading.kind, shop)
    gains = sentence_gains(said, turning, shop)
    talk = talk_gains(said, sentences, reading)
    for aside in reading.remarks.asides:  # a chat speaks for no bike, and nothing turns with it or behind it
        chat = slice(aside.first, aside.last + 1)
        gains[chat], talk[chat] = 0.0, 0.0
        turning[aside.first : aside.last + 2] = np.minimum(turning[aside.first : aside.last + 2], AFTER_ASIDE)
    eager = turning * EAGER / (1 - turning + turning * EAGER)
    starts, states = best_cuts(np.column_stack([gains, talk]), eager, _states(shop))
    no_bike = [bool(one[-1] > np.logaddexp.reduce(one[:-1])) for one in states]
    kept = [place == 0 or not (no_bike[place - 1] and no_bike[place]) for place in range(len(starts))]  # talk is talk
    return _cut_again(reading, sentences, list(compress(starts, kept)), list(compress(no_bike, kept)))


def cut_again(recording: Recording, sentences: Sequence[Sentence], talk: Reading, builds: Sequence[Build]) -> Reading:
    """Cut the topics of a film that was read before, with what the job book knows now.

    :param talk: what of the reading topics rest on: kind, mentions, statements, entries and asides, and as its segments
        the topics as they were cut by talk alone.
    :returns: as `refine_topics`; what it would have made of the film had the job book been so when the film was read.
    """
    topic_of = [number for number, one in enumerate(talk.segments) for _ in range(one.first, one.last + 1)]
    statements = tuple(
        replace(one, segment=topic_of[one.sentence], subject=talk.segments[topic_of[one.sentence]].subject, build=None)
        for one in talk.statements
    )
    return refine_topics(replace(recording, kind=talk.kind), sentences, replace(talk, statements=statements), builds)


def _states(shop: Shop) -> States:
    """The builds, a bike of no job book, and talk."""
    bikes = prior(shop) + np.log(1 - TALK)
    single = np.full(len(bikes) + 1, np.log(SINGLE))
    single[-1] = 0.0
    return States(np.append(bikes, np.log(TALK)), single)


# --- the reading with its new topics ---------------------------------------------------------------------------------


def _cut_again(reading: Reading, sentences: Sequence[Sentence], starts: Sequence[int], talk: Sequence[bool]) -> Reading:
    """The reading with topics that begin where stretches do; where one is talk, the language step's own cuts stay."""
    ends = [*(start - 1 for start in starts[1:]), len(sentences) - 1]
    segments: list[Segment] = []
    for first, last, no_bike in zip(starts, ends, talk, strict=True):
        cuts = [one.first for one in reading.segments if first < one.first <= last] if no_bike else []
        for begin, end in zip([first, *cuts], [*(cut - 1 for cut in cuts), last], strict=True):
            segments.append(_segment(reading, sentences, begin, end, no_bike))
    segment_of = [number for number, one in enumerate(segments) for _ in range(one.first, one.last + 1)]
    statements = [_moved(one, segment_of[one.sentence], segments, reading) for one in reading.statements]
    return replace(reading, segments=tuple(segments), statements=tuple(statements))


def _moved(statement: Statement, number: int, segments: Sequence[Segment], reading: Reading) -> Statement:
    """A statement in its new segment, and about what that is about, unless it was about something of its own."""
    was = reading.segments[statement.segment].subject if statement.segment is not None else statement.subject
    subject = segments[number].subject if statement.subject == was else statement.subject
    return replace(statement, segment=number, subject=subject)


def _segment(reading: Reading, sentences: Sequence[Sentence], first: int, last: int, talk: bool) -> Segment:
    """The segment of these sentences: as the language step made it, where it made the same or it is about no bike."""
    was = next(segment for segment in reversed(reading.segments) if segment.first <= first)
    start, end = sentences[first].start, sentences[last].end
    if talk and was.subject.kind == "build":
        return Segment(
            start, end, first, last, _first_words(sentences[first]), Subject("shop"), certainty=was.certainty
        )
    if talk or (was.first, was.last, was.subject.kind) == (first, last, "build"):
        return replace(was, start=start, end=end, first=first, last=last)
    mentions = [mention for mention in reading.mentions if first <= mention.sentence <= last]
    return Segment(start, end, first, last, title_of(mentions), Subject("build"), certainty=was.certainty)


def _first_words(sentence: Sentence) -> str:
    words = sentence.text.split()
    return capital(" ".join(words[:_TITLE_WORDS])) if words else "Talk"


def title_of(mentions: Iterable[Mention]) -> str:
    """A title for what is said of a bike, in the language step's way: its name as said, else the first parts."""
    said = Counter((mention.label, mention.canonical) for mention in mentions)
    for label in ("NICKNAME", "MODEL", "MAKE"):
        names = [(count, name) for (kind, name), count in said.items() if kind == label]
        if names:
            return capital(max(names, key=lambda pair: pair[0])[1])
    parts = [name for kind, name in said if kind == "PART"][:_TITLE_PARTS]
    return f"A build: {', '.join(parts)}" if parts else "A build"
