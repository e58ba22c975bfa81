"""A plain-text reply to a customer's question, to paste into a letter."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.builds.private import without_private
from diaryidx.builds.wording import said_date
from diaryidx.records import Answer, Build, Passage
from diaryidx.wording import DOUBTFUL_BELOW, clock

#: What is quoted of a passage, in words; the rest is a click away.
LONGEST_QUOTE = 60
MOST_QUOTED = 2


def reply(question: str, answer: Answer, shop_name: str, builds: Sequence[Build] = ()) -> str:
    """Write a short reply: where on film it is answered, the words, and the cautions.

    Doubtful passages are left out. When nothing is left, the reply says that it is not on film yet.

    :param question: as the customer asked it; it is quoted so that the reply stands alone.
    :param builds: the job book; what belongs to its customers is taken out of the quoted words.
    """
    asked = " ".join(question.split())
    lines = ["Hello,", "", f"you asked: “{asked}”", ""]
    passages = [passage for passage in answer.answers if passage.certainty >= DOUBTFUL_BELOW][:MOST_QUOTED]
    if answer.answered and passages:
        lines += ["Here is what we said about it on film:", ""]
        for passage in passages:
            lines += [*_quoted(passage, builds), ""]
    else:
        lines += ["We have not answered this on film yet.", ""]
    if answer.cautions:
        lines += ["Please note:", *(f"- {caution}" for caution in answer.cautions), ""]
    return "\n".join([*lines, "Kind regards", shop_name]) + "\n"


def _quoted(passage: Passage, builds: Sequence[Build]) -> list[str]:
    return [
        f"“{shortened(without_private(passage.text, builds))}”",
        f"({passage.title}, {said_date(passage.said_on)}, from {clock(passage.start)})",
    ]


def shortened(text: str, words: int = LONGEST_QUOTE) -> str:
    """The first words of a text, with an ellipsis where something was left out."""
    said = text.split()
    return " ".join(said[:words]) + ("…" if len(said) > words else "")
