"""Words that were put right, as a page marks them: what is meant stands in the text, what was heard on demand."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diaryidx.records import Repair
from diaryidx.site.wording import sentence_words
from diaryidx.wording import how_sure


@dataclass(frozen=True, slots=True)
class Stretch:
    """Some words of a quotation; ``heard`` is what was heard in their place, empty where they are as heard."""

    words: str
    heard: str = ""


def marked(text: str, repairs: Iterable[Repair]) -> tuple[Stretch, ...]:
    """A sentence as a quotation reads it, cut where words were put right.

    :param text: the words as they are meant; ``repairs`` those that were made in it, in reading order. One whose words
        are not in the text (a passage may leave them out) is passed over.
    """
    shown = sentence_words(text)
    found: list[Stretch] = []
    place = 0
    for repair in repairs:
        start = shown.lower().find(repair.meant.lower(), place)
        if start < 0 or len(shown.lower()) != len(shown):
            continue
        end = start + len(repair.meant)
        found += [Stretch(shown[place:start]), Stretch(shown[start:end], repair.heard)]
        place = end
    return tuple(stretch for stretch in (*found, Stretch(shown[place:])) if stretch.words)


def told(repairs: Iterable[Repair]) -> list[str]:
    """Each repair in words, with how sure it is, once."""
    lines = (f"“{one.heard}” is taken for “{one.meant}” ({how_sure(one.certainty)})" for one in repairs)
    return list(dict.fromkeys(lines))
