"""Component ``statement_assembler``: from clauses to statements, one for each thing of which something is said.

Stand-ins ("it", "the rear one", "the other side") take the part that was spoken of last; "same on the other side"
repeats the last statement; "no, sorry, the right one" replaces it. What the talk has brought so far is in a
``Discourse``, which ``reading`` carries from sentence to sentence.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.answers import answered
from diaryidx.language.clause_cuts import SOFT_CUES
from diaryidx.language.clause_reader import ReadClause, read_clause
from diaryidx.language.dating import date_open, date_told_after
from diaryidx.language.found import Clause, Drafted, Found, Item, NounPhrase
from diaryidx.language.looks import with_looks_joined
from diaryidx.language.said_before import Discourse
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.language.statement_maker import CARRIED, make_statements
from diaryidx.records import Status
from diaryidx.vocabulary.loader import Vocabulary, shipped_data

TAKEN_BACK = "taken back"  # the rule of a statement that a later sentence corrected
_ARRIVED = "arrived or ready"  # the rule of what has come, and may be sent back
_REPEATABLE = ("part", "one", "side", "other")


@Language.factory("statement_assembler", requires=["doc._.items", "doc._.clauses"], assigns=["doc._.statements"])
def make_statement_assembler(nlp: Language, name: str) -> StatementAssembler:
    """Build the component."""
    return StatementAssembler(vocabulary_of(nlp))


class StatementAssembler:
    """Sets ``doc._.statements`` (list of Drafted). Used as a component, each text stands alone."""

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
            discourse: what was said before; it is renewed.
        Returns: drafted statements in the order of speech. A statement of an earlier text that this one corrects gets
            the rule ``TAKEN_BACK``; one of this text is left out.
        """
        drafts: list[Drafted] = []
        discourse.hear()
        items, clauses = doc._.items, doc._.clauses
        reads = [read_clause(items, clause) for clause in clauses]
        for place, clause in enumerate(clauses):
            read = reads[place]
            if _is_fronted(items, clauses, reads, place):
                discourse.name(read)
                discourse.fragment = True
                continue
            if _another_came(items, clause, read):
                discourse.forget()
            date = date_told_after(items, clause, read)
            if date is not None and date_open(
                discourse.last, drafts, doc.user_data["words"][clause.start : clause.end], date
            ):
                continue
            if answers := answered(clause, read, discourse, drafts):
                drafts += answers
                discourse.keep(answers)
                continue
            made = self._corrected(items, place, clause, read, discourse, drafts)
            alike = [] if made else self._repeated(items, place, clause, read, discourse)
            made = made or alike or make_statements(self.vocabulary, items, place, clause, read, discourse)
            _wait_at_their_place(clause, made, discourse.last)
            if made:
                drafts += made
                discourse.keep([*discourse.last, *made] if alike and discourse.heard else made)
            else:
                if not {"question", "asked on film"}.isdisjoint(clause.kinds):
                    discourse.asked = next((head.task for head in read.heads if head.task), None)
                discourse.name(read)
                if _names_unknown(items, clause, read):
                    discourse.topics = []  # "we've ordered a | grommet": "it" is no part spoken of before
            heading = discourse.fragment and not read.things  # "dip switch: | I'll only say that | kit is looking"
            discourse.fragment = not made and ((clause.verb is None and bool(read.things)) or heading)
            _remember_people(discourse, clause, read, made)
        return _without_overtaken(self.vocabulary, drafts)

    def _corrected(
        self,
        items: Sequence[Item],
        place: int,
        clause: Clause,
        read: ReadClause,
        discourse: Discourse,
        drafts: list[Drafted],
    ) -> list[Drafted]:
        """ "no, sorry, the right one": the last statement again with what was corrected; the wrong one goes."""
        cue = next((cue for cue in clause.cues if cue.kind == "correction"), None)
        if place and not drafts:
            return []  # it corrects a clause that stated nothing
        if cue is None or not discourse.last or any(head.task for head in read.heads):
            return []
        things = [one for one in read.things if one.kind in _REPEATABLE and items[one.end - 1].end > cue.end]
        finishes = [finish for at, finish in read.finishes if items[at].end > cue.start]
        if not things and not finishes:
            return []
        wrong = discourse.last[-1]
        right = self._said_of(wrong, things[-1]) if things else wrong
        said = [*(things[-1].finishes if things else ()), *finishes]
        finish = said[-1] if said else right.finish
        right = replace(right, finish=finish, clause=place, rule=f"{wrong.rule}, corrected", end=clause.end)
        if any(one is wrong for one in drafts):
            drafts[:] = [one for one in drafts if one is not wrong]
        else:
            wrong.rule = TAKEN_BACK
        return [right]

    def _repeated(
        self, items: Sequence[Item], place: int, clause: Clause, read: ReadClause, discourse: Discourse
    ) -> list[Drafted]:
        """ "same on the other side", "same again for the rear": the last statement, said of another thing."""
        if not discourse.last or any(head.task for head in read.heads):
            return []
        if not _says_the_same(clause) and not _goes_with_it(items, clause, read, discourse.last[-1].status):
            return []
        if clause.because.get("same") in SOFT_CUES and discourse.silent and not discourse.heard:
            return []  # "and the exhaust" as a sentence of its own asks rather than tells
        last = discourse.last[-1]
        return [
            replace(
                self._said_of(last, thing), clause=place, rule=f"{last.rule}, the same", quantity=thing.quantity,
                certainty=round(last.certainty * CARRIED, 3), start=clause.start, end=clause.end,
            )
            for thing in read.things
            if thing.kind in _REPEATABLE
        ]  # fmt: skip

    def _said_of(self, statement: Drafted, thing: NounPhrase) -> Drafted:
        """The same statement about another thing."""
        side = thing.sides[0] if thing.sides else None
        if thing.kind == "part" and thing.found is not None:
            return replace(statement, part=thing.found.canonical, side=side)
        if thing.kind == "other":
            side = side or self.vocabulary.opposites.get(statement.side or "")
        return replace(statement, side=side or statement.side)


COUNTING = frozenset(shipped_data("measures.yaml")["quantities"])
_NO_THINGS = frozenset(
    ("lot", "bit", "look", "moment", "minute", "while", "go", "little", "hand", "few", "couple", "way")
)


def _names_unknown(items: Sequence[Item], clause: Clause, read: ReadClause) -> bool:
    """Whether the object of a clause is a thing that no list knows: "it needs some new grommets"."""
    if (
        clause.verb is None
        or read.things
        or read.heads
        or clause.subject not in ("shop", "customer", "person", "thing")
    ):
        return False
    after = items[clause.verb[1] : clause.last]
    if not after or after[0].letter not in "DN" or (after[0].letter == "N" and after[0].word != "new"):
        return False
    nouns = [item.word for item in after if item.letter == "N"]
    return bool(nouns) and after[0].word != "no" and _NO_THINGS.isdisjoint(nouns) and after[-1].word == nouns[-1]


def _remember_people(discourse: Discourse, clause: Clause, read: ReadClause, made: Sequence[Drafted]) -> None:
    """Who "he" or "she" is next, and who goes on doing when no other is named."""
    named = [person.found.canonical for person in read.people if person.found is not None]
    if named:
        discourse.person = named[0]
    discourse.agent = made[-1].who if made else (None if clause.subject != "none" else discourse.agent)


def _is_fronted(items: Sequence[Item], clauses: Sequence[Clause], reads: Sequence[ReadClause], place: int) -> bool:
    """Whether a clause only names what the next one is about: "the piston rings | kwame is gapping"."""
    clause, read = clauses[place], reads[place]
    if clause.verb is not None or read.heads or read.finishes or place + 1 >= len(clauses):
        return False
    after, what = clauses[place + 1], reads[place + 1]
    named = any(thing.kind == "part" and not thing.preposition for thing in read.things)
    joined = not any(item.letter == "," for item in items[clause.last - 1 : after.first])
    acts = after.verb is not None and after.subject in ("person", "shop") and any(head.task for head in what.heads)
    return named and joined and acts and not any(not thing.preposition for thing in what.things)


def _wait_at_their_place(clause: Clause, made: Sequence[Drafted], last: Sequence[Drafted]) -> None:
    """What is being done to things that were just told to be away is waited for: "it's gone to them | being plated"."""
    if clause.aspect != "passive progressive":
        return
    away = {one.part: one for one in last if one.status == "waiting" and (one.supplier or one.who)}
    for one in made:
        if one.status == "in progress" and one.who is None and one.part in away:
            there = away[one.part]
            one.status, one.supplier, one.who = "waiting", there.supplier, there.who


def _another_came(items: Sequence[Item], clause: Clause, read: ReadClause) -> bool:
    """Whether a bare "this" came in: another bike, of which nothing has been said yet."""
    if clause.verb is None or not read.things:
        return False
    first = read.things[0]
    came = items[clause.verb[1] - 1].word in ("came", "come", "arrived", "rolled", "comes")
    return first.determiner == "this" and first.kind in ("pronoun", "bike") and first.end <= clause.verb[0] and came


def _without_overtaken(vocabulary: Vocabulary, drafts: list[Drafted]) -> list[Drafted]:
    """Without what the same breath overtakes: "it needs a cable and I've ordered one" is waiting, no longer planned,
    "it arrived and we sent it back" is waiting, "I said I'd do it and it's done" is done."""
    kept: list[Drafted] = []
    drafts = with_looks_joined(vocabulary, _without_bare_repeats(drafts))
    for place, one in enumerate(drafts):
        later = [
            other
            for other in drafts[place + 1 :]
            if _overtakes(other, one) and other.part == one.part and other.side in (None, one.side)
        ]
        if not later:
            kept.append(one)
        for other in later:
            other.supplier = other.supplier or one.supplier
    return kept


def _overtakes(other: Drafted, one: Drafted) -> bool:
    """Whether what is said later leaves nothing of what was said before it."""
    if (one.task and one.rule != "not yet so") or one.finish or not one.part or other.said_by != one.said_by:
        return False
    if other.status == "waiting":
        return (one.status in ("planned", "waiting") and one.when is None) or one.rule == _ARRIVED
    return other.status == "done" and one.status == "planned" and one.when is None and other.rule != _ARRIVED


def _without_bare_repeats(drafts: list[Drafted]) -> list[Drafted]:
    """Without what only says again, or only adds a date to, what is said of the same part in the same breath:
    "barney did the bearings | so they're done", "turned from solid | and they arrived on monday"."""
    kept: list[Drafted] = []
    for place, one in enumerate(drafts):
        later = (other for other in drafts[place + 1 :] if other.task or other.finish)
        if not one.part or _says_less(one, later):
            kept += [] if one.part else [one]
            continue
        said = [other for other in kept if _same_part(other, one) and _compatible(other.status, one.status)]
        bare = not (one.task or one.finish or one.product)
        dated = one.when is not None and all(_told(other, "when") in (None, _told(one, "when")) for other in said)
        if bare and said and dated and all(one.who in (None, other.who) for other in said):
            for other in said:
                other.when = one.when
        elif not _says_less(one, said):
            kept.append(one)
    return kept


_SLOTS = ("task", "finish", "quantity", "product", "supplier", "who", "when")


def _says_less(one: Drafted, others: Iterable[Drafted]) -> bool:
    """Whether another statement of this part and status says all that this one does."""
    return any(
        other.status == one.status
        and _same_part(other, one)
        and all(_told(one, slot) in (None, _told(other, slot)) for slot in _SLOTS)
        for other in others
    )


def _told(one: Drafted, slot: str) -> str | None:
    value: str | Found | None = getattr(one, slot)
    return value.canonical if isinstance(value, Found) else value


def _same_part(other: Drafted, one: Drafted) -> bool:
    alike = other.said_by == one.said_by or one.status == other.status == "ruled out"
    return other.part == one.part and alike and one.side in (None, other.side)


def _compatible(before: str, after: str) -> bool:
    """Whether a date said later with this status can be that of the earlier statement."""
    return before == after or (before in ("in progress", "waiting", "planned") and after in ("waiting", "planned"))


def _goes_with_it(items: Sequence[Item], clause: Clause, read: ReadClause, status: Status) -> bool:
    """Whether a thing goes where the one before does: "gear linkage with them", "the swingarm went with it"."""
    goes = clause.verb is None or items[clause.verb[1] - 1].word in ("went", "goes", "gone", "came", "come", "go")
    goes = goes or (clause.aspect == "state" and status == "waiting")  # "it's away | the seat's with it"
    parts = [one for one in read.things if one.kind == "part" and not one.preposition]
    with_it = any(one.kind.endswith("pronoun") and one.preposition == "with" for one in read.things)
    return goes and bool(parts) and with_it


def _says_the_same(clause: Clause) -> bool:
    """Whether a clause repeats the one before; "and the rear" does so only where it has no verb of its own."""
    if "same" not in clause.kinds:
        return False
    return clause.verb is None or clause.because["same"] not in SOFT_CUES


def _counts(items: Sequence[Item], quantity: Found) -> bool:
    """Whether a number counts parts ("two new mirrors", "a pair of bars", "both"); other numbers are no quantities."""
    if quantity.value is None or quantity.end - quantity.start > 1 or quantity.value.get("amount") is None:
        return True
    place = next((at for at, item in enumerate(items) if item.found is quantity), None)
    if place is None or items[place].word in COUNTING - {"both"}:
        return True
    if items[place].word == "both":
        return not place or items[place - 1].word not in _THOSE_WHO
    if place and items[place - 1].word in _NUMBERED:
        return False
    if [item.word for item in items[place + 1 : place + 2]] in (["them"], ["those"], ["these"]):  # "two of them"
        return any(item.letter == "P" for item in items[:place])
    behind_verb = place and (items[place - 1].word in _STANDS_ALONE_BEHIND or items[place - 1].letter in "EX")
    if behind_verb and _stands_alone(items, place + 1):
        return True  # "I've ordered two, just in case"
    for item in items[place + 1 : place + 5]:
        if item.letter in "PO" or item.word == "of":
            return True
        if item.letter not in "FSNQEAZ" or (item.letter == "N" and item.word.endswith("s")):
            return False  # "three things", "two coats of lacquer"
    return False


_THOSE_WHO = frozenset(("they", "we", "you", "us"))  # "they both leaked"
_NUMBERED = frozenset(("item", "number", "step", "stage", "page", "part", "job", "phase", "day", "question", "bay"))
_STANDS_ALONE_BEHIND = frozenset(("are", "'ve", "have", "has", "got", "were", "need", "needs", "all"))


def _stands_alone(items: Sequence[Item], place: int) -> bool:
    """Whether a number has nothing behind it that it could count but the parts spoken of: "I've two in stock"."""
    behind = items[place] if place < len(items) else None
    return behind is None or behind.letter in "&,r" or behind.word in ("in", "of", "left", "spare", ".", "!", "?")


def found_terms(doc: Doc) -> list[Found]:
    """Terms and measures of a text in reading order, measures outranking terms that they overlap."""
    measured = {place for one in doc._.measures for place in range(one.start, one.end)}
    measures = [one for one in doc._.measures if one.label != "QUANTITY" or _counts(doc._.items, one)]
    terms = [one for one in doc._.terms if measured.isdisjoint(range(one.start, one.end))]
    return sorted([*terms, *measures], key=lambda one: one.start)
