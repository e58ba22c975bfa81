"""Which things of a clause a task is done to, and which finish is said of which thing."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from diaryidx.language.clause_reader import Head, ReadClause
from diaryidx.language.finishes import POINTING, is_tool
from diaryidx.language.found import Clause, Item, NounPhrase
from diaryidx.language.status_rules import carriers
from diaryidx.vocabulary.loader import shipped_data

_REAL = ("part", "product", "one", "side", "other")
_PLACES = frozenset(shipped_data("grammar.yaml")["prepositions of place"])
_HARDLY = frozenset(shipped_data("grammar.yaml")["prepositions that name no object"])
_RELATIONS = frozenset(("of", "with", "for"))
_PASSIVE = frozenset(
    ("perfect passive", "passive progressive", "past passive", "done state", "passive need", "get done",
     "past passive progressive")
)  # fmt: skip
_MAY_BE_PASSIVE = frozenset(("need", "future", "modal", "got to"))
_SAYING_HOW = frozenset(("state", "past state", "perfect state", "changing", "done state"))
_GOING = frozenset(("verb", "go", "perfect state"))
_HAVING = frozenset(("none", "have", "need", "want", "get", "causative done", "go", "verb", "future", "modal"))


@dataclass(frozen=True, slots=True)
class Doing:
    """A task (or none) with the things it is done to. ``beside``: the task in whose company things come without one."""

    head: Head | None
    things: list[NounPhrase]
    beside: Head | None = None


def doings(items: Sequence[Item], clause: Clause, read: ReadClause) -> list[Doing]:
    """Tie tasks and things of a clause together.

    Arguments:
        items: the row of the whole text.
        clause: the clause.
        read: what it holds.
    Returns: one Doing for each task; one without a task where none is named, and for things that only come with it
        ("with new seals").
    """
    finder = _Finder(items, clause, read)
    heads = _heads(read)
    if not heads:
        things = finder.without_task()
        things = finder.dislocated([*things, *finder.with_finish(things)])
        return [Doing(None, things), *finder.extras(None)]
    found: list[Doing] = []
    for head in heads:
        if compound := finder.compound_of(head):
            found += [Doing(head, compound), Doing(None, finder.beside_compound(head, compound[0]))]
        elif listed := finder.listed_with(head):
            found += [Doing(head, finder.subject), Doing(None, listed)]
        elif finder.is_object(head):
            things, rest = finder.of_object(head)
            found.append(Doing(head, things))
            found += [Doing(None, rest)] if rest else []
        else:
            found.append(Doing(head, finder.dislocated(finder.of_task(head, heads))))
    found = [doing for doing in found if doing.head or doing.things]
    used = [id(thing) for doing in found for thing in doing.things]
    if finder.subject and all(thing.preposition == "with" for doing in found for thing in doing.things):
        found.append(Doing(None, _parts_first(finder.subject)))  # "the motor's back | with the cylinders bored"
    if clause.waits:  # "needs | a new valve and the seat recut"
        found += [Doing(None, [one]) for one in finder.objects if id(one) not in used and finder.is_new(one)]
    if clause.verb is None:
        last = heads[-1]
        found += [
            Doing(None, [one])
            for one in finder.things
            if id(one) not in used and (one.new or (last.particle and one.start > last.place and not one.preposition))
        ]
    extras = [
        Doing(None, [one for one in extra.things if id(one) not in used], extra.beside)
        for extra in finder.extras(heads)
    ]
    return [*found, *(extra for extra in extras if extra.things)]


def _heads(read: ReadClause) -> list[Head]:
    """The tasks that count: named verbs before nouns, and carrying a part somewhere only where nothing else is done."""
    named = [head for head in read.heads if head.task not in (None, "quote", "source") and head.form != "noun"]
    nouns = [head for head in read.heads if head.task and head.form == "noun" and head.preposition != "about"]
    bare = [head for head in read.heads if not head.task and head.form != "noun"]
    if len(named) + len(nouns) > 1:
        named = [head for head in named if head.task not in carriers()]
    return named or nouns or bare[:1]


class _Finder:
    def __init__(self, items: Sequence[Item], clause: Clause, read: ReadClause) -> None:
        self.items, self.clause, self.read = items, clause, read
        things = [thing for thing in read.things if thing.kind != "bike"]
        self.things = [thing for thing in things if not is_tool(thing)] or things
        verb = clause.verb
        self.verb_start = verb[0] if verb else clause.first
        self.verb_end = verb[1] if verb else clause.first
        self.subject = [one for one in self.things if verb and one.end <= self.verb_start and not one.preposition]
        self.subject = self._without_topic(self.subject)
        self.after = [one for one in self.things if one.start >= self.verb_start and not self._beside(one)]
        joined = self._joined_later()
        self.subject += joined
        self.after = [one for one in self.after if one not in joined]
        self.objects = [one for one in self.after if not self.only_where(one)]

    def _joined_later(self) -> list[NounPhrase]:
        """More subjects, told after the verb: "the frame's been painted | and the swingarm"."""
        happens = self.clause.aspect in _PASSIVE | _SAYING_HOW | _GOING or self.passive()
        if not _real(self.subject) or not happens:
            return []
        bare = [one for one in self.after if not one.preposition]
        told = [at for at, _ in self.read.finishes] + [head.place for head in self.read.heads]
        row = all(
            one.kind == "part"
            and one.start > self.verb_end
            and self.items[one.start - 1].letter in "&,"
            and not any(at > one.start for at in told)
            for one in bare
        )
        return bare if row else []

    def _without_topic(self, subject: list[NounPhrase]) -> list[NounPhrase]:
        """Without what is only named before it, whose side it takes: "rear wheel | the spindle is sleeved"."""
        if len(subject) < 2 or subject[-1].determiner not in POINTING or subject[-1].kind != "part":
            return subject
        topic, last = subject[-2], subject[-1]
        between = "".join(item.letter for item in self.items[topic.end : last.start])
        told = not between or (between == "," and len(subject) == 2 and topic.determiner is None)
        if not told or topic.kind != "part":
            return subject
        last.sides = last.sides or topic.sides
        return [last]

    def _beside(self, thing: NounPhrase) -> bool:
        """Whether a thing's preposition shows that nothing is done to it; "halfway through the loom" is."""
        if thing.preposition == "through" and "in progress" in self.clause.kinds:
            return False
        return thing.preposition in _HARDLY

    def only_where(self, thing: NounPhrase) -> bool:
        """Whether a thing after "to", "on", "from" only says where; one after "with" comes beside another."""
        if thing.preposition in _PLACES:
            return True
        beside = [one for one in self.after if not one.preposition and (one.kind == "part" or _stands_in(one))]
        beside += [one for one in self.subject if thing.preposition == "with"]
        return thing.preposition in _RELATIONS and bool(beside)

    def passive(self) -> bool:
        """Whether the subject is what something is done to."""
        if self.clause.aspect in _PASSIVE:
            return True
        verb = self.clause.verb
        told = self.clause.aspect == "perfect" and self.subject and verb is not None
        if told and verb is not None and self.items[verb[0]].letter == "s":
            return not any(
                one.preposition is None and one.start >= self.verb_end for one in self.things
            )  # "that's cleaned up | for new seals"
        if verb is None or self.clause.aspect not in _MAY_BE_PASSIVE:
            return False
        letters = "".join(item.letter for item in self.items[verb[0] : verb[1]])
        return letters[-1] in "EeGK" and ("k" in letters or "K" in letters or letters[0] == "w")

    def without_task(self) -> list[NounPhrase]:
        """The things of which a clause without a task speaks."""
        if self.clause.verb is None:
            if self._only_points():
                return []
            return _parts_first([one for one in self.things if not self.only_where(one)] or self.things)
        if self.clause.aspect in _SAYING_HOW and self._points_out():
            return []
        if len(self.read.finishes) > 1:
            return _parts_first([one for one in self.things if not self.only_where(one)])
        if self.clause.aspect in _SAYING_HOW or self.passive():
            plain = [one for one in self.objects if one.preposition is None]
            if self.subject and self.subject[-1].determiner == "that" and _real(plain) and "done" in self.clause.kinds:
                return _parts_first(plain)  # "that's the forks back together"
            waits = "waiting" in self.clause.kinds and not _real(self.subject)
            first = (self.objects if _real(self.objects) else self._waited_for()) if waits else []
            return _parts_first(first or self.subject or self.objects or self.after)
        away = self.clause.because.get("waiting", "").startswith(("gone", "went", "off", "away", "out"))
        if away and _real(self.subject):
            return _parts_first(self.subject)  # "the seat's gone to the trimmer | for a new cover"
        chosen = self.objects or self.subject
        if "waiting" in self.clause.kinds and not _real(chosen):
            chosen = self._waited_for() or chosen  # "waiting on tyres for it"
        self._give_side(chosen)
        if not _real(chosen) and _real(self.subject) and self.clause.aspect in _HAVING:
            chosen = self.subject
        return _parts_first(chosen or self.after)

    def _waited_for(self) -> list[NounPhrase]:
        """What is waited for, not what goes with it: "it's off | with the frame"."""
        return [one for one in self.after if one.preposition != "with" or not self.subject]

    def _only_points(self) -> bool:
        """ "the one with the quilted seat", "the green scrambler with the high pipe": which bike, and no more."""
        first = self.things[0] if self.things else None
        if first is None:
            return False
        bike = bool(self.read.bikes) and self.read.bikes[0].start < first.start
        one = first.kind == "one" and not first.sides and first.determiner in ("the", "that", "this")
        beside = [thing for thing in self.things if thing is not first or bike]
        return (bike or one) and bool(beside) and all(thing.preposition for thing in beside)

    def _give_side(self, chosen: Sequence[NounPhrase]) -> None:
        """The side that has it: "the rear | has a new tyre", "the back one | needs a new seal"."""
        sides = self.subject[-1].sides if self.subject and self.subject[-1].kind in ("side", "one", "other") else []
        for one in chosen:
            if sides and one.kind == "part" and not one.sides:
                one.sides = list(sides)

    def _points_out(self) -> bool:
        """ "this is the one with the quilted seat": the bike is pointed out, nothing is said of the seat."""
        pointed = self.read.things[:1] and self.read.things[0].kind in ("pronoun", "bike")
        named = [
            one
            for one in self.read.things
            if one.kind in ("one", "bike")
            and not one.sides
            and one.start > self.verb_start
            and (one.kind == "bike" or one.determiner in POINTING)
        ]
        return bool(pointed) and bool(named or self.read.bikes)

    def of_task(self, head: Head, heads: Sequence[Head]) -> list[NounPhrase]:
        """The things that a task is done to."""
        if self.clause.verb is None:
            return self._without_verb(head, heads)
        if head.form == "noun":
            chosen = self.subject if _real(self.subject) else (self.objects or self.subject or self.after)
            return _parts_first(chosen)
        if head.particle:
            return _parts_first(self.subject or self.objects)
        if head.place >= self.verb_end:
            return self._behind_verb(head, heads)
        chosen = (self.subject or self.objects) if self.passive() else (self.objects or self.subject)
        return self._own(chosen or self.after or self.subject, head, heads)

    def with_finish(self, things: Sequence[NounPhrase]) -> list[NounPhrase]:
        """More things of which a finish of their own is said: "rims going black | hubs bare alloy"."""
        if not things or self.clause.verb is None:
            return []
        last = max(one.end for one in things)
        more = [one for one in self.things if one.start >= last and one.kind == "part" and not one.preposition]
        ends = [one.start for one in more[1:]] + [self.clause.last]
        return [
            one
            for one, until in zip(more, ends, strict=False)
            if any(one.end <= at < until for at, _ in self.read.finishes)
        ]

    def dislocated(self, things: list[NounPhrase]) -> list[NounPhrase]:
        """Pronouns as what was named before the subject: "headlight brackets | wilf's turning those up"."""
        named = [one for one in self.subject if one.kind == "part"]
        agent = self.clause.subject in ("shop", "person", "customer")
        if agent and named and things and all(one.kind.endswith("pronoun") and not one.preposition for one in things):
            return named
        return things

    def _without_verb(self, head: Head, heads: Sequence[Head]) -> list[NounPhrase]:
        """ "frame blasted and painted, swingarm plated": a task takes what stands before it, else what follows."""
        things = [one for one in self.things if not self.only_where(one)] or self.things
        if (
            self.clause.inherited
            and things
            and all(one.preposition == "with" and one.start > head.place for one in things)
        ):
            return []  # "cleaned | and rebuilt with a new jet kit"
        place = heads.index(head)
        if head.form == "infinitive":  # "engine in, loom on, exhaust | to make"
            near = [one for one in things if one.end == head.place - 1]
            things = self._with_row(near) if near else things
        since = heads[place - 1].place if place else -1
        before = [one for one in things if since < one.start and one.end <= head.place]
        before = [one for one in before if not one.new or one.end == head.place]
        if before:
            return _parts_first(before)
        if head.form == "ed" and head.place > self.clause.first and self.items[head.place - 1].letter == "N":
            return []  # "dent pulled": a thing that no list knows
        behind = self._own([one for one in things if one.start > head.place], head, heads[place:])
        if place and (not behind or head.form == "ed"):
            return self._without_verb(heads[place - 1], heads)
        return behind or _parts_first(things)

    def _behind_verb(self, head: Head, heads: Sequence[Head]) -> list[NounPhrase]:
        """ "we've had the tank | painted", "needs the tank | painting", "is ready to | paint the tank"."""
        near = [one for one in self.after if one.end == head.place and head.form == "ed" and one.start >= self.verb_end]
        if near and (
            near[0].preposition == "with" or not self._object_follows(head)
        ):  # "with the new cylinders | bored"
            return self._with_row(near)
        between = [one for one in self.objects if one.end <= head.place]
        behind = [one for one in self.objects if one.start > head.place]
        if self.clause.waits and between:
            return self._own(between, head, heads)
        if behind and not self.passive():
            return self._own(behind, head, heads)
        return self._own(between or self.subject or behind or self.after, head, heads)

    def is_new(self, thing: NounPhrase) -> bool:
        """Whether a part is told as another than the one that is there: "a valve", "new seals"."""
        return thing.kind == "part" and (thing.new or thing.determiner in ("a", "an", "some"))

    def _object_follows(self, head: Head) -> bool:
        return any(one.start > head.place and not one.preposition and one.start - head.place <= 4 for one in self.after)

    def _with_row(self, near: list[NounPhrase]) -> list[NounPhrase]:
        """A thing with those in a row before it: "had the tank and the seat | painted"."""
        row = list(near)
        apart = near[0].determiner in POINTING  # "needs a new valve and | the seat recut"
        things = [one for one in self.after if not (apart and self.is_new(one))]
        for one in reversed([thing for thing in things if thing.end <= near[0].start]):
            between = "".join(item.letter for item in self.items[one.end : row[0].start])
            if not between or set(between) - set("&,"):
                break
            row.insert(0, one)
        return row

    def _own(self, things: list[NounPhrase], head: Head, heads: Sequence[Head]) -> list[NounPhrase]:
        """Of several tasks each takes the things that follow it, where any do."""
        if len(heads) < 2:
            return _parts_first(things)
        place = heads.index(head)
        until = heads[place + 1].place if place + 1 < len(heads) else self.clause.last
        return _parts_first([one for one in things if head.place < one.start < until] or things)

    def compound_of(self, head: Head) -> list[NounPhrase]:
        """The part whose name a task as a noun goes on: "a bottom end | rebuild", "a wheel | rebuild"."""
        if head.form != "noun" or self.clause.verb is None or head.place < self.verb_end:
            return []
        return [one for one in self.after if one.kind == "part" and one.end == head.place]

    def beside_compound(self, head: Head, part: NounPhrase) -> list[NounPhrase]:
        """The things in a row with such a part: "a wheel rebuild | and new tyres"."""
        after = [one for one in self.after if one.kind == "part" and one is not part]
        return [
            one for one in after if self._in_a_row(one.end, part.start) or self._in_a_row(head.place + 1, one.start)
        ]

    def listed_with(self, head: Head) -> list[NounPhrase]:
        """The things in whose row a task stands as one more: "it needs tyres and a service and a screen"."""
        if head.form != "noun" or self.clause.verb is None or head.place < self.verb_end:
            return []
        after = [one for one in self.after if one.start >= self.verb_end and one.kind == "part"]
        listed = [
            one for one in after if self._in_a_row(one.end, head.place) or self._in_a_row(head.place + 1, one.start)
        ]
        first = min((one.start for one in listed), default=0)
        return [one for one in after if one in listed or self._in_a_row(one.end, first, 0)]

    def _in_a_row(self, first: int, last: int, fewest: int = 1) -> bool:
        """Whether nothing but so many joiners and a determiner stands between these items."""
        between = "".join(item.letter for item in self.items[first:last])
        return re.fullmatch(rf"[&,]{{{fewest},}}D?N?", between) is not None

    def is_object(self, head: Head) -> bool:
        """Whether a task as a noun is what is had or needed: "has had a full service", not "is off for paint"."""
        if head.form != "noun" or self.clause.verb is None or head.place < self.verb_end:
            return False
        place = head.place - 1
        while place > self.verb_end and self.items[place].letter in "DNFSQ":
            place -= 1
        return self.items[place].letter != "p"

    def of_object(self, head: Head) -> tuple[list[NounPhrase], list[NounPhrase]]:
        """The things of such a task, and the things that are had or needed beside it."""
        given = [one for one in self.objects if one.end <= head.place and not self._joined(one.end, head.place)]
        where = [one for one in self.after if one.preposition in ("of", "on", "for", "to") and one.start > head.place]
        own = {one.place for one in self.read.heads if one.form == "noun"}  # "a carb | clean": the part of another task
        rest = [one for one in self.objects if one not in given + where and one.kind == "part" and one.end not in own]
        return _parts_first(given or where or self.subject), rest

    def _joined(self, first: int, last: int) -> bool:
        return any(item.letter in "&," for item in self.items[first:last])

    def extras(self, heads: Sequence[Head] | None) -> list[Doing]:
        """Parts that come with it ("with gold pinstripes"); tools come with nothing."""
        extra = [
            one
            for one in self.after
            if one.preposition == "with" and one.kind == "part" and self.only_where(one) and not is_tool(one)
        ]
        return [Doing(None, extra, heads[-1] if heads else None)] if extra and self.clause.aspect != "none" else []


def _stands_in(thing: NounPhrase) -> bool:
    return thing.kind.endswith("pronoun")


def _real(things: Sequence[NounPhrase]) -> bool:
    return any(thing.kind in _REAL for thing in things)


def _parts_first(things: list[NounPhrase]) -> list[NounPhrase]:
    """Parts and their stand-ins; bare pronouns only where there is nothing else."""
    return [thing for thing in things if thing.kind in _REAL] or things
