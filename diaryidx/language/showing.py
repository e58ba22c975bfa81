"""What a clause shows to the status rules for one task and its things: what is denied, new, missing, begun, to come."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.language.clause_reader import Head, ReadClause
from diaryidx.language.found import Clause, Item, NounPhrase
from diaryidx.language.status_rules import Shown
from diaryidx.vocabulary.loader import shipped_data

_STATE_WITH_PARTICIPLE = {"state": "done state", "perfect state": "perfect passive", "past state": "past passive"}
_THINGS = frozenset(("part", "product", "one", "other", "side"))
_HAVING = ("have", "had", "causative done", "perfect")
_LATER_TODAY = ("tonight", "this evening", "this afternoon", "this arvo")
_INSTEAD = frozenset(("rather than", "instead of"))


class Showing:
    """Looks at one clause.

    Arguments:
        items: the row of the whole text.
        clause: with its scopes.
        read: what it holds.
        film: the kind of film.
    """

    def __init__(self, items: Sequence[Item], clause: Clause, read: ReadClause, film: str) -> None:
        self.items, self.clause, self.read, self.film = items, clause, read, film

    def shown(self, head: Head | None, things: list[NounPhrase]) -> Shown:
        """What the clause shows to the status rules, for this task and these things."""
        clause = self.clause
        return Shown(
            kinds=clause.kinds | self._instead(head) | self._there() | self._beside(head),
            aspect=self._aspect(head),
            negated=self._negated(head) or any(thing.determiner == "no" for thing in things),
            missing=self._missing(things),
            subject=clause.subject,
            form=head.form if head else None,
            head=head is not None,
            finish=bool(self.read.finishes or any(thing.finishes for thing in things)),
            thing=any(thing.kind in _THINGS for thing in things),
            particle=bool(head and head.particle),
            date=self._tense(),
            film=self.film,
            connector=clause.connector,
            light=self._light(),
            begun=self._begun(),
            new=bool(things) and (self._told_new() or self._named_new(things)),
            ends=clause.verb is not None and clause.verb[1] == clause.last,
            task=head.task if head else None,
            predicate=bool(self.read.finishes),
            named=head is not None and head.task is not None,
            says=head is not None
            or bool(self.read.finishes)
            or any(not thing.kind.endswith("pronoun") for thing in things)
            or any(
                thing.kind == "part" and thing.preposition for thing in self.read.things
            ),  # "she'd like it | in the bars"
        )

    def _aspect(self, head: Head | None) -> str:
        """The verb group's kind; a participle further on makes a state what was done ("are on | and balanced")."""
        clause = self.clause
        behind = clause.verb is None or (head is not None and head.place >= clause.verb[1])
        if head is not None and head.form == "ed" and not head.particle and behind:
            return _STATE_WITH_PARTICIPLE.get(clause.aspect, clause.aspect)
        return clause.aspect

    def _named_new(self, things: Sequence[NounPhrase]) -> bool:
        return (self.clause.verb is None or self.clause.inherited) and all(thing.new for thing in things)

    def _told_new(self) -> bool:
        """ "the pipe's new": told of the thing, not its name."""
        verb = self.clause.verb
        if verb is None or verb[1] >= self.clause.last:
            return False
        there = verb[0] > self.clause.first and self.items[verb[0] - 1].word in ("there", "here")
        if there and self.clause.aspect == "state":
            return any(thing.new for thing in self.read.things[:2])  # "there's a new battery in it"
        if self.items[verb[1]].word not in ("new", "fresh"):
            return False
        return verb[1] + 1 == self.clause.last or self.items[verb[1] + 1].letter not in "PFSON"

    def _negated(self, head: Head | None) -> bool:
        """Whether it is denied; of states in a row only the one with "not": "pegs on | chain not on yet"."""
        if head is None or not head.particle or self.clause.verb is not None:
            return self.clause.negated
        before = [one.place for one in self.read.heads if one.place < head.place]
        since = self.items[before[-1]].end if before else self.clause.start
        until = self.items[head.place].start
        return any(cue.kind == "negation" and since <= cue.start < until for cue in self.clause.cues)

    def _instead(self, head: Head | None) -> frozenset[str]:
        """What is only named as what is not done: "painted | rather than plated"."""
        if head is None:
            return frozenset()
        at = self.items[head.place].start
        told = self.clause.connector == "than" or any(
            cue.kind == "negation" and cue.text in _INSTEAD and cue.end <= at for cue in self.clause.cues
        )
        return frozenset(("instead",)) if told else frozenset()

    def _beside(self, head: Head | None) -> frozenset[str]:
        """What else the clause shows: goods at a price, finishes still to choose from, a guess at what it is."""
        kinds = ["priced"] if self.read.prices else []
        names = {one.preposition for one in (*self.read.people, *self.read.suppliers)}
        if not names.isdisjoint(("to", "for", "at")):
            kinds += [f"{kind} somebody" for kind in ("goes to", "left for", "been to") if kind in self.clause.kinds]
        row = self.items[self.clause.first : self.clause.last]
        for before, item, after in zip(row, row[1:], row[2:], strict=False):
            if item.word == "or" and before.letter == after.letter == "F":
                kinds.append("choice")
        things = self.read.things
        guess = len(things) == 2 and things[0].determiner in ("that", "it") and things[1].determiner == "the"
        if guess and head is None and self.clause.aspect == "future" and not (self.read.dates or self.read.finishes):
            kinds.append("identified")  # "that'll be the solenoid"
        return frozenset(kinds)

    def _there(self) -> frozenset[str]:
        """Whether it is only told at whose place: "had them plated | at the plater's", "the trimmer's | got it"."""
        verb = self.clause.verb
        if self.clause.because.get("waiting", "").startswith(("at ", "with ")):
            return frozenset(("at their place",))
        if verb is None or self.items[verb[1] - 1].letter not in "hHK" or self.clause.aspect not in _HAVING:
            return frozenset()
        outside = any(
            one.end == verb[0] and one.found is not None and one.found.term is not None
            and (one.kind == "SUPPLIER" or one.found.term.sort == "outside")
            for one in (*self.read.people, *self.read.suppliers)
        )  # fmt: skip
        named = (
            any(one.end == verb[0] and not one.preposition for one in self.read.people)
            and self.clause.subject == "person"
        )
        return frozenset(("has it outside",)) if outside else frozenset(("has it here",)) if named else frozenset()

    def _missing(self, things: Sequence[NounPhrase]) -> bool:
        """Whether things are told as not there: "no mudguards", "without a screen", "not the front one"."""
        if any(thing.determiner == "no" for thing in things):
            return True
        starts = {self.items[thing.start].start for thing in things if thing.start < len(self.items)}
        cues = [cue for cue in self.clause.cues if cue.kind == "negation"]
        return any(cue.text in ("without", "none of", "no") or cue.end in starts for cue in cues)

    def _light(self) -> bool:
        """Whether the verb group ends in be, have, get or go: what is said lies in its object."""
        verb = self.clause.verb
        return self.clause.inherited or (verb is not None and self.items[verb[1] - 1].letter in "bsqkhHKIjJLwWnM")

    def _begun(self) -> bool:
        """Whether the verb group ends in a verb of starting or deciding, or says no more than that it is so."""
        verb = self.clause.verb
        return verb is None or self.items[verb[1] - 1].word in shipped_data("readings.yaml")["verbs of beginning"]

    def _tense(self) -> str | None:
        for found in self.read.dates:
            value = found.value or {}
            if value.get("relative") == "next" or value.get("days", 0) > 0:
                return "future"
            if value.get("relative") == "last" or value.get("days", 0) < 0:
                return "past"
            if self._went():
                return "past"
            if value.get("days") == 0 and self._to_come(found.canonical):
                return "future"
            if "weekday" in value or ("month" in value and value.get("relative") is None):
                return "future"
        return None

    def _to_come(self, day: str) -> bool:
        """Whether today is still to come: "goes in today", "putting it in tonight"; in "doing it today" it is not."""
        aspect = self.clause.aspect
        return aspect in ("future", "go", "changing", "bare") or (aspect == "progressive" and day in _LATER_TODAY)

    def _went(self) -> bool:
        """Whether the verb tells of what is over, so that "on tuesday" is the last one."""
        verb = self.clause.verb
        return verb is not None and (
            self.items[verb[0]].word in ("went", "got") or self.clause.aspect.startswith("past p")
        )
