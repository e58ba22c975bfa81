"""Component ``scopes``: which cue reaches which clause.

After NegEx (Chapman, Bridewell, Hanbury, Cooper and Buchanan 2001, "A simple algorithm for identifying negated findings
and diseases in discharge summaries", Journal of Biomedical Informatics 34(5)) with its pseudo-negations, and ConText
(Chapman, Chu and Dowling 2007, "ConText: an algorithm for identifying contextual features from clinical text"; Harkema,
Dowling, Thornblade and Chapman 2009, "ConText: an algorithm for determining negation, experiencer, and temporal status
from clinical reports", JBI 42(5)): negation, who speaks or wishes, and time are scopes that begin at a cue and end at
a terminator. Here the terminators are the clause ends of ``clause_splitter``, and cues that reach through a sentence
("he asked whether ...") end where the shop speaks for itself again. Given other cues with ``ends_at: cues``, it does
as those papers do: a scope runs ``forward`` or ``backward`` to the next cue of its kind or of kind "end ..." of it.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Any

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.discourse import words_of
from diaryidx.language.found import Clause, Cue, Item
from diaryidx.language.phrases import Cues, shipped_cues

_OWN_WORDS = frozenset(
    (
        "perfect",
        "perfect passive",
        "perfect progressive",
        "causative done",
        "past",
        "progressive",
        "future",
        "have",
        "need",
        "got to",
    )
)
_TOLD_AS_FACT = frozenset(("perfect", "perfect passive", "causative done", "progressive", "future"))
_THINGS = frozenset("PFEGTXZS")
_ENDS = (".", "?", "!", ";")
_SPREADS = frozenset(("hedge", "earlier", "habit", "reported", "only talked about"))
_THERE = (["there", "'s"], ["there", "are"], ["there", "is"])
_IT = frozenset(("it", "that", "this", "which", "they", "those", "these"))
_US = frozenset(("i", "we", "you"))
_ANSWERS = frozenset(("said", "told", "replied", "says"))
_SOMEBODY = frozenset(("somebody", "someone"))
_TOLD_OF_BEFORE = frozenset(("perfect", "past", "past perfect", "perfect state", "causative done"))
_NO_WORK = frozenset(("asked", "asked on film", "reported"))
_JOINERS = frozenset(("whether", "if", "that", "what", "how", "which", "who"))


@Language.factory(
    "scopes",
    requires=["doc._.cues", "doc._.clauses"],
    assigns=["doc._.clauses"],
    default_config={"cues": None, "ends_at": "clauses"},
)
def make_scopes(nlp: Language, name: str, cues: dict[str, Any] | None, ends_at: str) -> Scopes:
    """Build the component; the reach of each kind of cue is data (None: that of the shipped ones)."""
    return Scopes(cues or shipped_cues(), ends_at)


class Scopes:
    """Sets ``kinds``, ``because``, ``cues`` and ``negated`` of every clause in ``doc._.clauses``.

    ``doc.user_data["scopes"]`` lists each cue with the words that it reaches: (cue, start, end).
    """

    def __init__(self, cues: Cues, ends_at: str) -> None:
        self.reach = {kind: str(entry["reach"]) for kind, entry in cues.items()}
        self.ends_at_cues = ends_at == "cues"

    def __call__(self, doc: Doc) -> Doc:
        """Find what reaches each clause of one text."""
        clauses: list[Clause] = doc._.clauses
        words: list[str] = doc.user_data["words"]
        items: list[Item] = doc._.items
        scopes: list[tuple[Cue, int, int]] = []
        doc.user_data["scopes"] = scopes
        if self.ends_at_cues:
            scopes += [(cue, *self._to_cues(cue, doc._.cues, words)) for cue in doc._.cues]
        if not clauses or self.ends_at_cues:
            return doc
        because: list[dict[str, str]] = [{} for _ in clauses]
        own: list[list[Cue]] = [[] for _ in clauses]
        told = [range(cue.start, cue.end) for cue in doc._.cues if cue.kind in ("asked", "reported")]
        agreed = {_clause_of(clauses, cue) for cue in doc._.cues if cue.kind == "agreed"}
        cues: list[Cue] = doc._.cues
        for cue in cues:
            place = _clause_of(clauses, cue)
            if not _stands(cue, clauses[place], words, told, items):
                continue
            own[place].append(cue)
            reached = self._reached(cue, place, clauses, words, agreed)
            for one in reached:
                because[one].setdefault(cue.kind, cue.text)
            if reached:
                forward = self.reach[cue.kind] == "forward"
                start = cue.end if forward else min(cue.start, clauses[reached[0]].start)
                scopes.append((cue, start, clauses[reached[-1]].end))
            if cue.kind == "time clause" and place and clauses[place].connector in ("once", "when"):
                because[place - 1].setdefault("after that", cue.text)  # "the cover goes on | once the gasket's here"
            if cue.kind == "condition" and place + 1 < len(clauses) and clauses[place + 1].aspect == "future":
                because[place + 1].setdefault("hedge", cue.text)  # "if we get time | we'll paint it"
        _hold_back(clauses, because)
        _mark_questions(words, clauses, because)
        self._spread(items, clauses, because)
        _somebody_before_us(items, clauses, because)
        for place, clause in enumerate(clauses):
            clause.because = because[place]
            clause.kinds = frozenset(because[place])
            clause.cues = tuple(own[place])
            clause.negated = _verb_is_negated(items, clause, own[place])
        return doc

    def _reached(self, cue: Cue, place: int, clauses: list[Clause], words: list[str], agreed: set[int]) -> list[int]:
        """The clauses that a cue reaches."""
        how = self.reach[cue.kind]
        if how == "none":
            return []
        if cue.kind == "joke":
            return list(range(len(clauses)))
        if cue.kind == "condition" and place + 1 < len(clauses) and clauses[place + 1].aspect == "modal":
            return [place, place + 1]  # "if it was mine | I'd paint it red"
        if how != "sentence":
            return [place]
        reached = [place]
        for after in range(place + 1, len(clauses)):
            if after in agreed or self._ends(cue, clauses[after], clauses[after - 1], words):
                break
            reached.append(after)
        return reached

    def _to_cues(self, cue: Cue, cues: list[Cue], words: list[str]) -> tuple[int, int]:
        """The words that a cue reaches where scopes end at cues, as in NegEx and ConText; none for "none"."""
        how = self.reach[cue.kind]
        stops = [one for one in cues if one is not cue and one.kind in (cue.kind, f"end {cue.kind}")]
        marks = [place for place, word in enumerate(words) if word in _ENDS]
        if how == "forward":
            ends = [one.start for one in stops if one.start >= cue.end] + [place for place in marks if place >= cue.end]
            return cue.end, min(ends, default=len(words))
        if how == "backward":
            begins = [one.end for one in stops if one.end <= cue.start]
            begins += [place + 1 for place in marks if place < cue.start]
            return max(begins, default=0), cue.start
        return cue.end, cue.end

    def _ends(self, cue: Cue, clause: Clause, before: Clause, words: list[str]) -> bool:
        """Whether a scope that runs through the sentence ends before this clause."""
        if any(word in _ENDS for word in words[before.start + 1 : clause.start + 1]):
            return True
        if clause.connector == "if" and cue.kind == "asked" and not cue.text.endswith("if"):
            return True  # "he'd like heated grips | if we can hide the wiring"
        if clause.connector in _JOINERS:
            return False
        if cue.kind in ("asked", "reported"):
            if clause.subject == "shop" and _ANSWERS.intersection(words[clause.start : clause.end]):
                return True  # "can you do it in gold | I said they're already on"
            if clause.subject == "person" or (
                clause.connector == "so" and clause.subject in ("shop", "thing", "person")
            ):
                return True  # somebody else speaks, or what came of it is told
            if words[clause.start : clause.start + 2] in _THERE or words[clause.start + 1 : clause.start + 3] in _THERE:
                return True  # "and there's some rims on order"
            speaks = clause.aspect in _OWN_WORDS or (clause.connector == "but" and clause.aspect == "verb")
            return clause.subject == "shop" and speaks
        if clause.connector == "but":
            return True
        if cue.kind == "doubted":
            return clause.subject == "shop" and clause.aspect in _OWN_WORDS - {"future", "need"}
        if cue.kind == "advice":
            return clause.subject == "shop" and clause.aspect in _OWN_WORDS - {"need", "have"}
        return clause.subject in ("shop", "thing") and clause.aspect in _TOLD_AS_FACT

    def _spread(self, items: list[Item], clauses: list[Clause], because: list[dict[str, str]]) -> None:
        """A clause that names no thing ("I think", "all being well", "when it came in") colours its neighbour."""
        for place, clause in enumerate(clauses):
            named = items[clause.first : clause.last]
            letters = {item.letter for item in named if item.found is not None or item.letter == "t"}
            if not because[place] or letters & _THINGS:
                continue
            to = place + 1 if place + 1 < len(clauses) and place == 0 else place - 1
            if not 0 <= to < len(clauses):
                continue
            stands = "t" in letters and clause.connector is None  # "it should be here": a statement of its own
            if to == place + 1 and clauses[to].shares_subject and clauses[to].aspect == "state":
                for kind in {"planned", "waiting"} & because[place].keys():  # "all that's left to do | is the wiring"
                    because[to].setdefault(kind, because[place][kind])
            kept = {"hedge"} if stands else set()
            kept |= {"only talked about"} if to < place else set()  # "I'd love to tell you | it's finished"
            for kind in (_SPREADS - kept) & because[place].keys():
                because[to].setdefault(kind, because[place][kind])


def _hold_back(clauses: list[Clause], because: list[dict[str, str]]) -> None:
    """What cannot be done before something else comes: "we can't do the seat | till we've got that"."""
    for place in range(len(clauses) - 1):
        connector = clauses[place + 1].connector
        waits = connector in ("because", "cause", "cos") and "waiting" in because[place + 1]
        if "blocked" in because[place] and (connector in ("until", "till") or waits):
            because[place].setdefault("held back", because[place]["blocked"])


def _mark_questions(words: list[str], clauses: list[Clause], because: list[dict[str, str]]) -> None:
    """What ends with a question mark asks, from the end of the sentence before."""
    if "?" not in words:
        return
    for place, clause in enumerate(clauses):
        end = next((word for word in words[clause.start :] if word in _ENDS), "")
        if (end == "?" and words[clause.start] not in _ENDS) or (
            end == "?" and next((word for word in words[clause.start + 1 :] if word in _ENDS), "") == "?"
        ):
            because[place].setdefault("question", "?")


def _somebody_before_us(items: list[Item], clauses: list[Clause], because: list[dict[str, str]]) -> None:
    """What somebody nobody knows has done was done before: "somebody's been in here | they've glued it"."""
    somebody = False
    for place, clause in enumerate(clauses):
        if clause.verb is None or clause.verb[0] == 0:
            continue
        word = items[clause.verb[0] - 1].word
        somebody = word in _SOMEBODY or (somebody and word == "they")
        if somebody and clause.aspect in _TOLD_OF_BEFORE and not _NO_WORK & because[place].keys():
            because[place].setdefault("earlier", word)


def _clause_of(clauses: list[Clause], cue: Cue) -> int:
    word = cue.end - 1 if cue.kind == "same" and cue.text.startswith("and ") else cue.start  # "| and | so has the seat"
    return max(bisect_right(clauses, word, key=lambda clause: clause.start) - 1, 0)


def _stands(cue: Cue, clause: Clause, words: list[str], told: list[range], items: list[Item]) -> bool:
    """Whether a cue is meant as one: not "if" in "asked if", not "do the" inside a clause, not "it wants" (needs)."""
    if cue.kind in ("condition", "time clause") and any(cue.start in span for span in told):
        return False
    if cue.kind in ("question", "time clause"):
        return _begins(clause, cue, words)
    if cue.kind == "asked" and cue.text.startswith(("'d ", "would ")) and cue.start and words[cue.start - 1] in _US:
        return False  # "i'd love to tell you"
    if cue.kind == "asked" and cue.text.endswith(" after"):
        after = words[cue.end] if cue.end < len(words) else ""
        if after.endswith("ing") and after not in ("something", "anything"):
            return False  # "she's after lacing it": it is done
    wants = cue.kind == "asked" and cue.text.startswith("wants")
    subject = items[clause.verb[0] - 1] if clause.verb and clause.verb[0] else None
    needy = subject is not None and subject.letter == "P" and subject.end == cue.start  # "the head wants a skim"
    return not (wants and cue.start and (words[cue.start - 1] in _IT or needy))


def _begins(clause: Clause, cue: Cue, words: list[str]) -> bool:
    """Whether a cue stands at the start of its clause, fillers ("so", "and") apart."""
    return words_of("fillers").issuperset(words[clause.start : cue.start])


def _verb_is_negated(items: list[Item], clause: Clause, cues: list[Cue]) -> bool:
    """Whether a negation stands in or before the verb group, or right after it ("is not", "have no")."""
    for cue in cues:
        if cue.kind != "negation":
            continue
        if clause.verb is None:
            return cue.text not in ("instead of", "rather than", "apart from", "except", "except for", "no")
        begin, end = items[clause.verb[0]].start, items[clause.verb[1] - 1].end
        if cue.text in ("no", "nothing", "none of", "neither"):
            if cue.start <= end:
                return True
        elif cue.start <= end and cue.text not in (
            "instead of",
            "rather than",
            "without",
            "apart from",
            "except",
            "except for",
        ):
            return cue.end >= begin - 4 or cue.start >= clause.start
    return False
