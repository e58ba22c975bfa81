"""How a sentence is explained, and how the pipeline is made up."""

from __future__ import annotations

import json
from dataclasses import asdict
from html.parser import HTMLParser

from spacy.language import Language

from diaryidx.language.explaining import explain
from diaryidx.language.explaining_page import explanation_page
from diaryidx.language.pipeline import COMPONENTS, build_pipeline
from diaryidx.language.reading import LONGEST_TEXT
from diaryidx.vocabulary import Vocabulary


def test_an_explanation_shows_terms_cues_clauses_statements_and_rules(nlp: Language, vocabulary: Vocabulary) -> None:
    told = explain(nlp, "he asked whether we could do the rims in gold", vocabulary)
    assert [(one.label, one.text) for one in told.mentions] == [("PART", "rims"), ("FINISH", "gold")]
    assert {"kind": "asked", "text": "he asked", "start": 0, "end": 8} in told.cues
    assert [one["text"] for one in told.clauses] == ["he asked", "whether we could do the rims in gold"]
    assert told.clauses[1]["scopes"]["asked"] == "he asked"
    assert [(one.part, one.finish, one.status) for one in told.statements] == [("rim", "gold", "asked for")]
    assert told.rules == ("wish as reported",)


def test_an_explanation_tells_what_each_cue_reaches(nlp: Language, vocabulary: Vocabulary) -> None:
    told = explain(nlp, "He said the tank's not bad, but we've painted the seat.", vocabulary)
    reached = {(one["kind"], one["cue"]): one["text"] for one in told.scopes}
    assert reached["reported", "he said"].startswith("He said") and "seat" not in reached["reported", "he said"]


def test_an_explanation_is_drawn_as_a_page_that_needs_no_other(nlp: Language, vocabulary: Vocabulary) -> None:
    text = "he asked whether we could do the <b>rims</b> in gold & <script>alert(1)</script>"
    page = explanation_page(explain(nlp, text, vocabulary))
    told = _Page()
    told.feed(page)
    assert told.tags.isdisjoint({"script", "b", "link", "img", "iframe"})
    assert {"rim", "gold", "asked for", "wish as reported"} <= set(told.cells)
    assert "http" not in page.replace("http://www.w3.org", "")
    nothing = explanation_page(explain(nlp, "good morning", vocabulary))
    assert "Nothing is stated" in nothing


class _Page(HTMLParser):
    """The tags of a page and the texts of its table's cells."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.cells: list[str] = []
        self._in_cell = False

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.tags.add(tag)
        self._in_cell = tag == "td"

    def handle_data(self, data: str) -> None:
        if self._in_cell:
            self.cells.append(data)


def test_an_explanation_is_plain_data(nlp: Language, vocabulary: Vocabulary) -> None:
    told = explain(nlp, "the tank's off for paint until friday", vocabulary)
    assert json.loads(json.dumps(asdict(told)))["statements"][0]["part"] == "fuel tank"


def test_the_pipeline_is_a_list_of_components_that_say_what_they_need(nlp: Language) -> None:
    assert tuple(nlp.pipe_names) == COMPONENTS
    assert nlp.analyze_pipes()["problems"] == {name: [] for name in COMPONENTS}


def test_components_can_be_switched_off_and_run_alone(vocabulary: Vocabulary) -> None:
    nlp = build_pipeline(vocabulary)
    with nlp.select_pipes(enable=["term_matcher"]):
        doc = nlp("the front rim")
    assert [one.canonical for one in doc._.terms] == ["front", "rim"]
    assert [(span.text, span.label_) for span in doc.spans["terms"]] == [("front", "SIDE"), ("rim", "PART")]


def test_half_a_character_in_a_sentence_is_no_crash(nlp: Language, vocabulary: Vocabulary) -> None:
    told = explain(nlp, "the tank \ud800 is painted", vocabulary)
    told.text.encode()
    assert [one.part for one in told.statements] == ["fuel tank"]


def test_what_was_not_read_is_counted_and_a_page_of_many_cues_stays_small(
    nlp: Language, vocabulary: Vocabulary
) -> None:
    told = explain(nlp, "if " * 20_000 + "the seat is painted black", vocabulary)
    assert told.left_out == 60_025 - LONGEST_TEXT
    assert len(explanation_page(told)) < 3_000_000
