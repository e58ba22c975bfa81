"""The invented archive is what it says it is: its shares, its truth, and that a seed gives it back."""

from __future__ import annotations

import random
from collections import Counter
from itertools import islice

import jiwer
import pytest

from fixtures.archive import NAMES, Archive, Film, TrueSegment, make_archive
from fixtures.archive.films import TALK, spoken_number
from fixtures.archive.misheard import Ear, mishear, sounds_by_spelling

SEED = 7


@pytest.fixture(scope="module")
def archive() -> Archive:
    return make_archive(SEED)


@pytest.fixture(scope="module")
def films(archive: Archive) -> list[Film]:
    return list(archive.films())


def of_builds(films: list[Film]) -> list[tuple[Film, TrueSegment]]:
    return [(film, segment) for film in films for segment in film.segments if segment.build]


def test_a_seed_gives_the_same_archive_and_another_seed_another(archive: Archive, films: list[Film]) -> None:
    again = make_archive(SEED)
    assert list(islice(again.films(), 6)) == films[:6]
    assert again.job_book() == archive.job_book()
    assert list(islice(make_archive(SEED + 1).films(), 1)) != films[:1]


def test_it_has_two_years_of_diaries_and_sixty_builds(archive: Archive, films: list[Film]) -> None:
    diaries = [film for film in films if film.kind == "diary"]
    assert len(diaries) == 24 == len({film.date[:7] for film in diaries})
    assert len(archive.lives) == 60
    assert {film.kind for film in films} == {"diary", "tutorial", "product news"}
    for film in diaries:
        assert 8 <= sum(segment.build is not None for segment in film.segments) <= 14


def test_the_truth_covers_every_sentence_once(films: list[Film]) -> None:
    for film in films:
        places = [place for each in film.segments for place in range(each.first, each.last + 1)]
        assert places == list(range(len(film.sentences))) and len(film.said) == len(film.sentences)
        times = [time for sentence in film.sentences for time in (sentence.start, sentence.end)]
        assert times == sorted(times)
        assert all(sentence.heard for sentence in film.sentences)


def test_half_of_the_segments_about_builds_name_nothing(archive: Archive, films: list[Film]) -> None:
    unnamed = [pair for pair in of_builds(films) if not pair[1].names]
    assert 0.45 <= len(unnamed) / len(of_builds(films)) <= 0.55
    lives = {life.number: life for life in archive.lives}
    for film, segment in unnamed:
        said = " ".join(film.said[segment.first : segment.last + 1]).lower().replace(".", "").replace(",", "")
        life = lives[segment.build or ""]
        values = [life.start["make"], life.start["spoken"], life.start["customer"].split()[0], life.start["nickname"]]
        values += [str(value).split()[0] for _, what, value in life.changes if what != "colour"]
        for value in filter(None, [*values, spoken_number(life.number)]):
            assert f" {value.lower()} " not in f" {said} ".replace("'s", " ")


def test_every_kind_of_name_is_said_and_names_change(archive: Archive, films: list[Film]) -> None:
    assert set(NAMES) == {name for _, segment in of_builds(films) for name in segment.names}
    assert {"nickname", "customer", "colour"} <= {what for life in archive.lives for _, what, _ in life.changes}


def test_most_bikes_are_of_one_family_and_some_look_alike(archive: Archive) -> None:
    makes = Counter(life.start["make"] for life in archive.lives)
    assert 0.6 <= makes.most_common(1)[0][1] / len(archive.lives) <= 0.8
    day = archive.days
    twins = {
        (one.number, other.number)
        for one in archive.lives
        for other in archive.lives
        if one.number < other.number
        and any(one.here(at) and other.here(at) for at in day)
        and all(one.start[key] == other.start[key] for key in ("model", "colour"))
    }
    assert len(twins) >= 4


def test_one_word_in_ten_is_misheard_and_names_more_often(films: list[Film]) -> None:
    said = [" ".join(film.said).lower() for film in films]
    heard = [" ".join(sentence.heard for sentence in film.sentences).lower() for film in films]
    assert 0.09 <= jiwer.wer(said, heard) <= 0.11
    # Names: how many sayings of the family's make are left in what was heard.
    kept = sum(text.count("varlund") for text in heard) / sum(text.count("varlund") for text in said)
    assert kept < 0.85


def test_without_errors_what_is_heard_is_what_was_said() -> None:
    film = next(make_archive(SEED, errors=0.0).films())
    assert tuple(sentence.heard for sentence in film.sentences) == film.said


def test_half_of_the_films_come_in_lower_case_without_punctuation(films: list[Film]) -> None:
    plain = [film for film in films if not film.punctuated]
    assert 0.4 <= len(plain) / len(films) <= 0.6
    for film in plain:
        assert not set(".,?!").intersection(*film.said) and all(text == text.lower() for text in film.said)


def test_the_job_book_knows_only_what_was_known(archive: Archive) -> None:
    middle = archive.dates[12]
    book = archive.job_book(middle)
    assert 0 < len(book) < 60
    for build in book:
        assert build.date_in and build.date_in <= middle
        assert build.date_out is None or build.date_out <= middle
        assert (build.state == "delivered") == (build.date_out is not None)
    later = {build.job_number: build for build in archive.job_book()}
    assert any(later[build.job_number].asked_for != build.asked_for for build in book)
    nicknames = sum(build.nickname is not None for build in later.values())
    assert 0.2 <= nicknames / len(later) <= 0.5


def test_a_bike_is_spoken_of_only_while_it_is_there_or_has_just_left(archive: Archive, films: list[Film]) -> None:
    lives = {life.number: life for life in archive.lives}
    days = dict(zip(archive.dates, archive.days, strict=True))
    for film, segment in of_builds(films):
        life, day = lives[segment.build or ""], days[film.date]
        assert life.day_in <= day < life.day_out + 40


def test_there_are_more_than_four_hundred_sentences_to_choose_from() -> None:
    lists_of_words = {"unnamed_ref", "unnamed_owner", "products", "prices", "developments", "lessons"}
    assert len({text for act, texts in TALK.items() if act not in lists_of_words for text in texts}) >= 400


def test_words_are_taken_for_words_that_sound_like_them() -> None:
    ear = Ear()
    assert "break" in ear.alternatives("brake")[0]
    assert sounds_by_spelling("knight") == sounds_by_spelling("night")
    heard = mishear(["the brake is on order from them"] * 50, 0.3, ear, ["brake"], random.Random(1))
    assert sum("brake" in sentence for sentence in heard) < 35


def test_a_large_archive_is_spoken_film_by_film_until_its_hours_are_full() -> None:
    films = list(make_archive(SEED, large=True, hours=4).films())
    hours = sum(film.sentences[-1].end for film in films) / 3600
    assert 4.0 <= hours < 5.0
    sentences = sum(len(film.sentences) for film in films)
    assert 400 <= sentences / hours <= 600
