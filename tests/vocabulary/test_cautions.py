"""Work that can hurt always carries its cautions."""

from __future__ import annotations

import pytest

from diaryidx.vocabulary import Vocabulary, cautions_for, load_vocabulary
from diaryidx.vocabulary.loader import SAFETY_CLASSES


@pytest.fixture(scope="module")
def vocabulary() -> Vocabulary:
    return load_vocabulary()


def test_brakes_carry_their_own_cautions_first_and_the_general_ones_after(vocabulary: Vocabulary) -> None:
    texts = cautions_for(["brake pads"], vocabulary)
    assert any("pump the lever" in text for text in texts)
    assert [text for text in texts if text.startswith("Brakes")] == texts[: len(texts) - 3]
    assert any("service manual" in text for text in texts[-3:])
    assert any("qualified technician" in text for text in texts[-3:])
    assert any("road-legality" in text for text in texts[-3:])


def test_terms_and_their_names_give_the_same(vocabulary: Vocabulary) -> None:
    term = vocabulary.term("wiring loom", "PART")
    assert term is not None
    assert cautions_for([term], vocabulary) == cautions_for(["Wiring loom"], vocabulary)


def test_what_cannot_hurt_carries_none(vocabulary: Vocabulary) -> None:
    assert cautions_for(["seat", "paint", "no such thing"], vocabulary) == []


def test_no_caution_is_said_twice(vocabulary: Vocabulary) -> None:
    texts = cautions_for(list(vocabulary.terms), vocabulary)
    assert len(texts) == len(set(texts))


def test_every_safety_class_has_a_caution(vocabulary: Vocabulary) -> None:
    for name in SAFETY_CLASSES:
        assert vocabulary.cautions[name]
