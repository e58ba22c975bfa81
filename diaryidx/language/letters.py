"""The row of letters that clauses are found in: one letter for each word or found thing (``cues/grammar.yaml``).

Adverbs and "not" are left out; letters that depend on their neighbours ("that" the pointer or the joiner, a task the
verb or the noun) are decided last.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache

from diaryidx.language.found import Found, Item
from diaryidx.vocabulary.loader import shipped_data
from diaryidx.vocabulary.spoken_words import spoken_key

_LETTER = {
    "PART": "P", "FINISH": "F", "SIDE": "S", "QUANTITY": "Q", "PERSON": "C", "SUPPLIER": "C", "PRODUCT": "P",
    "MAKE": "B", "MODEL": "B", "NICKNAME": "B", "JOB": "B", "PRICE": "$", "DATE": "%", "MEASURE": "Q", "TIME": "Q",
    "NUMBER": "Q", "CAUTION": "N",
}  # fmt: skip
_FORM = {"base": "T", "s": "Y", "ing": "G", "past": "X", "ed": "E", "noun": "Z", "both": "T"}
_DEMONSTRATIVES = frozenset(("this", "that", "these", "those", "her", "his", "its", "all", "each"))
_NOUNISH = frozenset("PFSQNEOAZBGCT")
_VERB_BEFORE = frozenset(">mMuyd")
_UNCHANGING = frozenset(("cut", "put", "set", "cast", "recut", "reset"))  # past and participle are the base form
_NEW = frozenset(
    ("new", "some", "fresh", "better", "longer", "shorter", "bigger", "smaller", "different", "our", "nice")
)
_EXPLETIVE_BEFORE = frozenset(("is", "are", "'s", "'re", "was", "were", "'ll", "will", "has", "have", "'ve"))
_RELATORS = frozenset(("that", "which", "who"))
_DOING = frozenset(("do", "done", "did", "doing"))


class Grammar:
    """``cues/grammar.yaml``, ready for use."""

    def __init__(self) -> None:
        data = shipped_data("grammar.yaml")
        self.letter_of: dict[str, str] = {}
        self.phrases: dict[str, list[tuple[list[str], str]]] = {}
        for letter, words in data["classes"].items():
            for word in words:
                cut = spoken_key(word).split()
                if len(cut) == 1:
                    self.letter_of.setdefault(cut[0], letter)
                else:
                    self.phrases.setdefault(cut[0], []).append((cut, letter))
        for phrases in self.phrases.values():
            phrases.sort(key=lambda one: -len(one[0]))
        self.before_nouns = frozenset(data["classes"]["D"]) - {"her"}
        self.adverbs = frozenset(word for word in data["adverbs"] if " " not in word)
        self.no_adverbs = frozenset(data["no adverbs"])
        self.nouns_too = frozenset(data["nouns too"])
        self.generic: dict[str, str] = {}
        for forms in data["generic"].values():
            for letter, word in zip("TYGEE", forms, strict=True):
                self.generic.setdefault(word, letter)
        self.aspects = [(one["name"], re.compile(one["letters"]), one.get("waits") == "yes") for one in data["aspects"]]

    def aside(self, words: list[str], place: int) -> int:
        """Where a phrase that is left out ends, if one begins here, else -1."""
        for cut, letter in self.phrases.get(words[place], ()):
            if letter == "_" and words[place : place + len(cut)] == cut:
                return place + len(cut)
        return -1


@cache
def grammar() -> Grammar:
    """The shipped grammar, read once."""
    return Grammar()


def _is_expletive(words: list[str], place: int, items: list[Item]) -> bool:
    """Whether "there" or "here" is a subject that is nothing: "there's plenty left", "here's the tank"."""
    if words[place] not in ("there", "here") or place + 1 >= len(words) or words[place + 1] not in _EXPLETIVE_BEFORE:
        return False
    return words[place] == "there" or not items or items[-1].letter in "&,r"  # not "what we've done here is"


def _reached(words: list[str], place: int) -> bool:
    """Whether "got to" is about getting round to something: "I haven't got to it | yet"."""
    return place >= len(words) or words[place] in ("yet", "it", "that", "them", "those", "and", "but", ",", ".", "?")


def _is_passive(words: list[str], place: int) -> bool:
    return place < len(words) and words[place] in ("being", "been", "getting", "going")


def _is_doing(words: list[str], place: int) -> bool:
    """Whether an -ing form stands here, as in "she's after | sending it back", which tells of what was just done."""
    return place < len(words) and words[place].endswith("ing") and words[place] not in ("something", "anything")


def _is_adverb(word: str) -> bool:
    """Whether a word that no list knows is an adverb by its ending: "constantly", "beautifully"."""
    return word.endswith("ly") and len(word) > 4 and word not in grammar().no_adverbs


def row_of(words: list[str], terms: Sequence[Found], measures: Sequence[Found]) -> list[Item]:
    """The row of a text.

    Arguments:
        words: of the text, lower case.
        terms: what the vocabulary found; ``measures``: prices, dates, numbers, which outrank terms.
    Returns: items in order, their letters settled.
    """
    at: dict[int, Found] = {one.start: one for one in terms}
    for one in measures:
        for place in range(one.start, one.end):
            at.pop(place, None)
        at[one.start] = one
    particles = {one.particle for one in terms if one.particle >= 0}
    items: list[Item] = []
    place, known = 0, grammar()
    while place < len(words):
        word = words[place]
        found = at.get(place)
        if (
            word == "both"
            and found is not None
            and items
            and items[-1].letter in "bsqh"
            and _is_passive(words, place + 1)
        ):
            found = None  # "they're both being plated"
        if found is not None and (aside := known.aside(words, place)) > found.end:
            place = aside  # "and look at that, it's bronze"
            continue
        if found is not None:
            letter = _LETTER.get(found.label) or _FORM[found.form or "noun"]
            items.append(Item(letter, place, found.end, word, found))
            place = found.end
            continue
        if place in particles or (word == "of" and items and items[-1].letter == "Q"):
            place += 1
            continue
        if word in known.phrases:
            hit = next((one for one in known.phrases[word] if words[place : place + len(one[0])] == one[0]), None)
            if hit is not None and hit[0][-1] == "after" and _is_doing(words, place + len(hit[0])):
                hit = None
            if hit is not None and hit[0][-2:] == ["got", "to"] and _reached(words, place + len(hit[0])):
                hit = None
            if hit is not None and hit[0][-1] == "to" and _names_whom(words, place + len(hit[0]), at, known):
                hit = None  # "going to | the painter": no future
            if hit is not None:
                if hit[1] == "_":
                    place += len(hit[0])
                    continue
                items.append(Item(hit[1], place, place + len(hit[0]), word))
                place += len(hit[0])
                continue
        if word == "after" and items and items[-1].letter in "bs" and _is_doing(words, place + 1):
            items.append(Item("a", place, place + 1, word))  # "we're after fitting it"
        elif word in known.generic:
            items.append(Item(known.generic[word], place, place + 1, word))
        elif word in known.letter_of:
            items.append(Item(known.letter_of[word], place, place + 1, word))
        elif _is_expletive(words, place, items):
            items.append(Item("t", place, place + 1, word))  # "there's plenty left": a subject that is nothing
        elif word not in known.adverbs and not _is_adverb(word):
            items.append(Item("N", place, place + 1, word))
        place += 1
    _settle(items)
    return items


_RELATIVE = re.compile(r"(?<=[PON])(?:[tuc]|D?C)([hHsbqmM]?[hHsbqvEeik])p[tO]?(?=[hHsbqmMwWK])")
_DATED = re.compile(
    r"(?<=[PO])(?:[tuc]|D?C)h?[HqbhsM]?[EXv]p?%(?=[hHsbqmMwWK])"
)  # "the tank we did last year | is back"
_TAG = re.compile(r"(?<=[PNFEGZpQt%SC])[bqmMdhHw]([tyuc])(?=[,r&]|$)")
_TAG_WORDS = frozenset(("it", "they", "that", "we", "i", "he", "she", "you"))


def without_asides(items: list[Item]) -> list[Item]:
    """The row without what only tells which thing is meant ("the carrier it sits on | has been"), and without what only
    asks back ("it'll want a gasket | will it not")."""
    row = "".join(item.letter for item in items)
    out: set[int] = set()
    for match in _RELATIVE.finditer(row):
        named = any(item.found is not None for item in items[match.start(1) : match.end()])
        own = row[match.end() - 1] != "p" and items[match.start()].word not in _RELATORS
        if named and row[match.end() - 1] == "t":
            out.add(match.end() - 1)  # "the yoke we made for (this) | has come up well"
        out.update(() if named or own else range(*match.span()))
    for match in _DATED.finditer(row):
        out.update(range(*match.span()))
    out.update(
        place
        for place, item in enumerate(items)
        if item.word == "though" and (place + 1 == len(items) or items[place + 1].letter in ",&r")
    )
    for match in _TAG.finditer(row):
        out.update(range(*match.span()) if items[match.start(1)].word in _TAG_WORDS else ())
    return [item for place, item in enumerate(items) if place not in out] if out else items


def _settle(items: list[Item]) -> None:
    """Decide letters that depend on their neighbours: "that" the pointer or the joiner, task the verb or the noun."""
    for place, item in enumerate(items):
        before = items[place - 1].letter if place else ","
        after = items[place + 1].letter if place + 1 < len(items) else ","
        decide = _DECIDE.get(item.letter)
        if decide is not None:
            item.letter = decide(items, place, before, after)


def _pointer(items: list[Item], place: int, before: str, after: str) -> str:
    """ "that tank", "that is", "he said that we": determiner, pronoun or joiner."""
    item = items[place]
    word = item.word
    if word not in _DEMONSTRATIVES or item.end - item.start > 1:
        return item.letter
    if before in "hHKLI" and after == "E" and (place + 2 >= len(items) or items[place + 2].letter not in _NOUNISH):
        return "t"  # "get that | done by easter"
    if after in _NOUNISH:
        return "D"
    if word == "that" and after in "uycDt" and before not in ",&rp":
        return "r"
    return "D" if items[place].letter == "D" and after == "N" else "t"


def _base_form(items: list[Item], place: int, before: str, after: str) -> str:
    """A task in its base form: verb (T), noun (Z), or the participle of a verb that never changes (cut, put)."""
    item = items[place]
    if item.word in ("finish", "complete", "sort") and before in "DFSQ":
        return "N"
    if item.word == "complete" and before in "bsqkn":
        return "E"
    if item.word in ("do", "finish", "complete", "sort"):
        return "d" if item.word == "do" and after in "uyct" and before in ",r&" else "T"
    if item.word in _UNCHANGING and (before in "hHsbqngkK" or (before in "POSF" and after != "D")):
        return "E"
    if item.word == "come" and before in "hHsbq":
        return "E"  # "that's come | off"
    if item.word == "go" and before in "PO":
        return "Y"  # "the new ones | go in tomorrow"
    if item.word in _UNCHANGING and before in "uctC":
        return "X"
    if before == "w" and items[place - 1].end - items[place - 1].start > 1:  # "have got to rewire"
        return "T"
    if before in "bs" and any(one.word in _DOING for one in items[max(0, place - 6) : place]):
        return "T"  # "what we do is polish the"
    if not place or before in _VERB_BEFORE or (before in "&,r" and _verbal_row(items, place)):
        return "T"
    return "Z" if before in "DpFSEQNwPbs" or after in ",&br" else "T"


def _had_or_would(items: list[Item], place: int, before: str, after: str) -> str:
    """ "he'd wired it": had, before a participle; else would."""
    return "H" if items[place].word == "'d" and after in "Een" else items[place].letter


def _third_person(items: list[Item], place: int, before: str, after: str) -> str:
    if before in "DSQ" and items[place].found is not None:
        return "N"  # "the lines for it"
    if items[place].word in ("did", "does") and before in "uycC" and after in "tD":
        return "E"  # "blackwater did it in brown"
    if items[place].word in ("did", "does"):
        denied = place + 1 < len(items) and items[place + 1].start > items[place].end  # "does | n't | want"
        return "d" if denied or after in "uyctTvWwKhkJ" or place + 1 == len(items) else "Y"
    return items[place].letter


def _participle(items: list[Item], place: int, before: str, after: str) -> str:
    """A participle before its noun ("polished rims") says how the thing looks."""
    if items[place].word == "did":
        return (
            "d"
            if after in "uyctTvWwKhkJ" or (items[place + 1 : place + 2] and items[place + 1].start > items[place].end)
            else "E"
        )
    listed = before in "PO" and after in "PO" and place > 1 and items[place - 2].letter == "F"
    if listed and all(item.letter in "FPOSQN" for item in items[max(0, place - 8) : place]):
        return "F"  # "black rims | polished hubs"
    if before not in "DSQFpN,&" or (before == "&" and items[place - 2].letter != "F"):
        return "E"
    if after == "N" and items[place + 1].word in _NEW:
        return "E"
    for item in items[place + 1 : place + 5]:
        if item.letter in "PO":
            return "F"
        if item.letter not in "FSNQE":
            return "E"
    return "E"


def _gerund(items: list[Item], place: int, before: str, after: str) -> str:
    return "Z" if before == "D" and after != "D" else "G"


def _unknown_verb(items: list[Item], place: int, before: str, after: str) -> str:
    """ "she rejigged", "it rolled in": a word that no list knows, after who does it and before no verb, is one."""
    item, agent = items[place], items[place - 1] if place else None
    if item.word == "left":  # where it is no side
        if before in "hHsbqn":
            return "e"
        return "E" if before in "POZ" and after in "pFN" else "v" if after in "tD" else "N"
    if agent is None or after in "hHsbqmMnkE" or not item.word.isalpha():
        return "N"
    if agent.word in ("we", "i", "he", "she", "they") and before in "uct":
        return "v"
    return "v" if item.word.endswith("ed") and (before == "C" or agent.word == "it") else "N"


def _everyday_verb(items: list[Item], place: int, before: str, after: str) -> str:
    """ "a good look", "the work": a verb after a determiner is a noun; "and cracked levers" how a thing is."""
    if items[place].word.endswith("ed") and after in "PO" and before in "&,":
        return "N"
    if before == "P" and items[place].word in grammar().nouns_too:
        thing = items[place - 1]
        return "N" if thing.end - thing.start == 1 and not thing.word.endswith("s") else items[place].letter
    return "N" if before in "DFSQ" else items[place].letter


def _number_or_stand_in(items: list[Item], place: int, before: str, after: str) -> str:
    return "Q" if items[place].word == "one" and after in "PF" and before not in "DSFA" else "O"


_DECIDE: dict[str, Callable[[list[Item], int, str, str], str]] = {
    "D": _pointer, "t": _pointer, "T": _base_form, "Y": _third_person, "E": _participle, "G": _gerund,
    "M": _had_or_would, "N": _unknown_verb, "v": _everyday_verb, "i": _everyday_verb, "O": _number_or_stand_in,
}  # fmt: skip


def _verbal_row(items: list[Item], place: int) -> bool:
    """Whether a base form after "and" continues a row of base forms or begins an instruction."""
    return place < 2 or any(item.letter in "T>mM" for item in items[max(0, place - 8) : place])


def _names_whom(words: list[str], place: int, at: dict[int, Found], known: Grammar) -> bool:
    """Whether "to" is followed by a thing, a person or a firm rather than by a verb."""
    if place >= len(words):
        return False
    found = at.get(place)
    return words[place] in known.before_nouns or (found is not None and found.label in ("PERSON", "SUPPLIER"))
