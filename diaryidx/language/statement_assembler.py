"""Component ``statement_assembler``: from clauses to statements, one for each thing of which something is said.

Stand-ins ("it", "the rear one", "the other side") take the part that was spoken of last; "same on the other side"
repeats the last statement; "no, sorry, the right one" replaces it. What the discourse has brought so far is in a
``Discourse``, which ``reading`` carries from sentence to sentence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.clause_splitter import SOFT_CUES
from diaryidx.language.clause_reader import Head, ReadClause, read_clause
from diaryidx.language.found import Clause, Drafted, Found, Item, NounPhrase
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.language.status_rules import Shown, StatusRule, status_of
from diaryidx.language.themes import doings, finish_of
from diaryidx.records import RecordingKind
from diaryidx.vocabulary.loader import Vocabulary, shipped_data

_FINISHED = frozenset(("done", "finished", "complete", "completed"))
HEDGED = 0.65  # what a hedge leaves of certainty; common practice, no source
STAND_IN = 0.9  # what a stand-in leaves
_STATE_WITH_PARTICIPLE = {"state": "done state", "perfect state": "perfect passive", "past state": "past passive"}
CARRIED = 0.8  # what a verb carried over from the clause before leaves


@dataclass(slots=True)
class Topic:
    """A part that was spoken of, with its side."""

    part: str
    side: str | None = None
    plural: bool = False


@dataclass(slots=True)
class Discourse:
    """What the talk so far leaves for the next sentence. Cleared when a new topic begins."""

    film: RecordingKind = "other"
    topics: list[Topic] = field(default_factory=list)
    task: str | None = None
    last: list[Drafted] = field(default_factory=list)
    rule: StatusRule | None = None
    clause: Clause | None = None
    bike: bool = False

    def forget(self) -> None:
        """A new topic: nothing said before is meant any more."""
        self.topics, self.last, self.task, self.rule, self.clause = [], [], None, None, None


@Language.factory("statement_assembler", requires=["doc._.items", "doc._.clauses"], assigns=["doc._.statements"])
def make_statement_assembler(nlp: Language, name: str) -> StatementAssembler:
    """Build the component."""
    return StatementAssembler(vocabulary_of(nlp))


class StatementAssembler:
    """Sets ``doc._.statements`` (list of Drafted). Used as a component each text stands alone."""

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary

    def __call__(self, doc: Doc) -> Doc:
        """Assemble the statements of a text that stands alone."""
        doc._.statements = self.assemble(doc, Discourse())
        return doc

    def assemble(self, doc: Doc, discourse: Discourse) -> list[Drafted]:
        """Assemble the statements of one text within a discourse.

        Arguments:
            doc: with ``items`` and ``clauses`` set.
            discourse: what was said before; it is changed. Statements taken back by a correction are removed from
                ``discourse.last`` and, where they belong to this text, from the result.
        Returns: drafted statements in the order of speech.
        """
        drafts: list[Drafted] = []
        for place, clause in enumerate(doc._.clauses):
            self._clause(doc, place, clause, discourse, drafts)
        return drafts

    def _clause(self, doc: Doc, place: int, clause: Clause, discourse: Discourse, drafts: list[Drafted]) -> None:
        items: list[Item] = doc._.items
        read = read_clause(items, clause)
        if "correction" in clause.kinds and self._corrected(clause, place, read, items, discourse, drafts):
            return
        if _says_the_same(clause) and not any(head.task for head in read.heads) and discourse.last:
            repeated = self._repeated(clause, place, read, items, discourse)
            if repeated:
                self._keep(repeated, discourse, drafts)
                return
        made = _Maker(self.vocabulary, items, clause, place, read, discourse).make()
        if made:
            self._keep(made, discourse, drafts)
        _remember(read, discourse, self.vocabulary)

    def _keep(self, made: list[Drafted], discourse: Discourse, drafts: list[Drafted]) -> None:
        drafts += made
        discourse.last = made
        discourse.topics = [
            Topic(one.part, one.side, _is_plural(one.part, self.vocabulary)) for one in made if one.part
        ] or discourse.topics
        discourse.task = next((one.task for one in reversed(made) if one.task), discourse.task)

    # --- corrections and repetitions ---------------------------------------------------------------------------------

    def _corrected(
        self,
        clause: Clause,
        place: int,
        read: ReadClause,
        items: Sequence[Item],
        discourse: Discourse,
        drafts: list[Drafted],
    ) -> bool:
        """ "no, sorry, the right one": the last statement again with what was corrected; the wrong one goes."""
        cue = next((cue for cue in clause.cues if cue.kind == "correction"), None)
        if cue is None or not discourse.last or any(head.task for head in read.heads):
            return False
        things = [
            thing
            for thing in read.things
            if items[thing.end - 1].end > cue.end and thing.kind in ("part", "one", "side", "other")
        ]
        finishes = [finish for at, finish in read.finishes if items[at].end > cue.start]
        if not things and not finishes:
            return False
        wrong = discourse.last[-1]
        side, part, finish = wrong.side, wrong.part, wrong.finish
        if things:
            thing = things[-1]
            side = " ".join(thing.sides) or (self._opposite(side) if thing.kind == "other" else side)
            if thing.kind == "part" and thing.found:
                part = thing.found.canonical
                side = " ".join(thing.sides) or None
            finish = thing.finishes[-1] if thing.finishes else finish
        if finishes:
            finish = finishes[-1]
        right = replace(
            wrong,
            part=part,
            side=side,
            finish=finish,
            clause=place,
            rule=f"{wrong.rule}, corrected",
            start=wrong.start,
            end=clause.end,
        )
        if wrong in drafts:
            drafts.remove(wrong)
            right.start = wrong.start
        else:
            wrong.rule = "taken back"
        self._keep([right], discourse, drafts)
        return True

    def _repeated(
        self, clause: Clause, place: int, read: ReadClause, items: Sequence[Item], discourse: Discourse
    ) -> list[Drafted]:
        """ "same on the other side", "same again for the rear": the last statement, said of another thing."""
        repeated: list[Drafted] = []
        for thing in read.things:
            if thing.kind not in ("part", "side", "other", "one"):
                continue
            base = discourse.last[-1]
            side = " ".join(thing.sides) or None
            part = base.part
            if thing.kind == "part" and thing.found:
                part = thing.found.canonical
            elif thing.kind == "other" and side is None:
                side = self._opposite(base.side)
            repeated.append(
                replace(base, part=part, side=side, clause=place, rule=f"{base.rule}, the same", quantity=thing.quantity,
                        certainty=round(base.certainty * CARRIED, 3), start=clause.start, end=clause.end)
            )  # fmt: skip
        return repeated

    def _opposite(self, side: str | None) -> str | None:
        return self.vocabulary.opposites.get(side or "")


def _says_the_same(clause: Clause) -> bool:
    """Whether a clause repeats the one before; "and the rear" does so only where it has no verb of its own."""
    if "same" not in clause.kinds:
        return False
    return clause.verb is None or clause.because["same"] not in SOFT_CUES


def _remember(read: ReadClause, discourse: Discourse, vocabulary: Vocabulary) -> None:
    """Parts that were only named are what "it" means next."""
    named = [thing for thing in read.things if thing.kind == "part" and thing.found is not None]
    if named:
        discourse.topics = [
            Topic(thing.found.canonical, " ".join(thing.sides) or None, _is_plural(thing.found.canonical, vocabulary))
            for thing in named
            if thing.found
        ]


def _is_plural(part: str | None, vocabulary: Vocabulary) -> bool:
    return bool(part) and str(part).endswith("s") and not str(part).endswith("ss")


class _Maker:
    """Makes the statements of one clause."""

    def __init__(
        self,
        vocabulary: Vocabulary,
        items: Sequence[Item],
        clause: Clause,
        place: int,
        read: ReadClause,
        discourse: Discourse,
    ) -> None:
        self.vocabulary, self.items, self.clause, self.place = vocabulary, items, clause, place
        self.read, self.discourse = read, discourse
        self.carried = False

    def make(self) -> list[Drafted]:
        """All statements of the clause."""
        clause = self.clause
        if clause.verb is None and self.discourse.clause is not None and self._goes_on():
            self._carry_over(self.discourse.clause)
        made: list[Drafted] = []
        for doing in doings(self.items, clause, self.read):
            rule = self._rule(doing.head or doing.beside, doing.things)
            if rule is not None and rule.status is not None:
                made += self._statements(rule, doing.head, doing.things)
        if clause.verb is not None or clause.aspect != "none":
            self.discourse.clause = clause
        return _without_repeats(made)

    def _goes_on(self) -> bool:
        """Whether a clause without a verb goes on with the one before: it names things, and says nothing else."""
        return (
            bool(self.read.things or self.read.heads)
            and not {"waiting", "planned", "ruled out", "done"} & self.clause.kinds
        )

    def _carry_over(self, before: Clause) -> None:
        clause = self.clause
        clause.aspect, clause.waits, clause.inherited = before.aspect, before.waits, True
        if clause.subject == "none":
            clause.subject = before.subject
        clause.kinds = clause.kinds | (
            before.kinds & {"asked", "reported", "habit", "advice", "earlier", "condition", "waiting", "ruled out"}
        )
        self.carried = True

    # --- status ------------------------------------------------------------------------------------------------------

    def _rule(self, head: Head | None, things: list[NounPhrase]) -> StatusRule | None:
        clause = self.clause
        shown = Shown(
            kinds=clause.kinds,
            aspect=self._aspect(head),
            negated=clause.negated or any(thing.determiner == "no" for thing in things),
            subject=self._subject(),
            form=head.form if head else None,
            head=head is not None,
            finish=bool(self.read.finishes or any(thing.finishes for thing in things)),
            thing=any(thing.kind == "part" for thing in things),
            particle=bool(head and head.particle),
            date=self._tense(),
            film=self.discourse.film,
            connector=clause.connector,
            light=self._light(),
            says=head is not None or bool(self.read.finishes) or any(thing.kind != "pronoun" for thing in things),
        )
        return status_of(shown)

    def _aspect(self, head: Head | None) -> str:
        """The verb group's kind; a participle further on makes a state what was done ("are on | and balanced")."""
        clause = self.clause
        behind = clause.verb is None or (head is not None and head.place >= clause.verb[1])
        if head is not None and head.form == "ed" and not head.particle and behind:
            return _STATE_WITH_PARTICIPLE.get(clause.aspect, clause.aspect)
        return clause.aspect

    def _light(self) -> bool:
        """Whether the verb group ends in be, have, get or go: what is said lies in its object."""
        verb = self.clause.verb
        return self.clause.inherited or (verb is not None and self.items[verb[1] - 1].letter in "bsqkhHKIjJLwWnM")

    def _subject(self) -> str:
        return self.clause.subject

    def _tense(self) -> str | None:
        for found in self.read.dates:
            value = found.value or {}
            if value.get("relative") == "next" or value.get("days", 0) > 0:
                return "future"
            if value.get("relative") == "last" or value.get("days", 0) < 0:
                return "past"
            if "weekday" in value or ("month" in value and value.get("relative") is None):
                return "future"
        return None

    # --- statements --------------------------------------------------------------------------------------------------

    def _statements(self, rule: StatusRule, head: Head | None, things: list[NounPhrase]) -> list[Drafted]:
        made: list[Drafted] = []
        if head is not None and self._of_the_bike(head, things):
            return [self._draft(rule, head, None, None, None, None, False)]
        if head is None and not things and self._goes_on_about_finish():
            things = [NounPhrase("plural pronoun", self.clause.first, self.clause.first)]
        for thing in things:
            if head is not None and head.task is None and thing.kind.endswith("pronoun") and thing.preposition:
                continue  # "what we do on these": nothing is done to "these"
            finish = finish_of(thing, things, head, self.read)
            for part, side, stand_in in self._meant(thing):
                made.append(self._draft(rule, head, part, side, finish, thing.quantity, stand_in))
        if not things and head is not None and head.task and self._goes_on_about(head):
            for topic in self.discourse.topics:  # "the frame was blasted | then powder coated"
                made.append(self._draft(rule, head, topic.part, topic.side, self._loose_finish(), None, True))
        if not made and head is not None and (head.task or self._about_bike()):
            if not things or any(thing.kind in ("pronoun", "bike") for thing in self.read.things):
                made.append(self._draft(rule, head, None, None, self._loose_finish(), None, False))
        if not made and head is None and self.read.finishes and self._about_bike() and not self.discourse.topics:
            made.append(self._draft(rule, None, None, None, self._loose_finish(), None, False))  # "he wants it green"
        return [one for one in made if one.part or one.task or one.product or one.finish]

    def _goes_on_about(self, head: Head) -> bool:
        """Whether a clause that names nothing goes on about what was just spoken of: "just needs bleeding"."""
        clause = self.clause
        if clause.connector in ("which", "that") and clause.verb is not None and clause.subject == "none":
            return True
        if clause.inherited or clause.shares_subject or clause.subject == "none":
            return head.form == "ed" or (clause.aspect not in ("none", "bare", "verb") and head.form != "noun")
        return False

    def _goes_on_about_finish(self) -> bool:
        """ "the wheels that were to be gold | are now going black"."""
        alone = self.clause.subject == "none" or self.clause.shares_subject
        return bool(self.read.finishes) and alone and self.clause.verb is not None

    def _of_the_bike(self, head: Head, things: list[NounPhrase]) -> bool:
        """Whether a task is done to the bike as a whole: collected, road tested; "this one is finished"."""
        pointed = not any(thing.kind in ("part", "one", "side", "other") for thing in things)
        if head.found is not None and head.found.term is not None and head.found.term.sort == "bike":
            return pointed
        if head.task is not None or not pointed or self.items[head.place].word not in _FINISHED:
            return False
        bike = any(thing.kind == "bike" for thing in self.read.things) or bool(self.read.bikes)
        return bike or (
            not self.discourse.topics and any(thing.determiner in ("it", "that", "this") for thing in things)
        )

    def _about_bike(self) -> bool:
        return bool(self.read.bikes) or any(thing.kind in ("bike", "pronoun") for thing in self.read.things)

    def _meant(self, thing: NounPhrase) -> list[tuple[str | None, str | None, bool]]:
        """The parts and sides that a thing stands for."""
        side = " ".join(thing.sides) or None
        if thing.kind == "part" and thing.found is not None:
            return [(thing.found.canonical, side, False)]
        topics = self.discourse.topics
        if not topics:
            return []
        if thing.kind in ("plural pronoun",):
            return [(topic.part, topic.side, True) for topic in topics]
        last = topics[-1] if thing.kind != "pronoun" else self._single(topics)
        if thing.kind == "other":
            return [(last.part, side or self.vocabulary.opposites.get(last.side or ""), True)]
        if thing.kind in ("one", "side"):
            return [(last.part, side or last.side, True)]
        if thing.preposition and len(self.read.things) > 1:
            return []
        return [(last.part, last.side, True)]

    def _single(self, topics: list[Topic]) -> Topic:
        return next((topic for topic in reversed(topics) if not topic.plural), topics[-1])

    def _loose_finish(self) -> str | None:
        return self.read.finishes[-1][1] if self.read.finishes else None

    def _draft(
        self, rule: StatusRule, head: Head | None, part: str | None, side: str | None, finish: str | None,
        quantity: str | None, stand_in: bool,
    ) -> Drafted:  # fmt: skip
        clause = self.clause
        task = head.task if head else None
        if head is not None and task is None and part is None and self.items[head.place].word in _FINISHED:
            task = "finish"
        elif head is not None and task is None and head.form == "ing" and self._again(part):
            task = self.discourse.task  # "needs doing again"
        if head is not None and head.found is not None:
            task = self._sense(task, self.items[head.place].word, part)
        certainty = rule.certainty
        certainty *= HEDGED if "hedge" in clause.kinds or "condition" in clause.kinds else 1
        certainty *= STAND_IN if stand_in else 1
        certainty *= CARRIED if self.carried and not clause.first else 1
        assert rule.status is not None
        customer = rule.said_by == "customer" or "reported" in clause.kinds
        return Drafted(
            status=rule.status, rule=rule.name, certainty=round(certainty, 3), clause=self.place, part=part, side=side,
            task=task, finish=finish, quantity=quantity, said_by="customer" if customer else "shop", who=self._who(),
            when=self._when(), supplier=self._supplier(), product=self._product(), start=clause.start, end=clause.end,
            about_bike=part is None,
        )  # fmt: skip

    def _again(self, part: str | None) -> bool:
        """ "needs doing again": the task that was last done to this part."""
        last = next((one for one in reversed(self.discourse.last) if one.task), None)
        return last is not None and last.part == part

    def _sense(self, task: str | None, word: str, part: str | None) -> str | None:
        """A word that means another task when said of this part ("trimmed": a seat, upholstered)."""
        for sense in shipped_data("readings.yaml")["senses"]:
            if word.startswith(sense["word"]) and part in sense["parts"]:
                return str(sense["task"])
        return task

    def _who(self) -> str | None:
        """Who does it: the subject of the clause, else by whom or at whose place it is."""
        verb = self.clause.verb
        for person in [*self.read.people, *self.read.suppliers]:
            before = verb is not None and person.end <= verb[0] and not person.preposition
            if person.found is None or person.found.label != "PERSON":
                continue
            sort = person.found.term.sort if person.found.term else None
            if before and sort != "customer":
                return person.found.canonical
            if person.preposition in ("by", "with", "at", "to", "from", "for") and sort != "customer":
                return person.found.canonical
        return None

    def _when(self) -> str | None:
        return self.read.dates[0].canonical if self.read.dates else None

    def _supplier(self) -> str | None:
        return self.read.suppliers[0].found.canonical if self.read.suppliers and self.read.suppliers[0].found else None

    def _product(self) -> str | None:
        return self.read.products[0].found.canonical if self.read.products and self.read.products[0].found else None


def _without_repeats(made: list[Drafted]) -> list[Drafted]:
    seen: set[tuple[str | None, ...]] = set()
    kept: list[Drafted] = []
    for one in made:
        key = (one.part, one.side, one.task, one.finish, one.status)
        if key not in seen:
            seen.add(key)
            kept.append(one)
    return kept


def found_terms(doc: Doc) -> list[Found]:
    """Terms and measures of a text in reading order, measures outranking terms that they overlap."""
    measured = {place for one in doc._.measures for place in range(one.start, one.end)}
    terms = [one for one in doc._.terms if measured.isdisjoint(range(one.start, one.end))]
    return sorted([*terms, *doc._.measures], key=lambda one: one.start)
