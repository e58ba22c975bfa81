"""Takes out of quoted words what belongs to the customers: names, registrations, VINs, telephone numbers, addresses."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from diaryidx.builds.vin import plain_vin
from diaryidx.builds.wishes import shipped_vocabulary
from diaryidx.builds.word_lists import word_list
from diaryidx.records import Build
from diaryidx.vocabulary.loader import everyday_words

_TITLES = "|".join(word_list("titles"))
_MAIL = re.compile(r"[^\s@]+@[^\s@]+\.[a-z]{2,}", re.IGNORECASE)
_PHONE = re.compile(r"(?<![\w.])\+?(?:\d[ ()/.-]{0,2}){8,}\d(?!\w)")
_DIGIT_WORDS = "|".join((*word_list("ones")[:10], *word_list("zeros"), "double", "treble", "triple"))
#: A telephone number read out: nothing else on film has so many digits in a row (common practice, no source).
_SPOKEN_PHONE = re.compile(rf"\b(?:(?:{_DIGIT_WORDS})[ ,-]+){{6,}}(?:{_DIGIT_WORDS})\b", re.IGNORECASE)
_SHORTEST_NUMBER = 4


def without_private(text: str, builds: Iterable[Build]) -> str:
    """A quoted text without customers' names, registrations, VINs, telephone numbers and e-mail addresses.

    Whole names and surnames are taken out wherever they stand, first names unless they are everyday or trade words:
    engines hear "will" and "mark" in every second sentence.
    """
    text = _SPOKEN_PHONE.sub("[number]", _PHONE.sub("[number]", _MAIL.sub("[address]", text)))
    for build in builds:
        for name in _customer_names(build.customer or ""):
            pattern = rf"\b(?:(?:{_TITLES})\.?\s+)?{re.escape(name)}(?!\w)"
            text = re.sub(pattern, "the customer", text, flags=re.IGNORECASE)
        for number in (build.registration, build.vin and plain_vin(build.vin)):
            signs = re.sub(r"[\W_]", "", number or "")
            if len(signs) >= _SHORTEST_NUMBER:
                spelled = r"[\W_]*".join(map(re.escape, signs))
                text = re.sub(rf"(?<!\w){spelled}(?!\w)", "[number]", text, flags=re.IGNORECASE)
    return text


def _customer_names(customer: str) -> Iterator[str]:
    """The longest form first, so that no half of a name stays."""
    words = [word for word in re.findall(r"[^\W\d_]+(?:['’-][^\W\d_]+)*", customer)
             if not re.fullmatch(_TITLES, word.lower())]  # fmt: skip
    if len(words) > 1:
        yield " ".join(words)
    if words and len(words[-1]) > 2:
        yield words[-1]
    for word in words[:-1]:
        everyday = word.lower() in everyday_words() or word.lower() in shipped_vocabulary().phrases
        if len(word) > 2 and not everyday:
            yield word
