"""A plain-text reply to a customer's question, to paste into a letter."""

from __future__ import annotations

import re
from collections.abc import Sequence

from diaryidx.builds.private import without_private
from diaryidx.builds.wishes import stems
from diaryidx.builds.wording import said_date
from diaryidx.records import Answer, Build, Passage
from diaryidx.wording import DOUBTFUL_BELOW, clock

#: What is quoted of a passage, in words; the rest is a click away.
LONGEST_QUOTE = 60
MOST_QUOTED = 2
#: A second passage is quoted if it is at least this sure, as a share of the first (our own choice).
LEAST_AS_SURE = 0.9
_SENTENCE_END = re.compile(r"(?<=[.?!…])\s+")


def reply(question: str, answer: Answer, shop_name: str, builds: Sequence[Build] = ()) -> str:
    """Write a short reply: where on film it is answered, the words, and the cautions.

    Doubtful passages are left out. When nothing is left, the reply says that it is not on film yet.

    :param question: as the customer asked it; it is quoted so that the reply stands alone.
    :param builds: the job book; what belongs to its customers is taken out of the quoted words.
    """
    asked = " ".join(question.split())
    lines = ["Hello,", "", f"you asked: “{asked}”", ""]
    passages = worth_quoting(answer.answers)
    if answer.answered and passages:
        lines += ["Here is what we said about it on film:", ""]
        for passage in passages:
            lines += [*_quoted(passage, builds), ""]
    else:
        lines += ["We have not answered this on film yet.", ""]
    if answer.cautions:
        lines += ["Please note:", *(f"- {caution}" for caution in answer.cautions), ""]
    return "\n".join([*lines, "Kind regards", shop_name]) + "\n"


def worth_quoting(passages: Sequence[Passage]) -> list[Passage]:
    """The passages that a reply quotes: the first that is not doubtful, and another only if it adds something.

    It adds something when it is about as sure and most of its telling words are not in the first.
    """
    sure = [one for one in passages if one.certainty >= DOUBTFUL_BELOW]
    if not sure:
        return []
    first = set(stems(sure[0].text))
    others = [one for one in sure[1:] if one.certainty >= LEAST_AS_SURE * sure[0].certainty]
    adding = [one for one in others if len(set(stems(one.text)) - first) > len(set(stems(one.text))) / 2]
    return [sure[0], *adding][:MOST_QUOTED]


def _quoted(passage: Passage, builds: Sequence[Build]) -> list[str]:
    return [
        f"“{shortened(without_private(passage.text, builds))}”",
        f"({passage.title}, {said_date(passage.said_on)}, from {clock(passage.start)})",
    ]


def shortened(text: str, words: int = LONGEST_QUOTE) -> str:
    """The first whole sentences of a text that are together not longer; of a first one that is, its first words.

    An ellipsis stands where a sentence was cut.
    """
    kept: list[str] = []
    for sentence in _SENTENCE_END.split(text.strip()):
        if len(" ".join([*kept, sentence]).split()) > words:
            break
        kept.append(sentence)
    return " ".join(kept) or " ".join(text.split()[:words]) + "…"
