from __future__ import annotations

from dataclasses import replace

from sqlite_utils import Database

from diaryidx.faq.reply import reply, shortened, worth_quoting
from diaryidx.faq.search import ask
from diaryidx.records import Answer, Build, Passage
from diaryidx.vocabulary.loader import Vocabulary


def test_a_reply_names_film_day_and_minute_quotes_and_warns(films: Database, vocabulary: Vocabulary) -> None:
    question = "How do I change\nthe front brake pads?"
    text = reply(question, ask(films.conn, question, vocabulary), "Fell Road Cycles")
    assert "you asked: “How do I change the front brake pads?”" in text
    assert "(Changing pads, 10 January 2025, from 0:00)" in text
    assert "Undo the two caliper bolts" in text
    assert "service manual" in text and "qualified technician" in text
    assert text.endswith("Kind regards\nFell Road Cycles\n")


def test_what_is_not_answered_is_said_so_with_its_cautions(films: Database, vocabulary: Vocabulary) -> None:
    question = "how do I fit a wiring loom"
    text = reply(question, ask(films.conn, question, vocabulary), "Fell Road Cycles")
    assert "not answered this on film yet" in text
    assert "wiring loom is in" not in text
    assert "Electrics" in text


def test_doubtful_passages_are_left_out_and_long_ones_shortened() -> None:
    sure = Passage("a", "A film", 65.0, 90.0, "word " * 100, "2025-01-10", 0.9, "why")
    doubtful = Passage("b", "B film", 5.0, 9.0, "perhaps this", "2025-01-10", 0.4, "why")
    text = reply("q", Answer(True, (doubtful, sure), ()), "Shop")
    assert "perhaps this" not in text and "…”" in text and "from 1:05" in text
    assert "Please note" not in text


def test_whole_sentences_are_quoted_and_none_is_cut_in_the_middle() -> None:
    long = "Undo the caps first. " + "Then " + "slowly " * 70 + "tip it out."
    assert shortened(long) == "Undo the caps first."
    assert shortened("Two. Short ones.") == "Two. Short ones."


def test_another_passage_is_quoted_only_if_it_adds_something() -> None:
    first = Passage("a", "A", 0, 9, "Adjust the chain every five hundred miles.", None, 0.8, "why")
    same = Passage("b", "B", 0, 9, "The chain wants adjusting every five hundred miles.", None, 0.8, "why")
    more = Passage("c", "C", 0, 9, "Measure slack halfway between sprockets with somebody aboard.", None, 0.8, "why")
    less_sure = replace(more, certainty=0.55)
    assert worth_quoting([first, same, more]) == [first, more]
    assert worth_quoting([first, same, less_sure]) == [first]
    assert worth_quoting([replace(first, certainty=0.4)]) == []


def test_a_reply_names_no_customer_and_no_registration() -> None:
    said = Passage(
        "a", "A film", 5.0, 9.0, "Torvald asked if his AB12 CDE could have one too", "2025-01-10", 0.9, "why"
    )
    build = Build("7", customer="Torvald Brisk", registration="AB12 CDE")
    text = reply("q", Answer(True, (said,), ()), "Shop", [build])
    assert "Torvald" not in text and "AB12" not in text and "could have one too" in text
