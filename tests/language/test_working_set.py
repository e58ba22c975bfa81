"""Every sentence of the working set is understood as its annotation says: statements and found things."""

from __future__ import annotations

from pathlib import Path

import pytest
from checkable_set import Case, load_set, read_case, shown, slots_of
from spacy.language import Language

from diaryidx.vocabulary import Vocabulary

CASES = load_set(Path(__file__).with_name("working_set.yaml"))


def test_the_working_set_is_large_and_speaks_of_every_status() -> None:
    assert len(CASES) >= 120
    assert {dict(one)["status"] for case in CASES for one in case.means} == {
        "asked for", "planned", "in progress", "waiting", "done", "ruled out", "earlier work", "usual practice",
    }  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=[case.text[:60] for case in CASES])
def test_a_sentence_means_what_its_annotation_says(nlp: Language, vocabulary: Vocabulary, case: Case) -> None:
    statements, mentions = read_case(nlp, vocabulary, case)
    assert sorted(map(shown, map(slots_of, statements))) == sorted(map(shown, case.means))
    if case.spans is not None:
        assert {(one.start, one.end, one.label) for one in mentions} == set(case.spans)


def test_text_in_capitals_and_typographic_marks_is_understood_alike(nlp: Language, vocabulary: Vocabulary) -> None:
    for case in CASES[:40]:
        other = Case(case.text.replace("'", "’").capitalize(), case.after, case.film, None, case.means)
        first = [slots_of(one) for one in read_case(nlp, vocabulary, case)[0]]
        assert [slots_of(one) for one in read_case(nlp, vocabulary, other)[0]] == first
