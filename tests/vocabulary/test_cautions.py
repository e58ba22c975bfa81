"""Work that can hurt always carries its cautions."""

from __future__ import annotations

import pytest

from diaryidx.vocabulary import Vocabulary, cautions_for, load_vocabulary
from diaryidx.vocabulary.cautions import cautions_for_answer
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


def kinds(texts: list[str]) -> set[str]:
    return {text.split(" - ")[0] for text in texts[:-3]}


@pytest.mark.parametrize(
    ("question", "kind"),
    [("front end wobbles at sixty", "Steering"), ("the clocks are dead", "Electrics"),
     ("my stopping distance got longer", "Brakes"), ("the lever comes right back to the bar", "Brakes"),
     ("it smells of petrol", "Fuel"), ("my chain jumps", "Chain and sprockets"), ("got a puncture", "Wheels"),
     ("can I lower my bike", "Suspension"), ("there is a crack in my frame", "Structure")],
)  # fmt: skip
def test_everyday_words_for_work_that_can_hurt_carry_its_cautions(
    vocabulary: Vocabulary, question: str, kind: str
) -> None:
    assert kind in kinds(cautions_for_answer(question, "", vocabulary))


def test_a_passage_adds_what_it_is_mostly_about_and_not_all_that_it_names(vocabulary: Vocabulary) -> None:
    passage = "undo the caliper and push the brake pads in and mind the tank and the wiring loom and the exhaust"
    assert kinds(cautions_for_answer("how do I change the brake pads", passage, vocabulary)) == {"Brakes"}
    fuel = "take the fuel tap and the fuel filter off the fuel tank"
    assert "Fuel" in kinds(cautions_for_answer("how do I change the brake pads", fuel, vocabulary))


def test_a_harmless_question_carries_none_unless_it_asks_for_work(vocabulary: Vocabulary) -> None:
    assert cautions_for_answer("when is the open day", "it is in may", vocabulary) == []
    assert len(cautions_for_answer("how do I change the clutch", "", vocabulary, is_work=True)) == 3


def test_no_caution_is_said_twice(vocabulary: Vocabulary) -> None:
    texts = cautions_for(list(vocabulary.terms), vocabulary)
    assert len(texts) == len(set(texts))


def test_every_safety_class_has_a_caution(vocabulary: Vocabulary) -> None:
    for name in SAFETY_CLASSES:
        assert vocabulary.cautions[name]
