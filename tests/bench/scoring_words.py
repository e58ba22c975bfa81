"""Word errors: what was heard against what was said, after the same normaliser on both sides.

The normaliser: lower case; numbers in digits become words (num2words, British); sums of money read "forty nine pounds
ninety nine"; "Mr" and the like are spelt out; apostrophes vanish, every other mark is a space; letters spelt one by one
("M O T") become one word. Nothing else: spellings, compounds ("side stand", "sidestand") and hesitations are scored as
they are.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence

import jiwer
from num2words import num2words  # type: ignore[import-untyped]

from diaryidx.records import Sentence
from diaryidx.transcript.numbers import write_quantities
from tests.bench.scoring_measures import Sheet
from tests.bench.scoring_truth import TrueFilm

_TITLES = {"mr": "mister", "mrs": "missus", "dr": "doctor", "st": "saint"}
_MONEY = re.compile(r"([£$€])(\d[\d,]*)(?:\.(\d\d))?")
_CURRENCIES = {"£": "pounds", "$": "dollars", "€": "euros"}
_NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?(?:st|nd|rd|th)?\b|\d[\d,]*(?:\.\d+)?")
_SPELT = re.compile(r"(?<!\S)[a-z](?: [a-z])+(?!\S)")
_SHOWN = 3  # words before and after an error in the list of errors


def normalise(text: str) -> list[str]:
    """A text as the words that are compared."""
    text = unicodedata.normalize("NFKC", text).lower().replace("’", "'")
    text = _MONEY.sub(lambda found: f"{found[2]} {_CURRENCIES[found[1]]} {found[3] or ''}", text)
    text = _NUMBER.sub(lambda found: f" {_number_in_words(found[0])} ", text)
    text = re.sub(r"[^\w\s]|_", " ", text.replace("'", ""))
    text = " ".join(_TITLES.get(word, word) for word in text.split())
    return _SPELT.sub(_joined, text).split()


def _number_in_words(digits: str) -> str:
    ordinal = re.fullmatch(r"(.*\d)(?:st|nd|rd|th)", digits)
    plain = (ordinal[1] if ordinal else digits).replace(",", "").rstrip(".")
    value = float(plain) if "." in plain else int(plain)
    return str(num2words(value, lang="en_GB", to="ordinal" if ordinal and "." not in plain else "cardinal"))


def _joined(found: re.Match[str]) -> str:
    """Letters spelt one by one as one word; "a" and "I" beside each other are words."""
    letters = found[0].split()
    return found[0] if set(letters) <= {"a", "i", "o"} else "".join(letters)


def score_words(film: TrueFilm, sentences: Sequence[Sentence], sheet: Sheet) -> None:
    """Word errors of one film, as heard and as repaired; each error counts for the topic in which it falls.

    As repaired, numbers are written in figures, so those of what was said are written in the same way first.
    """
    for name, heard, write in (
        ("word errors, as heard", " ".join(one.heard for one in sentences), str),
        ("word errors, as repaired", " ".join(one.text for one in sentences), write_quantities),
    ):
        said = [(word, topic.name) for topic in film.topics for word in normalise(write(topic.text))]
        measure = sheet.measure("hearing", name)
        for _, topic in said:
            measure.add(topic, 0.0)
        for topic, errors, shown in _errors(said, normalise(heard)):
            measure.add(topic, errors, 0.0)
            sheet.errors[name].append(f"{topic}: {shown}")


def _errors(said: Sequence[tuple[str, str]], heard: Sequence[str]) -> list[tuple[str, int, str]]:
    """The stretches that differ: topic, word errors, and what they are."""
    words = [word for word, _ in said]
    aligned = jiwer.process_words(" ".join(words), " ".join(heard))
    found = []
    for chunk in aligned.alignments[0]:
        if chunk.type == "equal":
            continue
        first, last, wrong = chunk.ref_start_idx, chunk.ref_end_idx, heard[chunk.hyp_start_idx : chunk.hyp_end_idx]
        around = [*words[max(first - _SHOWN, 0) : first], f"[{' '.join(words[first:last])} -> {' '.join(wrong)}]"]
        topic = said[min(first, len(said) - 1)][1]
        shown = " ".join([*around, *words[last : last + _SHOWN]])
        found.append((topic, max(last - first, len(wrong)), shown))
    return found
