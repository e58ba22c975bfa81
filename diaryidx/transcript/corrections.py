"""The shop's own corrections (taught, or `heard:` in words.yaml) applied to a sentence; what was heard stays beside it.

Whole words only, in any case and with whatever marks an engine sets between them: "bracket water" is also
"Bracket, water" and "bracket-water". An ending such as 's stays; no other form of either word is invented.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache

from diaryidx.records import Repair, Sentence
from diaryidx.vocabulary.loader import Vocabulary
from diaryidx.vocabulary.spoken_words import BETWEEN_WORDS, heard_key


def apply_corrections(sentence: Sentence, vocabulary: Vocabulary) -> Sentence:
    """Replace misheard stretches by what is meant.

    Arguments:
        sentence: ``heard`` is read, ``text`` is written anew from it, so that applying twice changes nothing.
        vocabulary: its ``heard`` maps misheard words, as `heard_key` makes them, to meant ones.
    A pair of the same words says that they were heard right; ``transcript.repair`` leaves them alone.

    Returns: the sentence with ``text`` repaired and one Repair (certainty 1.0: a person's word) for each replacement.
    """
    if not vocabulary.heard:
        return sentence if sentence.text == sentence.heard else replace(sentence, text=sentence.heard, repairs=())
    repairs: list[Repair] = []

    def meant(match: re.Match[str]) -> str:
        heard = match.group()
        right = vocabulary.heard.get(heard_key(heard), heard)
        if right == heard_key(heard):  # a person says that it was heard right
            return heard
        if right != heard:
            repairs.append(Repair(heard, right, 1.0))
        return right

    text = _pattern(tuple(vocabulary.heard)).sub(meant, sentence.heard)
    return replace(sentence, text=text, repairs=tuple(repairs))


@lru_cache(maxsize=8)
def _pattern(misheard: tuple[str, ...]) -> re.Pattern[str]:
    """One pattern for all misheard phrases, the longest first."""
    phrases = sorted(misheard, key=len, reverse=True)
    alternatives = (
        BETWEEN_WORDS.join(re.escape(word).replace("'", "['’]") for word in phrase.split()) for phrase in phrases
    )
    return re.compile(rf"(?<!\w)(?<!\w['’])(?:{'|'.join(alternatives)})(?!\w)", re.IGNORECASE)
