"""Words that were put right, as a page marks them."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from diaryidx.records import Repair
from diaryidx.site.repairs import Stretch, marked, told
from diaryidx.site.wording import sentence_words

LUDO, LOOM = Repair("lieu de", "Ludo", 1.0), Repair("lube", "loom", 0.6)


def test_what_is_meant_is_marked_where_it_stands() -> None:
    assert marked("the loom is with Ludo", (LOOM, LUDO)) == (
        Stretch("The "), Stretch("loom", "lube"), Stretch(" is with "), Stretch("Ludo", "lieu de"),
    )  # fmt: skip


def test_a_first_word_with_its_capital_is_marked_too() -> None:
    assert marked("loom, then loom", (LOOM, LOOM)) == (
        Stretch("Loom", "lube"), Stretch(", then "), Stretch("loom", "lube"),
    )  # fmt: skip


def test_what_a_passage_leaves_out_is_passed_over() -> None:
    assert marked("the tank", (LUDO,)) == (Stretch("The tank"),)


def test_each_repair_is_told_once_with_how_sure_it_is() -> None:
    assert told((LUDO, LOOM, LUDO)) == ["“lieu de” is taken for “Ludo” (sure)", "“lube” is taken for “loom” (we think)"]


@given(st.text(), st.lists(st.builds(Repair, st.text(), st.text(min_size=1), st.just(0.5)), max_size=4))
def test_no_word_is_lost_whatever_the_text(text: str, repairs: list[Repair]) -> None:
    assert "".join(stretch.words for stretch in marked(text, repairs)) == sentence_words(text)
