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

from diaryidx.language.clause_reader import Head, ReadClause, read_clause
from diaryidx.language.found import Clause, Drafted, Found, Item, NounPhrase
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.language.status_rules import Shown, StatusRule, status_of
from diaryidx.records import RecordingKind
from diaryidx.vocabulary.loader import Vocabulary

HEDGED = 0.65  # what a hedge leaves of certainty; common practice, no source
STAND_IN = 0.9  # what a stand-in leaves
CARRIED = 0.8  # what a verb carried over from the clause before leaves
_NO_DOING = frozenset(("none", "state", "have", "need", "want", "get", "causative done", "go", "changing", "perfect state", "verb", "past state", "modal", "future"))
_PAST_WORDS = ("last", "yesterday", "ago")


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


@Language.factory(
    "statement_assembler", requires=["doc._.items", "doc._.clauses"], assigns=["doc._.statements"]
)
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
        if "same" in clause.kinds and not any(head.task for head in read.heads) and discourse.last:
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
        self, clause: Clause, place: int, read: ReadClause, items: Sequence[Item], discourse: Discourse, drafts: list[Drafted]
    ) -> bool:
        """ "no, sorry, the right one": the last statement again with what was corrected; the wrong one goes."""
        cue = next((cue for cue in clause.cues if cue.kind == "correction"), None)
        if cue is None or not discourse.last or any(head.task for head in read.heads):
            return False
        things = [thing for thing in read.things if items[thing.end - 1].end > cue.end and thing.kind in ("part", "one", "side", "other")]
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
            wrong, part=part, side=side, finish=finish, clause=place, rule=f"{wrong.rule}, corrected", start=wrong.start, end=clause.end
        )
        if wrong in drafts:
            drafts.remove(wrong)
            right.start = wrong.start
        else:
            wrong.rule = "taken back"
        self._keep([right], discourse, drafts)
        return True

    def _repeated(self, clause: Clause, place: int, read: ReadClause, items: Sequence[Item], discourse: Discourse) -> list[Drafted]:
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
        self, vocabulary: Vocabulary, items: Sequence[Item], clause: Clause, place: int, read: ReadClause, discourse: Discourse
    ) -> None:
        self.vocabulary, self.items, self.clause, self.place = vocabulary, items, clause, place
        self.read, self.discourse = read, discourse
        self.carried = False

    def make(self) -> list[Drafted]:
        """All statements of the clause."""
        clause = self.clause
        if clause.verb is None and self.discourse.clause is not None and self._goes_on():
            self._carry_over(self.discourse.clause)
        heads = self._heads()
        made: list[Drafted] = []
        for head in heads or [None]:
            things = self._things(head)
            rule = self._rule(head, things)
            if rule is None or rule.status is None:
                continue
            made += self._statements(rule, head, things)
        if clause.verb is not None or clause.aspect != "none":
            self.discourse.clause = clause
        return _without_repeats(made)

    def _goes_on(self) -> bool:
        """Whether a clause without a verb goes on with the one before: it names things, and says nothing else."""
        return bool(self.read.things or self.read.heads) and not {"waiting", "planned", "ruled out", "done"} & self.clause.kinds

    def _carry_over(self, before: Clause) -> None:
        clause = self.clause
        clause.aspect, clause.waits, clause.inherited = before.aspect, before.waits, True
        if clause.subject == "none":
            clause.subject = before.subject
        clause.kinds = clause.kinds | (before.kinds & {"asked", "reported", "habit", "advice", "earlier", "condition", "waiting", "ruled out"})
        self.carried = True

    # --- tasks -------------------------------------------------------------------------------------------------------

    def _heads(self) -> list[Head]:
        heads = [head for head in self.read.heads if head.form != "noun" or head.task]
        verbal = [head for head in heads if head.form != "noun"]
        if verbal and any(head.task for head in verbal):
            named = [head for head in verbal if head.task]
            return named if not self._noun_adds(heads) else [*named]
        if heads and verbal and not any(head.task for head in verbal):
            nouns = [head for head in heads if head.form == "noun"]
            return nouns or verbal[:1]
        return heads

    def _noun_adds(self, heads: list[Head]) -> bool:
        return any(head.form == "noun" for head in heads)

    # --- things ------------------------------------------------------------------------------------------------------

    def _things(self, head: Head | None) -> list[NounPhrase]:
        """Of which things the clause speaks with this task (or without any)."""
        things = [thing for thing in self.read.things if thing.kind != "bike"]
        if not things:
            return []
        verb = self.clause.verb
        verb_start = verb[0] if verb else self.clause.first
        verb_end = verb[1] if verb else self.clause.first
        subject = [thing for thing in things if thing.end <= verb_start and not thing.preposition] if verb else []
        after = [thing for thing in things if thing.start >= verb_start]
        objects = [thing for thing in after if not self._only_where(thing)]
        if verb is None:
            return _parts_first([thing for thing in things if not self._only_where(thing)] or things)
        if head is not None and head.place >= verb_end and head.form != "noun":
            between = [thing for thing in objects if thing.end <= head.place]
            behind = [thing for thing in objects if thing.start > head.place]
            if self.clause.waits and between:
                return self._own(between, head)
            if behind and not self._passive():
                return self._own(behind, head)
            return self._own(between or subject or behind or after, head)
        if self._passive() or (head is not None and head.particle):
            chosen = subject or objects
        elif head is None and self.clause.aspect in ("state", "past state", "perfect state", "changing", "done state"):
            chosen = subject if _real(subject) or not _real(objects) else (objects if "waiting" in self.clause.kinds else subject)
        else:
            chosen = objects or subject
        if not _real(chosen) and chosen is objects and subject and self.clause.aspect in _NO_DOING:
            chosen = subject
        if not chosen:
            chosen = after or subject
        return self._own(chosen, head)

    def _own(self, things: list[NounPhrase], head: Head | None) -> list[NounPhrase]:
        """Of several tasks each takes the things that follow it, where any do."""
        heads = [one for one in self.read.heads if one.form != "noun"]
        if head is None or len(heads) < 2 or head not in heads:
            return _parts_first(things)
        number = heads.index(head)
        until = heads[number + 1].place if number + 1 < len(heads) else self.clause.last
        following = [thing for thing in things if head.place < thing.start < until]
        return _parts_first(following or things)

    def _passive(self) -> bool:
        return self.clause.aspect in ("perfect passive", "passive progressive", "past passive", "done state", "passive need", "get done", "past passive progressive") or (
            self.clause.aspect in ("need", "future", "modal", "got to") and self._ends_passive()
        )

    def _ends_passive(self) -> bool:
        verb = self.clause.verb
        if verb is None:
            return False
        letters = "".join(item.letter for item in self.items[verb[0] : verb[1]])
        return letters[-1:] in "EeGK" and ("k" in letters or "K" in letters or letters.startswith("w"))

    def _only_where(self, thing: NounPhrase) -> bool:
        """Whether a thing after "to", "on", "from" only says where."""
        return thing.preposition in ("to", "onto", "into", "in", "on", "from", "off", "under", "between", "behind", "around", "through", "by", "near", "inside", "as", "like", "against", "over", "along", "across", "at", "before", "after", "during", "out") or (
            thing.preposition in ("of", "with", "for") and any(not one.preposition and one.start > (self.clause.verb or (0, 0))[0] and one.kind == "part" for one in self.read.things)
        )

    # --- status ------------------------------------------------------------------------------------------------------

    def _rule(self, head: Head | None, things: list[NounPhrase]) -> StatusRule | None:
        clause = self.clause
        shown = Shown(
            kinds=clause.kinds,
            aspect=clause.aspect,
            negated=clause.negated or any(thing.determiner == "no" for thing in things),
            subject=self._subject(),
            form=head.form if head else None,
            head=head is not None,
            finish=bool(self.read.finishes or any(thing.finishes for thing in things)),
            thing=any(thing.kind == "part" for thing in things),
            particle=bool(head and head.particle),
            date=self._tense(),
            film=self.discourse.film,
        )
        return status_of(shown)

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
        for thing in things:
            finish = self._finish(thing, things)
            for part, side, stand_in in self._meant(thing):
                made.append(self._draft(rule, head, part, side, finish, thing.quantity, stand_in))
        if not made and head is not None and (head.task or self._about_bike()):
            if not things or any(thing.kind in ("pronoun", "bike") for thing in self.read.things):
                made.append(self._draft(rule, head, None, None, self._loose_finish(), None, False))
        return [one for one in made if one.part or one.task or one.product]

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

    def _finish(self, thing: NounPhrase, things: list[NounPhrase]) -> str | None:
        """The finish said of a thing: right after it, after the whole row of things, else before it."""
        after = self._finish_after(thing, things)
        if after and thing.finishes and thing.determiner not in ("the", "this", "that", "those", "these"):
            return after if after == thing.finishes[0] else f"{thing.finishes[0]} {after}"
        return after or (thing.finishes[0] if thing.finishes else None)

    def _finish_after(self, thing: NounPhrase, things: list[NounPhrase]) -> str | None:
        for at, finish in self.read.finishes:
            if at < thing.start:
                continue
            between = [one for one in things if one.start > thing.start and one.end <= at]
            first_after = min((place for place, _ in self.read.finishes if place >= thing.end), default=at)
            if at != first_after:
                continue
            if not between or not any(thing.end <= place < one.start for one in between for place, _ in self.read.finishes):
                return finish
        if self.read.finishes and thing.kind != "part" and len(self.read.finishes) == 1:
            return self.read.finishes[0][1]
        return None

    def _loose_finish(self) -> str | None:
        return self.read.finishes[-1][1] if self.read.finishes else None

    def _draft(
        self, rule: StatusRule, head: Head | None, part: str | None, side: str | None, finish: str | None,
        quantity: str | None, stand_in: bool,
    ) -> Drafted:  # fmt: skip
        clause = self.clause
        task = head.task if head else None
        if head is not None and task is None and self._again():
            task = self.discourse.task
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

    def _again(self) -> bool:
        """ "needs doing again": the task that was spoken of before."""
        span = [item.word for item in self.items[self.clause.first : self.clause.last]]
        return any(word in ("doing", "do") for word in span)

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


def _real(things: list[NounPhrase]) -> bool:
    return any(thing.kind in ("part", "one", "side", "other") for thing in things)


def _parts_first(things: list[NounPhrase]) -> list[NounPhrase]:
    """Parts and their stand-ins; bare pronouns only where there is nothing else."""
    real = [thing for thing in things if thing.kind in ("part", "one", "side", "other")]
    return real or things


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
