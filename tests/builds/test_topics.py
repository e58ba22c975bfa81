from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import pytest
from film_store import LINE_SECONDS, Topic, fact, laid_out, line, topic
from hypothesis import given, settings
from hypothesis import strategies as st

from diaryidx.builds.linking import link
from diaryidx.builds.topics import refine_topics, title_of
from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Build, Entry, Mention, Reading, Recording, RecordingKind, Sentence, Subject
from diaryidx.vocabulary.loader import find_terms, load_vocabulary
from tests.builds.run_on_archive import make_run_on_archive

FILM = Recording(
    "may", "may.mp4", "May", "diary", "2026-05-20", "file name", "2026-05", 300.0, True, None, "indexed"
)  # fmt: skip
BOOK = [
    Build("301", "Wilma Tarn", "Hobb", "Plover 400", colour="orange", asked_for="tan seat; clip ons; wrapped headers"),
    Build("302", "Amos Feather", "Hobb", "Plover 400", asked_for="new wiring loom; rear sets; gold rims"),
    Build("303", "Ines Dray", "Sallow", "Knot", nickname="Biscuit", asked_for="knobbly tyres; sump guard; high pipes"),
    Build("304", "Noor Ashby", "Sallow", "Knot", asked_for="fork rebuild; pannier rack; heated grips"),
    *(Build(str(310 + n), make="Hobb", model="Plover 400", asked_for="service") for n in range(8)),
]
SEAT = line("the tan seat is on", fact("done", "seat", finish="tan"))
HEADERS = line("headers are wrapped", fact("done", "headers", task="wrap"))
BARS = line("clip ons went on yesterday", fact("done", "clip-ons", task="fit"))
LOOM = line("still waiting for the loom", fact("waiting", "wiring loom"))
RIMS = line("the rims came back in gold", fact("done", "rim", finish="gold"))
TYRES = line("knobbly tyres next week", fact("planned", "tyre", finish="knobbly"))
GUARD = line("and the sump guard fits", fact("done", "sump guard", task="fit"))
NOTHING = line("it is coming along nicely")


def read(topics: Sequence[Topic], kind: RecordingKind = "diary") -> tuple[list[Sentence], Reading]:
    """A film as the language step would give it."""
    sentences, segments, statements = laid_out(topics)
    mentions = [
        Mention(term.label, one.text[start:end], term.canonical, place, start, end)
        for place, one in enumerate(sentences)
        for start, end, term in find_terms(load_vocabulary(None, BOOK), one.text)
    ]
    return sentences, Reading(kind, tuple(mentions), tuple(segments), tuple(statements))


def refined(*topics: Topic, kind: RecordingKind = "diary") -> Reading:
    sentences, reading = read(topics, kind)
    return refine_topics(FILM, sentences, reading, BOOK)


def places(reading: Reading) -> list[tuple[int, int]]:
    return [(segment.first, segment.last) for segment in reading.segments]


def tied(*topics: Topic) -> list[str | None]:
    """The build of each sentence's topic, after cutting and linking."""
    sentences, reading = read(topics)
    reading = refine_topics(FILM, sentences, reading, BOOK)
    segments = link(FILM, reading.segments, sentences, reading.mentions, reading.statements, BOOK, [])
    return [segment.build for segment in segments for _ in range(segment.first, segment.last + 1)]


def test_a_topic_that_holds_two_bikes_is_cut_where_the_talk_turns() -> None:
    second = line("and the next one along")
    assert places(refined(topic(line("wilma tarn's first"), SEAT, BARS, second, LOOM, RIMS))) == [(0, 2), (3, 5)]


def test_a_bike_named_in_passing_words_begins_a_topic_of_its_own() -> None:
    named = line("biscuit is over the road with the tyre man")
    assert places(refined(topic(line("this one here"), LOOM, RIMS, named, TYRES, GUARD))) == [(0, 2), (3, 5)]


def test_what_is_said_cuts_even_where_no_word_turns() -> None:
    told = [SEAT, BARS, HEADERS, LOOM, RIMS, line("rear sets are on", fact("done", "rearsets", task="fit"))]
    assert (0, 2) in places(refined(topic(*told)))


def test_another_part_of_the_same_bike_is_no_reason_to_cut() -> None:
    told = topic(line("wilma tarn's first"), SEAT, line("now the headers"), HEADERS, line("and this lever"), BARS)
    assert places(refined(told)) == [(0, 5)]


def test_two_topics_about_one_bike_are_joined_and_titled_anew() -> None:
    reading = refined(topic(line("the orange plover"), SEAT), topic(line("so these bars"), BARS, HEADERS))
    assert places(reading) == [(0, 4)]
    assert reading.segments[0].title == "Plover 400"
    assert (reading.segments[0].start, reading.segments[0].end) == (0.0, 5 * LINE_SECONDS)
    assert [one.segment for one in reading.statements] == [0, 0, 0]


def test_a_topic_of_which_nothing_is_known_is_not_joined_to_the_one_before() -> None:
    unknown = topic(line("next up a long job"), line("the choke cable snapped", fact("waiting", "choke cable")))
    assert places(refined(topic(line("biscuit"), TYRES, GUARD), unknown)) == [(0, 2), (3, 4)]


def test_a_bike_that_the_greeting_ran_into_is_found() -> None:
    hello = topic(line("hello everybody"), line("wilma tarn's is here"), SEAT, BARS, kind="shop", title="Opening")
    reading = refined(hello, topic(line("biscuit"), TYRES))
    assert [(one.subject.kind, one.first) for one in reading.segments] == [("shop", 0), ("build", 1), ("build", 4)]
    assert reading.segments[0].title == "Opening"
    assert {one.subject for one in reading.statements} == {Subject("build")}


def test_hellos_and_goodbyes_stay_what_they_are() -> None:
    hello = topic(line("hello everybody"), line("what a wet month"), kind="shop", title="Opening")
    bye = topic(line("thanks for watching"), kind="shop", title="Closing")
    reading = refined(hello, topic(line("biscuit"), TYRES), bye)
    assert [one.title for one in reading.segments] == ["Opening", "topic", "Closing"]


@pytest.mark.parametrize("kind", ["product", "tutorial", "development"])
def test_topics_about_something_else_stay_though_they_name_bikes(kind: str) -> None:
    other = topic(line("these fit the knot"), line("biscuit wears them"), TYRES, GUARD, kind=kind)  # type: ignore[arg-type]
    sentences, reading = read([topic(line("wilma tarn's"), SEAT), other])
    result = refine_topics(FILM, sentences, reading, BOOK)
    assert result.segments[1] == reading.segments[1]
    assert result.statements[1:] == reading.statements[1:]


def test_a_question_that_is_answered_on_film_stays_a_question() -> None:
    asked = topic(line("somebody asked us"), TYRES, GUARD, kind="shop", title="Somebody asked us")
    sentences, reading = read([topic(line("wilma tarn's"), SEAT), asked])
    reading = replace(reading, entries=(Entry("which tyres", "knobbly", 10.0, 25.0),))
    assert refine_topics(FILM, sentences, reading, BOOK).segments[1] == reading.segments[1]


def test_a_tutorial_no_job_book_and_no_film_change_nothing() -> None:
    sentences, reading = read([topic(SEAT, BARS, kind="tutorial")])
    assert refine_topics(FILM, sentences, reading, BOOK) is reading
    sentences, reading = read([topic(SEAT, LOOM)])
    assert refine_topics(FILM, sentences, reading, []) is reading
    assert refine_topics(FILM, [], Reading("diary"), BOOK) == Reading("diary")


def test_a_statement_about_something_of_its_own_keeps_its_subject() -> None:
    sentences, reading = read([topic(line("wilma tarn's"), SEAT, line("next up biscuit"), TYRES)])
    own = replace(reading.statements[1], subject=Subject("product", "tyres"))
    result = refine_topics(FILM, sentences, replace(reading, statements=(reading.statements[0], own)), BOOK)
    assert [(one.segment, one.subject) for one in result.statements] == [(0, Subject("build")), (1, own.subject)]


# --- what comes of it ------------------------------------------------------------------------------------------------


def test_what_is_said_of_two_bikes_in_one_breath_lands_at_each() -> None:
    told = topic(line("wilma tarn's"), SEAT, BARS, line("biscuit is next to it"), TYRES, GUARD)
    assert tied(told) == ["301"] * 3 + ["303"] * 3


def test_a_topic_that_may_hold_two_bikes_is_asked_about_and_not_tied() -> None:
    sentences, reading = read([topic(line("this one"), SEAT, BARS, LOOM, TYRES, GUARD)])
    (segment,) = link(FILM, reading.segments, sentences, reading.mentions, reading.statements, BOOK, [])
    assert segment.build is None
    assert segment.evidence[0].startswith("could be job ")


def test_two_bikes_shown_as_one_are_asked_about() -> None:
    told = [SEAT, BARS, HEADERS]
    assert tied(topic(line("this one here"), *told)) == ["301"] * 4
    assert tied(topic(line("and these two here"), *told)) == [None] * 4


def test_a_bike_that_this_one_is_held_against_is_no_evidence() -> None:
    assert tied(topic(line("this one here"), SEAT, HEADERS, line("the same bars as on biscuit"), BARS)) == ["301"] * 5


def test_a_supplier_with_the_name_of_a_make_is_no_bike() -> None:
    told = line("the rest is coming from sallow on friday")
    sentences, reading = read([topic(line("wilma tarn's"), SEAT, told)])
    at = told.text.index("sallow")
    supplier = Mention("SUPPLIER", "sallow", "Sallow", 2, at, at + 6)
    mentions = (*(one for one in reading.mentions if one.label != "MAKE"), supplier)
    (segment,) = link(FILM, reading.segments, sentences, mentions, reading.statements, BOOK, [])
    assert segment.build == "301" and "said 'sallow'" not in segment.evidence


@pytest.mark.parametrize(
    ("said", "title"),
    [("biscuit the knot", "Biscuit"), ("a plover and a knot and a plover", "Plover 400"),
     ("the seat and the rear shocks and the loom and the tank", "A build: seat, shocks, wiring loom"),
     ("well well", "A build")],
)  # fmt: skip
def test_a_topic_is_called_by_its_name_else_by_its_first_parts(said: str, title: str) -> None:
    vocabulary = load_vocabulary(None, BOOK)
    found = [Mention(t.label, said[a:b], t.canonical, 0, a, b) for a, b, t in find_terms(vocabulary, said)]
    assert title_of(found) == title


@settings(deadline=None, max_examples=40)
@given(st.lists(st.sampled_from(["build", "shop", "product"]), min_size=1, max_size=6), st.integers(0, 999))
def test_topics_cover_every_sentence_once_whatever_the_film(kinds: list[str], seed: int) -> None:
    lines = [SEAT, BARS, LOOM, TYRES, NOTHING, line("next up"), line("the knot"), line("biscuit"), line("")]
    chosen = [lines[(seed * 7 + 3 * place + place * place) % len(lines)] for place in range(4 * len(kinds))]
    topics = [topic(*chosen[4 * n : 4 * n + 4], kind=kind) for n, kind in enumerate(kinds)]  # type: ignore[arg-type]
    reading = refined(*topics)
    assert reading.segments[0].first == 0 and reading.segments[-1].last == len(chosen) - 1
    assert all(before.last + 1 == after.first for before, after in pairwise(reading.segments))
    assert len(reading.statements) == sum(len(one.facts) for one in chosen)
    for one in reading.statements:
        segment = reading.segments[one.segment or 0]
        assert segment.first <= one.sentence <= segment.last and one.subject == segment.subject


def test_of_bikes_that_follow_each_other_with_few_words_less_is_told_of_the_wrong_one() -> None:
    """Films of an invented shop, cut by the real language step, with and without what the job book knows."""
    told = {"as cut by talk": [0, 0, 0], "with the job book": [0, 0, 0]}  # statements right, wrong, true cuts found
    for seed in (500, 501):
        archive = make_run_on_archive(seed, months=3)
        vocabulary = load_vocabulary(None, archive.builds)
        nlp = build_pipeline(vocabulary)
        for film in archive.films:
            by_talk = read_recording(nlp, film.sentences, "diary", film.recording.date, vocabulary)
            by_book = refine_topics(film.recording, film.sentences, by_talk, archive.builds)
            for name, reading in (("as cut by talk", by_talk), ("with the job book", by_book)):
                segments = link(film.recording, reading.segments, film.sentences, reading.mentions, reading.statements,
                                archive.builds, [])  # fmt: skip
                builds = [(segments[one.segment or 0].build, film.said_of[one.sentence]) for one in reading.statements]
                told[name][0] += sum(build in true for build, true in builds)
                told[name][1] += sum(build is not None and build not in true for build, true in builds)
                told[name][2] += len({segment.first for segment in segments} & set(film.starts))
    right, wrong, cuts = told["with the job book"]
    assert right >= 1.3 * told["as cut by talk"][0]
    assert cuts >= 1.3 * told["as cut by talk"][2]
    assert wrong <= 0.15 * (right + wrong)
