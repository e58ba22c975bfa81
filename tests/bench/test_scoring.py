"""The scores mean what they say: all right scores all, each kind of error costs its own measure and no other."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from diaryidx.records import Event, Segment, Sentence, Statement, Subject
from diaryidx.vocabulary.loader import Vocabulary, load_vocabulary
from tests.bench.scoring_measures import Measure, Sheet, table
from tests.bench.scoring_statements import score_statements
from tests.bench.scoring_things import score_dates
from tests.bench.scoring_topics import score_topics
from tests.bench.scoring_truth import Thing, TrueFilm, TrueLine, TrueTopic, load_films, words_with_times
from tests.bench.scoring_words import normalise, score_words

TEXT = "We've fitted the forks. He wants a green tank."


@pytest.fixture(scope="module")
def vocabulary() -> Vocabulary:
    return load_vocabulary()


@pytest.fixture
def film() -> TrueFilm:
    line = TrueLine(0.0, 10.0, TEXT)
    first = TrueTopic("film/one", "build", ("7",), TEXT, 0.0, 10.0, (line,))
    second = TrueTopic("film/two", "shop", (), "Goodbye.", 10.0, 12.0, (TrueLine(10.0, 12.0, "Goodbye."),))
    fields: list[dict[str, Any]] = [
        {"build": "7", "part": "fork", "task": ["fit", None], "status": "done"},
        {"build": "7", "part": "tank", "finish": "green", "said_by": "customer", "status": "asked for"},
        {"build": "7", "part": "tank", "status": "planned", "optional": True},
    ]
    times = [(0.0, 4.0), (5.0, 10.0), (5.0, 10.0)]
    statements = tuple(Thing(first, "", *time, one) for time, one in zip(times, fields, strict=True))
    things: dict[str, tuple[Thing, ...]] = {
        "questions": (),
        "dates": (Thing(second, "", 10.0, 12.0, {"date": "2027-04-10"}),),
    }
    return TrueFilm("film", "film.wav", True, (first, second), statements, things)


FITTED = Statement("done", "", part="forks", task="fit", build="7", start=0.0, end=4.5)
WISHED = Statement(
    "asked for", "", part="fuel tank", finish="green", said_by="customer", build="7", start=4.5, end=10.0
)


def statement_scores(film: TrueFilm, found: list[Statement], vocabulary: Vocabulary) -> dict[str, float | None]:
    sheet = Sheet()
    score_statements(film, found, vocabulary, sheet)
    return {name: measure.value for (_, name), measure in sheet.measures.items()}


def test_what_is_all_right_scores_all_and_optional_ones_may_be_missing(film: TrueFilm, vocabulary: Vocabulary) -> None:
    scores = statement_scores(film, [FITTED, WISHED], vocabulary)
    assert {value for name, value in scores.items() if "wrong" not in name and "open" not in name} == {1.0}


@pytest.mark.parametrize(
    ("found", "lowered"),
    [
        ([FITTED], {"slots: recall", "slots: F1", "whole statements: recall", "whole statements: F1", "found at all"}),
        (
            [FITTED, WISHED, replace(FITTED, part="wheels", task=None)],
            {"slots: precision", "slots: F1", "whole statements: precision", "whole statements: F1"},
        ),
        (
            [replace(FITTED, status="planned"), WISHED],
            {
                "slots: precision",
                "slots: recall",
                "slots: F1",
                "whole statements: precision",
                "whole statements: recall",
            }
            | {"whole statements: F1", "status right"},
        ),
        ([FITTED, replace(WISHED, build=None)], {"build right"}),
        ([FITTED, replace(WISHED, start=14.0, end=20.0)], None),
    ],
    ids=["missed", "too many", "wrong status", "build left open", "said at another time"],
)
def test_each_kind_of_error_costs_its_own_measures(
    film: TrueFilm, vocabulary: Vocabulary, found: list[Statement], lowered: set[str] | None
) -> None:
    scores = statement_scores(film, found, vocabulary)
    less = {
        name.split(" (")[0].removesuffix(", of those found")
        for name, value in scores.items()
        if "wrong" not in name and "open" not in name and value != 1.0
    }
    if lowered is None:
        assert {"whole statements: precision", "whole statements: recall", "found at all"} <= less
    else:
        assert less == lowered


def test_a_list_means_any_and_a_tilde_in_it_empty_as_well(film: TrueFilm, vocabulary: Vocabulary) -> None:
    assert statement_scores(film, [replace(FITTED, task=None), WISHED], vocabulary)["slots: F1"] == 1.0
    wrong = statement_scores(film, [replace(FITTED, task="paint"), WISHED], vocabulary)
    assert wrong["slots: precision"] == 6 / 7  # three and four slots are filled, one of them wrongly
    assert wrong["slots: recall"] == 1.0


def test_statements_beyond_the_truth_are_not_wrong_where_it_is_not_complete(
    film: TrueFilm, vocabulary: Vocabulary
) -> None:
    more = [FITTED, WISHED, replace(FITTED, part="wheels", task=None)]
    assert statement_scores(replace(film, complete=False), more, vocabulary)["whole statements: precision"] == 1.0


def test_topics_count_cuts_and_builds(film: TrueFilm) -> None:
    sheet = Sheet()
    build = Segment(0.0, 10.5, 0, 1, "", Subject("build", "7"), "7")
    score_topics(film, [build, Segment(10.5, 12.0, 2, 2, "", Subject("shop"))], sheet)
    values = {name: measure.value for (_, name), measure in sheet.measures.items()}
    assert values["where they begin: F1"] == 1.0
    assert (values["build right"], values["about no build, and tied to none"]) == (1.0, 1.0)
    sheet = Sheet()
    score_topics(film, [replace(build, end=12.0, build="9")], sheet)
    values = {name: measure.value for (_, name), measure in sheet.measures.items()}
    assert values["where they begin: recall"] == 0.0
    assert (values["build wrong"], values["about no build, and tied to none"]) == (1.0, 0.0)


def test_dates_count_by_day_and_time(film: TrueFilm) -> None:
    found = [Event("open day", 10.0, 12.0, "2027-04-10"), Event("open day", 0.0, 2.0, "2027-04-10")]
    sheet = Sheet()
    score_dates(film, found, sheet)
    assert sheet.measures["things said", "dates: recall"].value == 1.0
    assert sheet.measures["things said", "dates: precision"].value == 0.5


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("They're £49.99, the 3rd.", "theyre forty nine pounds ninety nine the third"),
        ("its M O T, led", "its mot led"),
        ("I had a clip-on", "i had a clip on"),
        ("7.5 mm or 1,200", "seven point five mm or one thousand two hundred"),
        ("Mr. Tate’s", "mister tates"),
    ],
)
def test_words_are_brought_to_one_form(written: str, words: str) -> None:
    assert " ".join(normalise(written)) == words


def test_word_errors_count_for_the_topic_they_fall_in(film: TrueFilm) -> None:
    sheet = Sheet()
    heard = "we've fitted forks he wants a grey tank good bye"
    score_words(film, [Sentence(0.0, 12.0, heard, heard)], sheet)
    measure = sheet.measures["hearing", "word errors, as heard"]
    assert measure.counts == {"film/one": [2.0, 9.0], "film/two": [2.0, 1.0]}  # "the", "green"; one word became two


def test_intervals_hold_the_value_and_widen_with_fewer_units() -> None:
    few, many = Measure("", ""), Measure("", "")
    for number in range(200):
        many.add(str(number), number % 4 != 0)
        if number < 12:
            few.add(str(number), number % 4 != 0)
    (few_low, few_high), (low, high) = few.interval() or (0, 0), many.interval() or (0, 0)
    assert few.value == many.value == 0.75
    assert few_low < low < 0.75 < high < few_high
    assert high - low == pytest.approx(2 * 1.96 * (0.75 * 0.25 / 200) ** 0.5, rel=0.15)  # the normal approximation


def test_the_table_has_a_column_for_each_and_a_dash_where_nothing_is_measured() -> None:
    one, other = Sheet(), Sheet()
    one.measure("step", "name").add("unit", 1, 2)
    other.measure("step", "other").add("unit", 0, 0)
    rows = [[cell.strip() for cell in line.split("|")[3:5]] for line in table({"a": one, "b": other}).splitlines()[2:]]
    assert rows == [["50.0 of 2", "-"], ["-", "-"]]


def test_the_demos_words_lie_within_their_topics_in_order() -> None:
    for film in load_films():
        words = list(words_with_times(film))
        times = [time for _, start, end in words for time in (start, end)]
        assert times == sorted(times)
        assert " ".join(word for word, _, _ in words) == " ".join(topic.text for topic in film.topics)
        for thing in (*film.statements, *film.things["promises"]):
            assert thing.topic.start <= thing.start < thing.end <= thing.topic.end
