"""Takes out of quoted words what belongs to the customers: names, registrations, VINs, telephone numbers, addresses."""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

from diaryidx.builds.wishes import shipped_vocabulary
from diaryidx.builds.word_lists import word_list
from diaryidx.records import Build
from diaryidx.shapes import PRIVATE_FIELDS
from diaryidx.vocabulary.loader import everyday_words

_TITLES = "|".join(word_list("titles"))
_MAIL = re.compile(r"[^\s@]+@[^\s@]+\.[a-z]{2,}", re.IGNORECASE)
_PHONE = re.compile(r"(?<![\w.])\+?(?:\d[ ()/.-]{0,2}){8,}\d(?!\w)")
_DIGIT_WORDS = "|".join((*word_list("ones")[:10], *word_list("zeros"), "double", "treble", "triple"))
#: A telephone number read out: nothing else on film has so many digits in a row (common practice, no source).
_SPOKEN_PHONE = re.compile(rf"\b(?:(?:{_DIGIT_WORDS})[ ,-]+){{6,}}(?:{_DIGIT_WORDS})\b", re.IGNORECASE)
_SHORTEST_NUMBER = 4
_VIN_ENDS = range(5, 17)  # signs of a VIN's end by which people name it
_TAKEN_FOR = str.maketrans("OI", "01")
_WRITTEN_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ø": "oe", "å": "aa"})
_BETWEEN = re.compile("|".join(rf"(?<!\w){re.escape(word)}(?!\w)" for word in word_list("between_customers")), re.I)
_NO_NAMES = frozenset(word_list("no_names"))
#: Fields of plain data that name something else than what is written for people; they lead to films and jobs.
_REFERENCES = frozenset({"recording", "recordings", "id", "file", "path", "address", "job_number", "build", "media"})
#: A VIN may be written in groups; more than this many are no number (our own choice).
_MOST_GROUPS = 8
_NAME = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*")
_SIGNS = re.compile(r"[^\W_]+")
_TAG = re.compile(r"(<[^>]*>)")
_READ_OUT = re.compile(r'(\s(?:title|alt|aria-label|content|value)=")([^"]*)(")')
_TITLE = re.compile(rf"\b(?:{_TITLES})\.?\s+(?=the customer\b)", re.IGNORECASE)


def without_private(text: str, builds: Iterable[Build]) -> str:
    """A quoted text without customers' names, registrations, VINs, telephone numbers and e-mail addresses.

    Whole names and surnames are taken out wherever they stand, first names unless they are everyday or trade words:
    engines hear "will" and "mark" in every second sentence.
    """
    text = _SPOKEN_PHONE.sub("[number]", _PHONE.sub("[number]", _MAIL.sub("[address]", text)))
    return hidden_words(tuple(builds), surnames=True).out_of(text)


def without_owner(build: Build) -> Build:
    """A build as those see it who may not know whose it is."""
    return replace(build, customer=None, registration=None, vin=None)


@lru_cache(maxsize=4)
def hidden_words(builds: tuple[Build, ...], staff: tuple[str, ...] = (), surnames: bool = False) -> HiddenWords:
    """What of a job book must be hidden from those who may not know whose bikes are whose.

    :param staff: the names of the shop's own people.
    :param surnames: whether a surname alone is hidden where it is an everyday word too, as in what leaves the shop.
    """
    own = {_bare(word) for name in staff for word in _NAME.findall(name)}
    full: dict[str, list[tuple[str, ...]]] = {}
    single: set[str] = set()
    titled: set[str] = set()
    for words in (words for build in builds for words in _customers(build.customer or "")):
        if len(words) > 1:
            for order in (words, (*words[1:], words[0]), (words[-1], *words[:-1])):
                full.setdefault(order[0], []).append(order)
        titled.update(part for word in words[-1:] for part in (word, *word.split("-")))
        parts = {part for word in words for part in (word, *word.split("-"))}
        single.update(part for part in parts if len(part) > 2 and part not in own and _stands_alone(part))
        if surnames:
            single.update(word for word in words[-1:] if len(word) > 2 and word not in _NO_NAMES)
    vins = [_signs(build.vin) for build in builds if build.vin]
    ends = {vin[-length:] for vin in vins for length in _VIN_ENDS if len(vin) > length}
    plates = {_signs(build.registration) for build in builds if build.registration}
    numbers = frozenset(number for number in (*plates, *vins, *ends) if len(number) >= _SHORTEST_NUMBER)
    beginnings = frozenset(number[:length] for number in numbers for length in range(1, len(number) + 1))
    longest_first = {key: sorted(set(names), key=len, reverse=True) for key, names in full.items()}
    return HiddenWords(longest_first, frozenset(single), frozenset(titled), numbers, beginnings)


@dataclass(frozen=True)
class HiddenWords:
    """Customers' names and their bikes' numbers, to be taken out of pages and data.

    ``full`` are whole names by their first word, ``single`` names that stand for a customer alone, ``titled`` those
    that do so behind "Mr" or "Mrs", ``numbers`` registrations and VINs, ``beginnings`` all that these begin with. A
    name that is an everyday or trade word ("Black"), or somebody's on the staff, counts only in a whole name or behind
    a title.
    """

    full: dict[str, list[tuple[str, ...]]]
    single: frozenset[str]
    titled: frozenset[str]
    numbers: frozenset[str]
    beginnings: frozenset[str]

    def out_of(self, text: str) -> str:
        """A text without them."""
        if not text or text.isspace():
            return text
        text = self._without_numbers(_MAIL.sub("[address]", text))
        found = list(_NAME.finditer(text))
        pieces, done, place = [], 0, 0
        while place < len(found):
            length = self._name_at(text, found, place)
            if length:
                last = found[place + length - 1]
                possessive = "'s" if re.search(r"['’]s$", last.group(), re.IGNORECASE) else ""
                pieces += [text[done : found[place].start()], f"the customer{possessive}"]
                done = last.end()
            place += length or 1
        return _TITLE.sub("", "".join([*pieces, text[done:]])) if pieces else text

    def out_of_page(self, page: str) -> str:
        """An HTML page without them: its texts and what is read out of its tags, never its addresses."""
        pieces = _TAG.split(page)
        for place, piece in enumerate(pieces):
            if place % 2:
                pieces[place] = _READ_OUT.sub(lambda one: one[1] + self._out_of_html(one[2]) + one[3], piece)
            else:
                pieces[place] = self._out_of_html(piece)
        return "".join(pieces)

    def out_of_data(self, data: Any) -> Any:
        """Plain data without them: private fields are null, texts are cleared, what leads to films and jobs stays."""
        if isinstance(data, dict):
            return {
                key: None if key in PRIVATE_FIELDS
                else value if key in _REFERENCES and isinstance(value, str)
                else self.out_of_data(value)
                for key, value in data.items()
            }  # fmt: skip
        if isinstance(data, list | tuple):
            return [self.out_of_data(one) for one in data]
        return self.out_of(data) if isinstance(data, str) else data

    def _out_of_html(self, escaped: str) -> str:
        plain = html.unescape(escaped)
        cleared = self.out_of(plain)
        return escaped if cleared == plain else html.escape(cleared)

    def _name_at(self, text: str, found: Sequence[re.Match[str]], place: int) -> int:
        """How many words from here on are a customer's name; 0 where none is."""
        word = _bare(found[place].group())
        for name in self.full.get(word, ()):
            run = found[place : place + len(name)]
            together = all(text[one.end() : other.start()].isspace() for one, other in pairwise(run))
            if together and tuple(_bare(one.group()) for one in run) == name:
                return len(name)
        if word in self.single or (word.endswith("s") and len(word) > _SHORTEST_NUMBER and word[:-1] in self.single):
            return 1  # "the Whitlows", "priyas tank"
        before = text[: found[place].start()].split()[-1:]
        return int(word in self.titled and bool(before) and bool(re.fullmatch(rf"(?:{_TITLES})\.?", before[0].lower())))

    def _without_numbers(self, text: str) -> str:
        """A text without registrations and VINs, with any spaces and dashes in them."""
        found = list(_SIGNS.finditer(text)) if self.numbers else []
        pieces, done, place = [], 0, 0
        while place < len(found):
            length = self._number_at(text, found, place)
            if length:
                pieces += [text[done : found[place].start()], "[number]"]
                done = found[place + length - 1].end()
            place += length or 1
        return "".join([*pieces, text[done:]]) if pieces else text

    def _number_at(self, text: str, found: Sequence[re.Match[str]], place: int) -> int:
        """How many groups of signs from here on are a number; 0 where none is, the most where several are."""
        signs, longest = "", 0
        for length, here in enumerate(found[place : place + _MOST_GROUPS], start=1):
            gap = text[found[place + length - 2].end() : here.start()] if signs else ""
            signs += _signs(here.group())
            if len(gap) > 2 or gap.strip(" -_.") or signs not in self.beginnings:
                break
            longest = length if signs in self.numbers else longest
        return longest


def _customers(cell: str) -> Iterator[tuple[str, ...]]:
    """The people of a customer's cell, each as the words of the name in each of its spellings."""
    for person in _BETWEEN.split(cell):
        for spelled in dict.fromkeys((_folded(person), _folded(person.translate(_WRITTEN_OUT)))):
            surname, _, first = spelled.partition(",")
            words = tuple(word for word in _NAME.findall(f"{first} {surname}") if not re.fullmatch(_TITLES, word))
            if set(words) - _NO_NAMES:
                yield words


def _stands_alone(word: str) -> bool:
    return word not in _NO_NAMES and not _is_everyday(word)


def _folded(word: str) -> str:
    """Lower case without accents and apostrophes: as engines write names, and people type them."""
    apart = unicodedata.normalize("NFD", word.lower().replace("ß", "ss"))
    return re.sub(r"['’‘`]", "", "".join(sign for sign in apart if not unicodedata.combining(sign)))


def _signs(number: str) -> str:
    """Letters and digits alone; what people take for each other is one."""
    return re.sub(r"[\W_]", "", number).upper().translate(_TAKEN_FOR)


def _bare(word: str) -> str:
    return _folded(re.sub(r"['’]s$", "", word.lower()))


def _is_everyday(word: str) -> bool:
    return word in everyday_words() or word in shipped_vocabulary().phrases
