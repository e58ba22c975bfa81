"""The shop's own corrections (`heard:` in words.yaml) applied to a sentence; what was heard stays beside it."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

from diaryidx.records import Repair, Sentence
from diaryidx.vocabulary.loader import Vocabulary


def apply_corrections(sentence: Sentence, vocabulary: Vocabulary) -> Sentence:
    """Replace misheard stretches by what is meant.

    Arguments:
        sentence: ``heard`` is read, ``text`` is written anew from it, so that applying twice changes nothing.
        vocabulary: its ``heard`` maps misheard words to meant ones; whole words only, whatever their case.
    Returns: the sentence with ``text`` repaired and one Repair (certainty 1.0: a person's word) for each replacement.
    """
    if not vocabulary.heard:
        return sentence if sentence.text == sentence.heard else replace(sentence, text=sentence.heard, repairs=())
    repairs: list[Repair] = []

    def meant(match: re.Match[str]) -> str:
        right = vocabulary.heard[" ".join(match.group().lower().replace("’", "'").replace("-", " ").split())]
        repairs.append(Repair(match.group(), right, 1.0))
        return right

    text = _pattern(tuple(vocabulary.heard)).sub(meant, sentence.heard)
    return replace(sentence, text=text, repairs=tuple(repairs))


@lru_cache(maxsize=8)
def _pattern(misheard: tuple[str, ...]) -> re.Pattern[str]:
    """One pattern for all misheard phrases, the longest first; hyphens and any white space count as one space."""
    phrases = sorted(misheard, key=len, reverse=True)
    alternatives = (
        r"[\s-]+".join(re.escape(word).replace("'", "['’]") for word in phrase.split()) for phrase in phrases
    )
    return re.compile(rf"(?<![\w'])(?:{'|'.join(alternatives)})(?!\w)", re.IGNORECASE)
