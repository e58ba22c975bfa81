"""Questions in people's own words to an invented shop whose films the product read itself (`withy_bank.yaml`).

The least shares lie a little below what was reached, so that a change that loses answers fails. Of the report half,
which the ranking was not improved with, the least is what must hold for any shop.
"""

from __future__ import annotations

import time
from statistics import median

import pytest
from sqlite_utils import Database
from withy_bank import Score, questions, save_shop, score_half, shop_vocabulary

from diaryidx.faq.search import answer_in_short, ask
from diaryidx.records import Reading, Segment, Sentence, Subject
from diaryidx.store import reading, writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from diaryidx.vocabulary.loader import Vocabulary

LEAST = {
    "working": {"right passage first": 0.85, "not answered wrongly": 0.9, "left unanswered": 0.85,
                "no caution too many": 0.9},
    "report": {"right passage first": 0.55, "not answered wrongly": 0.8, "left unanswered": 0.7,
               "no caution too many": 0.75},
}  # fmt: skip


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Database:
    db = open_store(tmp_path_factory.mktemp("withy") / "shop.db")
    save_shop(db)
    return db


@pytest.fixture(scope="module")
def words() -> Vocabulary:
    return shop_vocabulary()


@pytest.fixture(scope="module")
def scores(shop: Database, words: Vocabulary) -> dict[str, Score]:
    return {half: score_half(shop.conn, words, half) for half in LEAST}


@pytest.mark.parametrize(("half", "measure"), [(half, measure) for half in LEAST for measure in LEAST[half]])
def test_enough_questions_are_answered_right_or_left_alone(scores: dict[str, Score], half: str, measure: str) -> None:
    assert scores[half].share(measure) >= LEAST[half][measure], scores[half].errors


@pytest.mark.parametrize("half", LEAST)
def test_cautions_are_never_missing_where_work_can_hurt(scores: dict[str, Score], half: str) -> None:
    assert scores[half].share("cautions there") == 1.0, scores[half].errors


def test_what_is_quoted_is_whole_sentences_that_were_said(shop: Database, words: Vocabulary) -> None:
    said = {row[0].lower() for row in shop.conn.execute("select text from sentences")}
    for question in questions()["working"]:
        for passage in ask(shop.conn, question["ask"], words).answers:
            sentences = passage.text.split(". ")
            assert 1 <= len(sentences) <= 3 and passage.text[0].isupper() and passage.text[-1] in ".?!…"
            for one in sentences:
                spoken = one.rstrip(".").lower()
                assert any(text.endswith(spoken) for text in said), spoken


def test_a_tutorial_in_short_begins_with_what_to_do(shop: Database, words: Vocabulary) -> None:
    entry = next(one for one in reading.entries(shop.conn, recording_id="fork-oil") if "How to" in one.question)
    assert answer_in_short(shop.conn, entry, words).startswith("Put the bike on a paddock stand")


def test_a_question_to_ten_thousand_sentences_is_answered_at_once(shop: Database, words: Vocabulary) -> None:
    texts = [row[0] for row in shop.conn.execute("select text from sentences order by id")]
    for film in range(50):
        said = [Sentence(4.0 * at, 4.0 * at + 3.5, text, text) for at, text in enumerate(texts)]
        topics = [Segment(said[at].start, said[min(at + 9, len(said) - 1)].end, at, min(at + 9, len(said) - 1), "topic",
                          Subject("build")) for at in range(0, len(said), 10)]  # fmt: skip
        row = RecordingRow(f"more{film}", f"more{film}.mp4", 1, 1, f"hash{film}", "More", "diary", "2023-01-05",
                           "file name", "2023-01", said[-1].end, True)  # fmt: skip
        writing.save_recording(shop, row)
        found = Reading("diary", (), tuple(topics))
        writing.save_reading(shop, row.id, said, found, reading_key="key", engine="invented")
    assert shop.conn.execute("select count(*) from sentences").fetchone()[0] > 10_000
    seconds = []
    for question in questions()["working"]:
        began = time.process_time()
        ask(shop.conn, question["ask"], words)
        seconds.append(time.process_time() - began)
    print(f"median {median(seconds) * 1000:.0f} ms, slowest {max(seconds) * 1000:.0f} ms")
    assert median(seconds) < 0.1  # twice what is wanted, so that a busy machine does not fail it
