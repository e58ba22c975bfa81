"""Sentences with their numbers written as people write them; what was heard stays beside them.

Writing a number down is no repair: nothing was misheard, so no Repair tells of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from diaryidx.records import Sentence
from diaryidx.transcript.numbers import write_quantities
from diaryidx.vocabulary.loader import Vocabulary, find_terms


def write_figures(sentence: Sentence, vocabulary: Vocabulary, job_numbers: frozenset[str]) -> Sentence:
    """The sentence with its numbers and measures written: "120/70-17", "£39.99", "47 Nm", "job 2304".

    Names and parts with a number in them stay as they are, and so does what a person has put right.

    Arguments:
        sentence: its ``text`` is read and written anew; writing twice changes nothing.
        vocabulary: its terms are left alone; its currency is that of prices which name none.
        job_numbers: those of the job book.
    """

    def kept(text: str) -> list[tuple[int, int]]:
        return [*((start, end) for start, end, _ in find_terms(vocabulary, text)), *_put_right(sentence)]

    text = write_quantities(sentence.text, currency=vocabulary.currency, job_numbers=job_numbers, keep=kept)
    return sentence if text == sentence.text else replace(sentence, text=text)


def _put_right(sentence: Sentence) -> Iterator[tuple[int, int]]:
    for repair in sentence.repairs:
        start = sentence.text.find(repair.meant)
        while start >= 0:
            yield start, start + len(repair.meant)
            start = sentence.text.find(repair.meant, start + 1)
