"""One clause taken apart: its things with their modifiers, their finishes, the tasks, the people, the days."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from diaryidx.language.found import Clause, Found, Item, NounPhrase
from diaryidx.vocabulary.loader import shipped_data

_STATE_PARTICLES = {"off": "remove", "out": "remove", "on": "fit", "in": "fit"}
_SHARED_PREPOSITIONS = ("with", "for", "of", "from")  # "with drag bars and a long seat"
_INSTEAD = frozenset(("instead of", "rather than", "apart from", "except", "except for"))
_PLURAL = frozenset(("these", "those", "they", "them", "em", "'", "all"))  # "'em" is two words
_NO_PARTS = frozenset(("things", "jobs", "bits", "reasons", "items"))
_COUNTED_THINGS = frozenset(("both", "pair"))
_NO_STATE = frozenset(("order", "hold", "loan", "standby", "back"))  # "on hold" tells of no fitting
_SIDE_NOUNS = frozenset(("side", "end", "hand", "leg"))


@dataclass(slots=True)
class Head:
    """A task in a clause, at an item. ``task`` is None for a verb that only points back ("done", "doing again")."""

    place: int
    task: str | None
    form: str
    found: Found | None = None
    particle: bool = False
    preposition: str | None = None


@dataclass(slots=True)
class ReadClause:
    """What a clause holds, each with the item where it stands."""

    things: list[NounPhrase] = field(default_factory=list)
    finishes: list[tuple[int, str]] = field(default_factory=list)  # said after the thing
    heads: list[Head] = field(default_factory=list)
    people: list[NounPhrase] = field(default_factory=list)
    suppliers: list[NounPhrase] = field(default_factory=list)
    bikes: list[NounPhrase] = field(default_factory=list)
    dates: list[Found] = field(default_factory=list)
    prices: list[Found] = field(default_factory=list)


def read_clause(items: Sequence[Item], clause: Clause) -> ReadClause:
    """Take one clause apart.

    Arguments:
        items: the row of the whole text.
        clause: which stretch of it.
    Returns: what the clause holds, in the order of speech.
    """
    reader = _Reader(items, clause)
    reader.states = _states_without_verb(items, clause)
    for place in range(clause.first, clause.last):
        reader.take(place)
    reader.flush(clause.last)
    reader.add_state_particle()
    return _without_replaced(reader.read, items, clause)


def _states_without_verb(items: Sequence[Item], clause: Clause) -> frozenset[int]:
    """Particles that tell a state without a verb: "bars on | risers on | grips tomorrow", "seat off"."""
    doing = any(item.letter in "TGEXY" and item.found is not None for item in items[clause.first : clause.last])
    if clause.verb is not None or doing:
        return frozenset()  # "and ground the tabs | off"
    places = [
        place
        for place in range(clause.first + 1, clause.last)
        if items[place].letter == "p"
        and items[place].word in _STATE_PARTICLES
        and items[place - 1].letter in "PO"
        and (_ends(items, clause, place + 1) or items[place + 1].letter in "PS")
    ]
    stranded = places and _ends(items, clause, places[-1] + 1)
    return frozenset(places) if stranded or len(places) > 1 else frozenset()


def _ends(items: Sequence[Item], clause: Clause, place: int) -> bool:
    """Whether what is told ends before this item, but for a day: "risers on | on friday"."""
    if place < clause.last and items[place].letter == "p":
        return place + 1 < clause.last and items[place + 1].letter == "%"
    return place == clause.last or items[place].letter in "&,r%"


def _without_replaced(read: ReadClause, items: Sequence[Item], clause: Clause) -> ReadClause:
    """Drop what is only named as what it is not: "in matt black instead of gloss"."""
    ends = [cue.end for cue in clause.cues if cue.kind == "negation" and cue.text in _INSTEAD]
    if ends:
        first = next((place for place, item in enumerate(items) if item.start >= ends[0]), len(items))
        read.finishes = [one for one in read.finishes if one[0] < first]
        read.things = [one for one in read.things if one.start < first]
        if not any(one.task and one.place < first for one in read.heads):
            read.heads = [one for one in read.heads if one.place < first]
    return read


class _Reader:
    """Walks over the items of one clause and gathers modifiers until their thing comes."""

    def __init__(self, items: Sequence[Item], clause: Clause) -> None:
        self.items, self.clause = items, clause
        self.read = ReadClause()
        self.sides: list[list[str]] = []  # each one place: "front left"; "front and rear" are two
        self.colours: list[list[str]] = []  # each of one finish
        self.quantity: str | None = None
        self.determiner: str | None = None
        self.preposition: str | None = None
        self.last_preposition: str | None = None
        self.other = self.new = False
        self.begun: int | None = None
        self.states: frozenset[int] = frozenset()
        self.product: str | None = None

    def take(self, place: int) -> None:
        """Take one item."""
        item = self.items[place]
        letter = item.letter
        if letter == "D":
            self.flush(place, keep_preposition=True)
            self.determiner, self.begun = item.word, place
        elif letter in "SFQA":
            self._modifier(place, item)
        elif letter in "PO":
            self._thing(place, item)
        elif letter == "t":
            self._pronoun(place, item)
        elif letter in "CB%$":
            self._name(place, item)
        elif place in self.states:
            self.flush(place)
            self.read.heads.append(Head(place, _STATE_PARTICLES[item.word], "ed", None, particle=True))
        elif letter in "p>":
            self.flush(place)
            self.preposition = item.word
        elif letter == "&":
            if not (self.colours or self.sides) or not self._modifier_follows(place):
                self.flush(place)
                if self.last_preposition in _SHARED_PREPOSITIONS:
                    self.preposition = self.last_preposition
        elif letter == "N":
            self._other_noun(place, item)
        else:
            preposition = self.preposition
            self.flush(place)
            self._head(place, item, preposition)

    def _modifier_follows(self, place: int) -> bool:
        return place + 1 < self.clause.last and self.items[place + 1].letter in "FS"

    def _modifier(self, place: int, item: Item) -> None:
        if self.begun is None:
            self.begun = place
        if item.letter == "A":
            self.other = item.word == "other"
            return
        if item.found is None:
            return
        if item.letter == "S":
            if self.colours and not self._leads_to_thing(place):
                self.flush(place)
                self.begun = place
            if self.sides and place and self.items[place - 1].letter not in "&,":
                self.sides[-1].append(item.found.canonical)
            else:
                self.sides.append([item.found.canonical])
        elif item.letter == "Q":
            if item.found.label == "QUANTITY":
                self.quantity = item.found.canonical
                if item.word == "set" and self.new and not self._leads_to_thing(place + 1):
                    self._add("one", place)  # "it's getting a new set"
                elif item.word in _COUNTED_THINGS and not self._leads_to_thing(place + 1):
                    self._add("one" if self.sides else "plural pronoun", place)  # "the front pair", "remaking both"
        else:
            name = _look(item.found)
            if name is None:
                return
            if self.colours and place and self.items[place - 1].letter not in "&N":
                self.colours[-1].append(name)
            else:
                self.colours.append([name])

    def _leads_to_thing(self, place: int) -> bool:
        for item in self.items[place : min(place + 5, self.clause.last)]:
            if item.letter in "PO":
                return True
            if item.letter not in "SFQN":
                return False
        return False

    def _thing(self, place: int, item: Item) -> None:
        if item.found is not None and item.found.label == "PRODUCT" and self._names_part(place):
            self.product = item.found.canonical
            self.begun = place if self.begun is None else self.begun
            return
        kind = "product" if item.found is not None and item.found.label == "PRODUCT" else "part"
        if item.letter == "P" and self.colours and self._told_before():
            self._finish_said(self.begun if self.begun is not None else place)  # "oil tank in black | toolbox in black"
            self._clear()
        if item.letter == "O" and self.colours and self.preposition in ("to", "for", "with", "in"):
            self._finish_said(self.begun if self.begun is not None else place)  # "changed the grips to black ones"
            self._clear()
            return
        if item.letter == "O":
            kind = "other" if self.other else "one"
            pointed = self.determiner in ("this", "that", "these", "those") and not self.sides and not self.other
            if pointed:
                kind = "bike"
            elif item.word == "pair":
                kind = "plural pronoun"
        self._add(kind, place, item.found)

    def _names_part(self, place: int) -> bool:
        """Whether a product's name stands before its part: "a mottram stopper | master cylinder"."""
        for item in self.items[place + 1 : min(place + 4, self.clause.last)]:
            if item.letter == "P":
                return item.found is not None and item.found.label == "PART"
            if item.letter not in "SF":
                return False
        return False

    def _told_before(self) -> bool:
        """Whether a finish after "in" belongs to the part before it, in a row without verbs."""
        before = self.read.things[-1] if self.read.things else None
        if before is None or before.kind != "part" or self.clause.verb is not None or self.determiner is not None:
            return False
        between = (self.begun or 0) - before.end
        return (self.preposition == "in" and between <= 1) or (
            self.preposition is None and between == 0 and len(self.read.things) == 1 and not before.finishes
        )

    def _give_finish(self, start: int, place: int) -> None:
        """A finish told for a thing is said of it: "orange | for the tank and grey | for the frame"."""
        if self.preposition in ("for", "on") and self.read.finishes and not self.colours:
            begun, finish = self.read.finishes[-1]
            between = "".join(item.letter for item in self.items[begun:start])
            if re.fullmatch(r"D?F+pD?[SQ]*", between):
                self.read.finishes[-1] = (place + 1, finish)

    def _add(self, kind: str, place: int, found: Found | None = None) -> NounPhrase:
        thing = NounPhrase(
            kind=kind, start=self.begun if self.begun is not None else place, end=place + 1, found=found,
            sides=_joined_sides(self.sides), finishes=_joined(self.colours),
            quantity=self.quantity, preposition=self.preposition, determiner=self.determiner, new=self.new,
            product=self.product,
        )  # fmt: skip
        self.read.things.append(thing)
        self._give_finish(thing.start, place)
        self.last_preposition = self.preposition
        self._clear()
        return thing

    def _pronoun(self, place: int, item: Item) -> None:
        quantity = self.quantity
        self.flush(place, keep_preposition=True)
        if item.word in ("there", "here"):
            return  # "there's a new battery in it": a subject that is nothing
        self.quantity = quantity  # "a set of those"
        self._add("plural pronoun" if item.word in _PLURAL else "pronoun", place)
        self.read.things[-1].determiner = item.word

    def _name(self, place: int, item: Item) -> None:
        colours = self.colours
        self.colours = []
        self.flush(place, keep_preposition=True)
        found = item.found
        if found is None:
            if item.word in ("somebody", "someone"):
                return
            return
        if found.label == "DATE":
            if not any(cue.kind == "negation" and cue.end == found.start for cue in self.clause.cues):
                self.read.dates.append(found)  # not in "wants grinding, not today"
            self._clear()
            return
        if found.label == "PRICE":
            self.read.prices.append(found)
            self._clear()
            return
        name = NounPhrase(
            found.label, place, place + 1, found, preposition=self.preposition, determiner=self.determiner
        )
        name.finishes = _joined(colours)
        where = {"PERSON": self.read.people, "SUPPLIER": self.read.suppliers}
        where.get(found.label, self.read.bikes).append(name)
        self._clear()

    def _other_noun(self, place: int, item: Item) -> None:
        if item.word in _SIDE_NOUNS and (self.sides or self.other):
            self._add("other" if self.other else "side", place)
        elif item.word in _bike_words() and not self.read.bikes:
            if self.determiner in ("the", "this", "that"):
                self.colours = []  # "the green scrambler": which bike, no news of it
            self.flush(place, keep_preposition=True)
            self.read.bikes.append(
                NounPhrase("BIKE", place, place + 1, None, preposition=self.preposition, determiner=self.determiner)
            )
            self._clear()
        elif item.word in _NO_PARTS:
            self.flush(place + 1)  # "three things, brakes and tyres"
        elif item.word in ("finish", "colour", "color"):
            pass
        elif place + 1 < len(self.items) and self.items[place + 1].word in _bike_words():
            pass  # "the green cafe | racer"
        elif not self._leads_to_thing(place + 1):
            self.flush(place + 1)
        elif item.word in ("new", "fresh"):
            self.new = True

    def _head(self, place: int, item: Item, preposition: str | None) -> None:
        forms = {"T": "base", "Y": "s", "G": "ing", "E": "ed", "X": "past", "Z": "noun"}
        if item.letter in forms and (item.found is not None or item.letter != "Y"):
            found = item.found
            task = found.canonical if found and found.label == "TASK" else None
            form = found.form if found and found.form else forms[item.letter]
            form = {"Z": "noun", "E": "ed" if form == "base" else form}.get(item.letter, form)
            if form == "base" and place and self.items[place - 1].letter == ">":
                form = "infinitive"
            self.read.heads.append(Head(place, task, form, found, preposition=preposition))

    def flush(self, place: int, keep_preposition: bool = False) -> None:
        """Modifiers whose thing did not come: a finish said of what came before, a side that stands for its part."""
        if self.colours:
            self._finish_said(self.begun if self.begun is not None else place)
            self.colours = []
        if self.sides or self.other:
            before = self.read.things[-1] if self.read.things else None
            sides = _joined_sides(self.sides)
            if (
                before is not None
                and before.kind == "part"
                and not before.sides
                and sides
                and self._belongs(before, place)
            ):
                before.sides = sides
            elif self.sides or self.determiner:
                self._add("other" if self.other and not self.sides else "side", place - 1)
        self._clear(keep_preposition)

    def _finish_said(self, begun: int) -> None:
        """Finishes said apart from the thing: "in tan leather | with a diamond stitch" is two."""
        self.read.finishes += [(begun, finish) for finish in _joined(self.colours)]

    def _belongs(self, before: NounPhrase, place: int) -> bool:
        """Whether a bare side tells more of the thing before it: "the pads on the front", "rims front and rear"."""
        begun = self.begun if self.begun is not None else place
        between = "".join(item.letter for item in self.items[before.end : begun])
        return between in ("", "p", "D", "pD") and self.preposition in ("on", "at", "to", "for", "of", None)

    def _clear(self, keep_preposition: bool = False) -> None:
        self.sides, self.colours, self.quantity, self.determiner = [], [], None, None
        self.other, self.new, self.begun, self.product = False, False, None, None
        if not keep_preposition:
            self.preposition = None

    def add_state_particle(self) -> None:
        """ "the tank is off", "the new seat's on": a particle alone after "is" tells what was done."""
        verb = self.clause.verb
        if verb is not None and self.clause.aspect == "changing" and verb[1] == self.clause.last:
            self.read.heads.append(Head(verb[1] - 1, "remove", "ing", None, particle=True))  # "the mudguard's going"
            return
        last = self.items[verb[1] - 1] if verb else None
        gone = self.clause.aspect == "perfect" and last is not None and last.word == "gone" and last.found is None
        states = ("state", "perfect state", "past state", "done state")
        if verb is None or not (gone or self.clause.aspect in states):
            return
        place = verb[1]
        if self.items[place - 1].word == "gone" and (place == self.clause.last or self.items[place].letter in "&,r%"):
            self.read.heads.insert(0, Head(place - 1, "remove", "ed", None, particle=True))
        if place < self.clause.last and self.items[place].letter == "p":
            if (
                self.items[place].word == "back"
                and place + 1 < self.clause.last
                and self.items[place + 1].word in ("in", "on")
            ):
                place += 1
            task = _STATE_PARTICLES.get(self.items[place].word)
            after = self.items[place + 1] if place + 1 < self.clause.last else None
            ends = (
                after is None
                or after.letter in "&,r%vuycCT"
                or (after.letter == "p" and after.word not in ("for", "at", "with", "in"))
            )
            on_hold = place + 1 < len(self.items) and self.items[place + 1].word in _NO_STATE
            if task and ends and not on_hold:
                self.read.heads.insert(0, Head(place, task, "ed", None, particle=True))


def _bike_words() -> frozenset[str]:
    return frozenset(shipped_data("readings.yaml")["bike words"])


def _look(found: Found) -> str | None:
    """How a thing looks by this word: a finish, or what a finishing task leaves ("polished"); no other task."""
    if found.label != "TASK":
        return found.canonical
    return found.term.leaves if found.term is not None and found.term.sort == "finishing" else None


def _joined(colours: list[list[str]]) -> list[str]:
    """Each finish out of its words in the order said."""
    return list(dict.fromkeys(" ".join(dict.fromkeys(words)) for words in colours))


def _joined_sides(sides: list[list[str]]) -> list[str]:
    """Each place out of its words: "front left" is one."""
    return list(dict.fromkeys(" ".join(dict.fromkeys(words)) for words in sides))
