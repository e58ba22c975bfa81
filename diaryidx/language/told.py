"""A sentence as it was told, with all that the pipeline found in it: what the readers of discourse share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from diaryidx.language.found import Clause, Found
from diaryidx.records import Sentence

if TYPE_CHECKING:
    from spacy.tokens import Doc

BIKE_LABELS = ("MAKE", "MODEL", "NICKNAME", "JOB")


@dataclass(frozen=True)
class Told:
    """One sentence: its place in the recording, its words in lower case, its terms and its clauses."""

    place: int
    sentence: Sentence
    doc: Doc
    words: list[str]
    terms: list[Found]
    clauses: list[Clause]

    @property
    def text(self) -> str:
        """The sentence's text, as repaired."""
        return self.sentence.text

    def labelled(self, *labels: str) -> list[Found]:
        """The terms with one of these labels."""
        return [one for one in self.terms if one.label in labels]

    def quote(self, start: int, end: int) -> str:
        """The text of the words ``start`` to ``end`` (not included), as it stands in the sentence."""
        places = self.doc.user_data["places"]
        if not places or start >= end:
            return ""
        return self.text[places[start][0] : places[min(end, len(places)) - 1][1]]

    def has_kind(self, *kinds: str) -> bool:
        """Whether a cue of one of these kinds reaches any of its clauses."""
        return any(not clause.kinds.isdisjoint(kinds) for clause in self.clauses)


def span_text(told: Sequence[Told]) -> str:
    """The texts of sentences that follow each other, as one."""
    return " ".join(one.text for one in told)


_FIRST_PERSON = ("i", "i'm", "i've", "i'll", "i'd")


def capital(text: str) -> str:
    """With a capital at the start and "I" for "i"; engine text has neither."""
    text = " ".join("I" + word[1:] if word in _FIRST_PERSON else word for word in text.split(" "))
    return text[:1].upper() + text[1:]
