"""The statements of one clause: what is done to what, how far it is, who says so, who does it, when, how sure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from diaryidx.language.clause_reader import Head, ReadClause
from diaryidx.language.finishes import finishes_of, is_tool
from diaryidx.language.found import Clause, Drafted, Found, Item, NounPhrase
from diaryidx.language.said_before import Discourse, Topic, without_repeats
from diaryidx.language.showing import Showing
from diaryidx.language.status_rules import StatusRule, of_the_bike, status_of
from diaryidx.language.themes import doings
from diaryidx.records import OPEN_STATUSES, Status
from diaryidx.vocabulary.loader import Vocabulary, shipped_data

HEDGED = 0.65  # what a hedge leaves of certainty; this and the next two: common practice, no source
STAND_IN = 0.9  # what a stand-in ("it", "the rear one") leaves
CARRIED = 0.8  # what a verb carried over from another clause leaves
_FINISHED = frozenset(("done", "finished", "complete", "completed"))
_ACTIVE = frozenset(
    ("perfect", "past", "progressive", "future", "perfect progressive", "causative done", "past progressive")
)
_CARRIED_KINDS = frozenset(
    ("asked", "reported", "habit", "advice", "earlier", "condition", "waiting", "ruled out", "doubted")
)
_CARRYING = ("not yet so", "not yet", "partly done")  # rules that may tell how far the last task is on another thing
_WAITS = ("wait", "still waiting", "short of", "await", "chasing", "expect")
_OWN_STATE = frozenset(("waiting", "planned", "ruled out", "done"))


@dataclass(frozen=True, slots=True)
class Meant:
    """What a thing in a clause stands for. ``stand_in``: it was not named but pointed back to."""

    part: str | None = None
    side: str | None = None
    product: str | None = None
    stand_in: bool = False


def make_statements(
    vocabulary: Vocabulary,
    items: Sequence[Item],
    place: int,
    clause: Clause,
    read: ReadClause,
    discourse: Discourse,
) -> list[Drafted]:
    """Make the statements of one clause.

    Arguments:
        vocabulary: for opposite sides.
        items: the row of the whole text.
        place: the clause's place in the text.
        clause: with its scopes; a clause without a verb takes over the verb before it.
        read: what the clause holds.
        discourse: what was said before; its last verb is renewed.
    Returns: drafted statements, in the order of speech.
    """
    if clause.verb is None and discourse.clause is not None and _goes_on(items, clause, read):
        _carry_over(clause, discourse.clause)
    maker = _Maker(vocabulary, items, place, clause, read, discourse)
    showing = Showing(items, clause, read, discourse.film)
    made: list[Drafted] = []
    for doing in doings(items, clause, read):
        rule = status_of(showing.shown(doing.head or doing.beside, doing.things))
        if rule is not None and rule.status is not None:
            drafts = maker.statements(rule, doing.head, doing.things)
            made += [replace(one, beside=doing.beside is not None) for one in drafts]
    if clause.aspect != "none":
        discourse.clause = clause
    return without_repeats(made)


def _goes_on(items: Sequence[Item], clause: Clause, read: ReadClause) -> bool:
    """Whether a clause without a verb goes on with the one before: it names things, and tells no state of its own."""
    if clause.first and items[clause.first - 1].word in (".", "?", "!", ";", ":"):
        return False
    to_do = bool(read.heads) and all(head.form == "infinitive" for head in read.heads)  # "just the horn | to wire up"
    return bool(read.things or read.heads) and not to_do and _OWN_STATE.isdisjoint(clause.kinds)


def _carry_over(clause: Clause, before: Clause) -> None:
    clause.aspect, clause.waits, clause.inherited = before.aspect, before.waits, True
    clause.subject = before.subject if clause.subject == "none" else clause.subject
    clause.kinds = clause.kinds | (before.kinds & _CARRIED_KINDS)


class _Maker:
    def __init__(
        self,
        vocabulary: Vocabulary,
        items: Sequence[Item],
        place: int,
        clause: Clause,
        read: ReadClause,
        discourse: Discourse,
    ) -> None:
        self.vocabulary, self.items, self.place = vocabulary, items, place
        self.clause, self.read, self.discourse = clause, read, discourse
        self.rule_carries = False

    def statements(self, rule: StatusRule, head: Head | None, things: list[NounPhrase]) -> list[Drafted]:
        """One statement for each thing; without things, of what was spoken of before or of the bike as a whole."""
        if head is not None and self._of_the_bike(head, things):
            return [self._draft(rule, head, Meant())]
        if any(one.determiner == "nothing" for one in things):
            return []  # "nothing got painted"
        if things and all(is_tool(one) for one in things):
            return []  # the shop's own tools are no part of a bike
        if rule.name == "planned for later" and head is None and self._only_a_day(things):
            return []
        things = [one for one in things if not (head and not head.task and _only_pointed(one))]
        told = rule.status not in ("asked for", "ruled out")
        self.rule_carries = rule.name in _CARRYING
        made = [
            self._draft(rule, head, meant, finish, thing.quantity, self._own_day(thing))
            for thing in things
            for meant in self._meant(thing)
            for finish in finishes_of(thing, things, head, self.read, told) or (None,)
        ]
        if not things and self._goes_on_about(head):
            made = [
                self._draft(rule, head, Meant(topic.part, topic.side, stand_in=True), finish)
                for topic in self.discourse.topics
                for finish in self._loose_finishes()
            ]
        if not made and self._whole_bike(rule, head, things):
            made = [self._draft(rule, head, Meant(), finish) for finish in self._loose_finishes()]
        habit = rule.status == "usual practice" and head is not None and head.form in ("noun", "ing")
        return [one for one in made if one.part or one.product or one.finish or _tells_enough(one, habit)]

    def _only_a_day(self, things: list[NounPhrase]) -> bool:
        """Whether a clause only names a day ("it's going to be november") and nothing just said is still open."""
        if not things or self.read.finishes or not all(_is_pronoun(one) for one in things):
            return False
        if self.clause.verb is not None and self.items[self.clause.verb[1] - 1].letter not in "kbs":
            return False  # "they'll go back on tomorrow"
        last = self.discourse.last
        return not last or last[-1].status not in OPEN_STATUSES

    def _goes_on_about(self, head: Head | None) -> bool:
        """Whether a clause that names nothing goes on about what was just spoken of: "just needs bleeding"."""
        clause = self.clause
        alone = clause.inherited or clause.shares_subject or clause.subject == "none" or self.discourse.fragment
        if head is None and clause.verb is None:  # "rearsets: | hopefully next week"
            return bool(self.read.dates) and self.discourse.fragment
        if head is None:  # "the wheels that were to be gold | are now going black", "should be here in two weeks"
            says = bool(self.read.finishes) or not {"waiting", "in progress"}.isdisjoint(clause.kinds)
            return says and alone and clause.verb is not None
        if not head.task:  # "how often do we grease the bearings? | we always do"
            return "habit" in clause.kinds and clause.subject == "shop" and self.discourse.asked is not None
        if clause.connector in ("which", "that") and clause.verb is not None:
            return True  # "a new swingarm | which we've ordered"
        if head.form == "noun" and head.preposition in ("for", "from") and clause.verb is not None:
            return alone  # "goes out for paint on friday"
        return alone and (head.form == "ed" or (clause.aspect not in ("none", "bare", "verb") and head.form != "noun"))

    def _of_the_bike(self, head: Head, things: list[NounPhrase]) -> bool:
        """Whether a task is done to the bike as a whole: collected, road tested; "this one is finished"."""
        if any(thing.kind in ("part", "product", "one", "side", "other") for thing in things):
            return False
        if self.discourse.topics and any(thing.determiner in ("them", "they", "those") for thing in things):
            return False  # "the rims are ready so I'll collect them"
        if head.found is not None and head.found.term is not None and head.found.term.sort == "bike":
            return True
        if head.task is not None or self.items[head.place].word not in _FINISHED:
            return False
        it = not self.discourse.topics and any(thing.determiner in ("it", "that", "this") for thing in things)
        return it or bool(self.read.bikes) or any(thing.kind == "bike" for thing in self.read.things)

    def _whole_bike(self, rule: StatusRule, head: Head | None, things: list[NounPhrase]) -> bool:
        """Whether a statement without a part is worth making: "it needs a rewire", "he wants it green"."""
        pointed = any(thing.kind in ("bike", "pronoun") for thing in self.read.things)
        if head is not None and head.particle:
            return False  # "this one's been in since spring"
        if head is not None:
            return (bool(head.task) and not things) or pointed or (bool(self.read.bikes) and not things)
        bike = (pointed or bool(self.read.bikes)) and not self.discourse.topics
        return bool(self.read.finishes) and (bike or (rule.name == "chosen" and not things))

    def _meant(self, thing: NounPhrase) -> list[Meant]:
        """The parts and sides that a thing stands for."""
        return [meant for side in thing.sides or (None,) for meant in self._meant_at(thing, side)]

    def _meant_at(self, thing: NounPhrase, side: str | None) -> list[Meant]:
        if thing.found is not None and thing.kind == "part":
            return [Meant(thing.found.canonical, side or self._side_of_whole(thing), thing.product)]
        if thing.found is not None and thing.kind == "product":
            return [Meant(None, side, thing.found.canonical)]
        if thing.kind == "plural pronoun":
            return [Meant(topic.part, topic.side, stand_in=True) for topic in self.discourse.topics]
        topic = (
            self.discourse.single() if thing.kind == "pronoun" else self._named_before(thing) or self.discourse.newest()
        )
        beside = (
            thing.kind == "pronoun"
            and thing.preposition
            and {"waiting", "in progress", "ruled out"}.isdisjoint(self.clause.kinds)
        )
        if topic is None and thing.kind == "side" and any(head.task for head in self.read.heads):
            return [Meant(None, side)]  # "i've bled the front"
        if topic is None or beside:
            return []  # "ordered some new rubber for it"
        return [Meant(topic.part, self._side_meant(thing, side, topic), stand_in=True)]

    def _side_of_whole(self, thing: NounPhrase) -> str | None:
        """The side of the thing that a part is part of: "the front brake's stripped | the shoes are relined"."""
        assert thing.found is not None
        part = thing.found.canonical
        here = [one for one in self.read.things if one.kind == "part" and one.end <= thing.start and one.found]
        sided = [Topic(one.found.canonical, one.sides[0]) for one in here if one.found and len(one.sides) == 1]
        inside = any(one.preposition in ("in", "on", "inside") and _is_pronoun(one) for one in self.read.things)
        if sided and sided[-1].side != "both" and (here[-1].sides or inside):
            return sided[-1].side if self._is_part_of(part, sided[-1].part, loosely=True) else None
        whole = self.discourse.whole
        both = any(self.items[one.end - 1].word == "both" for one in self.read.things)
        if whole is None or here or both:
            return None
        return whole.side if self._is_part_of(part, whole.part, loosely=inside) else None

    def _is_part_of(self, part: str, whole: str, *, loosely: bool) -> bool:
        """Whether a part belongs to a thing that a bike has on either side; loosely, small parts of anything do."""
        words = shipped_data("readings.yaml")
        if loosely and part in words["parts of anything"]:
            return True
        wholes = {whole, *self._wholes(whole)} & set(words["things with a side"])
        return part != whole and not wholes.isdisjoint(self._wholes(part))

    def _wholes(self, part: str) -> list[str]:
        found: list[str] = []
        term = self.vocabulary.term(part, "PART")
        while term is not None and term.part_of is not None and term.part_of not in found:
            found.append(term.part_of)
            term = self.vocabulary.term(term.part_of, "PART")
        return found

    def _named_before(self, thing: NounPhrase) -> Topic | None:
        """The part that the same clause names before "one": "the throttle cable's too short | new one ordered"."""
        parts = [
            one for one in self.read.things if one.kind == "part" and one.end <= thing.start and not one.preposition
        ]
        if not parts or parts[-1].found is None:
            return None
        return Topic(parts[-1].found.canonical, parts[-1].sides[0] if parts[-1].sides else None)

    def _side_meant(self, thing: NounPhrase, side: str | None, topic: Topic) -> str | None:
        if thing.kind == "other":
            return side or self.vocabulary.opposites.get(topic.side or "")
        return side or topic.side

    def _loose_finishes(self) -> list[str | None]:
        return [finish for _, finish in self.read.finishes] or [None]

    def _draft(
        self,
        rule: StatusRule,
        head: Head | None,
        meant: Meant,
        finish: str | None = None,
        quantity: str | None = None,
        day: Found | None = None,
    ) -> Drafted:
        assert rule.status is not None  # rules without a status make no statement
        clause = self.clause
        certainty = rule.certainty * (STAND_IN if meant.stand_in else 1)
        certainty *= HEDGED if {"hedge", "condition"} & clause.kinds else 1
        certainty *= CARRIED if clause.inherited and self.place == 0 else 1
        customer = rule.said_by == "customer" or self._refused_by_customer(rule.status)
        return Drafted(
            status=rule.status, rule=rule.name, certainty=round(certainty, 3), clause=self.place, part=meant.part,
            side=meant.side, task=self._task(head, meant, rule.status), finish=finish, product=meant.product,
            supplier=_first_name(self.read.suppliers), quantity=quantity, said_by="customer" if customer else "shop",
            who=self._who(rule.status, customer), when=day or self._when(head), start=clause.start,
            end=clause.end,
        )  # fmt: skip

    def _own_day(self, thing: NounPhrase) -> Found | None:
        """The day said of this thing alone: "we'll do the front on monday and the rear on tuesday"."""
        if len(self.read.dates) < 2:
            return None
        until = min((one.start for one in self.read.things if one.start >= thing.end), default=len(self.items))
        own = [item.found for item in self.items[thing.end : until] if item.letter == "%" and item.found is not None]
        return own[0] if own else None

    def _when(self, head: Head | None) -> Found | None:
        """The date said; in a row of states the one that follows its own: "risers on | grips tomorrow"."""
        dates = self.read.dates
        if head is not None and head.particle and self.clause.verb is None:
            things = [self.items[one.start].start for one in self.read.things if one.start > head.place]
            until = min(things, default=None)
            dates = [one for one in dates if until is None or one.start < until]
        return dates[0] if dates else None

    def _refused_by_customer(self, status: Status) -> bool:
        """Whether a wish or a refusal is the customer's: told as such, or with the customer as its subject."""
        if status not in ("asked for", "ruled out"):
            return False
        return "reported" in self.clause.kinds or self.clause.subject == "customer"

    def _task(self, head: Head | None, meant: Meant, status: Status) -> str | None:
        """The task that a word means here: "trimmed" of a seat, "doing again", "finished" of the whole bike."""
        part = meant.part
        if head is None and self.rule_carries and meant.stand_in and meant.part is not None:
            return self.discourse.task_done_to(meant.part)  # "halfway through the front one"
        if "brings" in self.clause.kinds and status == "waiting":
            return None
        if head is None or head.task == "order":
            return None if head is None or status == "waiting" else head.task
        word = self.items[head.place].word
        if head.task is None:
            if part is None and word in _FINISHED:
                return "finish"
            if status == "usual practice":  # "how often do we grease the bearings? | we always do them"
                return self.discourse.asked
            if head.form == "ing" or (meant.stand_in and meant.side is not None):  # "got the left one | done"
                return self.discourse.task_done_to(part)
            return self.discourse.whole_task  # "i'm wiring it | the back end is done"
        for sense in shipped_data("readings.yaml")["senses"]:
            if word.startswith(sense["word"]) and part in sense["parts"]:
                return str(sense["task"])
        return head.task

    # --- who ---------------------------------------------------------------------------------------------------------

    def _who(self, status: Status, customer: bool) -> str | None:
        """Who does it: the subject of the clause, else by whom or at whose place; a customer does no work.

        Nobody does what is only wished or refused, and who waits for parts ("jude's waiting on bearings") is not
        waited for.
        """
        if customer or status == "ruled out":
            return None
        if "brings" in self.clause.kinds and status == "waiting" and self.clause.subject == "customer":
            return "customer"
        if status == "waiting" and re.search(r"\b(?:on|for) (?:him|her)$", self._waited_for()):
            return self.discourse.person or "customer"  # "we're waiting on him for that"
        verb = self.clause.verb
        waits = status == "waiting" and self.clause.because.get("waiting", "").startswith(_WAITS)
        for person in reversed(self.read.people):
            if person.found is None or (person.found.term is not None and person.found.term.sort == "customer"):
                continue
            subject = verb is not None and person.end <= verb[0] and not person.preposition
            if (subject and not waits) or person.preposition in ("by", "with", "at", "to", "from", "for", "on"):
                return person.found.canonical
        return None if waits else self._name_before_verb() or self._meant_person()

    def _waited_for(self) -> str:
        """The words of the cue that tells of waiting, with the word behind it."""
        cue = next((one for one in self.clause.cues if one.kind == "waiting" and one.text.startswith(_WAITS)), None)
        behind = next((item.word for item in self.items if cue is not None and item.start == cue.end), "")
        return f"{cue.text} {behind}" if cue is not None else ""

    def _meant_person(self) -> str | None:
        """Who "she" is, or who goes on doing ("ozan made that | and then welded it"): whoever did something last."""
        clause = self.clause
        if clause.shares_subject or clause.inherited:
            return self.discourse.agent
        if clause.verb is None or clause.subject != "customer":
            return None
        if self.items[clause.verb[0] - 1].word in ("he", "she"):
            himself = any(item.word in ("himself", "herself") for item in self.items[clause.first : clause.last])
            return "customer" if himself else self.discourse.person
        return None

    def _name_before_verb(self) -> str | None:
        """A name that no list knows: one bare word that does something ("martin's painted the frame")."""
        verb, first = self.clause.verb, self.clause.first
        if verb is None or verb[0] != first + 1 or self.items[first].letter != "N" or self.clause.aspect not in _ACTIVE:
            return None
        word = self.items[first].word
        named = word.isalpha() and len(word) > 2 and word not in shipped_data("readings.yaml")["no names"]
        return word.capitalize() if named else None


def _tells_enough(one: Drafted, habit: bool) -> bool:
    """Whether a statement without a part is worth making: of a side, of the bike as a whole, of what is always done."""
    return one.task is not None and (habit or one.side is not None or one.task in of_the_bike())


def _is_pronoun(thing: NounPhrase) -> bool:
    return thing.kind.endswith("pronoun")


def _only_pointed(thing: NounPhrase) -> bool:
    """A pronoun after a preposition: in "what we do on these" nothing is done to "these"."""
    return _is_pronoun(thing) and bool(thing.preposition)


def _first_name(names: list[NounPhrase]) -> str | None:
    return names[0].found.canonical if names and names[0].found else None
