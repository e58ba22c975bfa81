"""Component ``clause_splitter``: cuts a text into clauses, with or without punctuation.

Each word or found thing is one letter (``letters.py``). Verb groups are found by regular expressions over the row of
letters (finite-state parsing in the manner of Abney 1996, "Partial parsing via finite-state cascades"). A clause ends
where the next verb group's subject begins, and at words such as "but" and "because".
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.clause_cuts import clause_starts, first_within
from diaryidx.language.found import Clause, Cue, Item
from diaryidx.language.letters import grammar, row_of, without_asides
from diaryidx.vocabulary.loader import shipped_data

_CHAIN = "ankghHKIdwWLjJeviTEGXqmM"
_VERB_GROUP = re.compile(
    rf"(?:d[uyct](?=[TvWw])|[hHsbqmMdwWKvJY]|(?<=[uyctCB])[ET]|(?<=[uyctCBPONS])X|(?<=[uyctCB])[Gi]|(?<=P)j)(?:>?(?!(?<=[EGeTXi])[hHqwWmM])[{_CHAIN}])*"
)
# "it's at the trimmer's | being covered", "it's out back, | soaking"
_AT_IT = re.compile(r"p+,?(?=G)|pD?[SQN]*[CPN],?(?=G)|[pN]*D?[SQN]*[CPN]?,?g(?=[Ee])")
_DOING = frozenset(("do", "done", "did", "doing"))
_TO_COME = frozenset(("future", "need", "want", "modal", "got to"))
_FINITE = frozenset("hHsbqmMwWKJv")


@Language.factory(
    "clause_splitter",
    requires=["doc._.terms", "doc._.measures", "doc._.cues"],
    assigns=["doc._.items", "doc._.clauses", "doc._.cues"],
)
def make_clause_splitter(nlp: Language, name: str) -> ClauseSplitter:
    """Build the component from the shipped grammar."""
    return ClauseSplitter()


class ClauseSplitter:
    """Sets ``doc._.items`` (the row of letters) and ``doc._.clauses``."""

    def __call__(self, doc: Doc) -> Doc:
        """Cut one text into clauses."""
        words: list[str] = doc.user_data["words"]
        told = row_of(words, doc._.terms, doc._.measures)
        items = without_asides(told)
        if len(items) < len(told):  # a cue that lies in an aside says nothing of the rest
            kept = {item.start for item in items}
            aside = {word for item in told if item.start not in kept for word in range(item.start, item.end)}
            doc._.cues = [cue for cue in doc._.cues if not aside.issuperset(range(cue.start, cue.end))]
        row = "".join(item.letter for item in items)
        doc._.items = items
        doc._.clauses = self._clauses(words, items, row, doc._.cues)
        return doc

    def _clauses(self, words: list[str], items: list[Item], row: str, cues: Sequence[Cue]) -> list[Clause]:
        if not row:
            return []
        groups = [(match.start(), match.end()) for match in _VERB_GROUP.finditer(row)]
        groups = [group for group in groups if not _is_possessive(row, group, items)]
        groups = [group for group in groups if not (row[group[0]] == "E" and re.search(r"pC$", row[: group[0]]))]
        groups = [group for group in groups if not re.search(r"[KHILWw]t$", row[: group[0]])]  # "get it | resprayed"
        starts = clause_starts(words, items, row, groups, cues)
        clauses: list[Clause] = []
        for first, last in zip(starts, [*starts[1:], len(row)], strict=True):
            verb = first_within(groups, first, last)
            clauses.append(self._clause(words, items, row, first, last, verb))
        clauses = [clause for clause in clauses if clause.first < clause.last]
        for before, clause in pairwise(clauses):
            shares = clause.verb is not None and clause.verb[0] == clause.first and row[clause.first] in _FINITE
            if clause.subject == "none" and shares and clause.connector in (None, "but", "then"):
                clause.subject, clause.shares_subject = before.subject, True  # "changed his mind and wants it black"
                if before.aspect in _TO_COME and items[clause.first].word in ("get", "have"):
                    clause.aspect, clause.waits = before.aspect, True  # "going to have it pulled | and get it painted"
                told = before.connector == "what" or _only_does(items, before)
                if told and re.match(r"[bs][TG]", row[clause.first :]):
                    clause.aspect = before.aspect  # "what we've done | is move the battery"
        return clauses

    def _clause(
        self, words: list[str], items: list[Item], row: str, first: int, last: int, verb: tuple[int, int] | None
    ) -> Clause:
        connector = None
        begin = first
        while begin < last and row[begin] in "r&,":
            if row[begin] == "r":
                connector = items[begin].word
                if connector == "than" and words[items[begin].start - 1] != "rather":
                    connector = "as"  # "narrower than"
            begin += 1
        relative = begin < last and items[begin].word == "that"
        if relative and begin and re.match(r"[PO]td", row[begin - 1 : last]):
            connector = "that"  # "a stand | that doesn't scrape"
        if verb is not None and verb[1] > last:
            verb = (verb[0], last)
        aspect, waits = self._aspect(row[verb[0] : verb[1]]) if verb else ("none", False)
        if aspect == "state" and verb is not None and _is_at_it(items, row, verb[1], last):
            aspect = "passive progressive"
        if aspect == "auxiliary" and verb is not None and items[verb[0]].word == "did":
            aspect = "did"
        start = items[first].start if first else 0
        end = items[last].start if last < len(items) else len(words)
        return Clause(
            first=begin, last=last, start=start, end=end, connector=connector, aspect=aspect, waits=waits, verb=verb,
            subject=_subject_kind(row, items, begin, verb),
        )  # fmt: skip

    def _aspect(self, letters: str) -> tuple[str, bool]:
        for name, pattern, waits in grammar().aspects:
            if pattern.match(letters):
                return name, waits
        return "none", False


def _is_at_it(items: Sequence[Item], row: str, at: int, last: int) -> bool:
    """Whether a place is told and then what goes on there; not "back from | painting"."""
    match = _AT_IT.match(row, at, last)
    return match is not None and items[match.end() - 1].word not in ("from", "for", "to")


def _only_does(items: Sequence[Item], clause: Clause) -> bool:
    """Whether a clause says that something was done and the next says what: "all we've done | is strip the engine"."""
    verb = clause.verb
    return verb is not None and verb[1] == clause.last and items[verb[1] - 1].word in _DOING


def _is_possessive(row: str, group: tuple[int, int], items: list[Item]) -> bool:
    """Whether this "'s" is no verb: "the bike's tank", "at the painter's"."""
    first, last = group
    if row[first] != "s" or last - first > 1 or first == 0:
        return False
    before = row[first - 1]
    if (
        before == "C"
        and first >= 2
        and (row[first - 2] == "p" or (row[first - 2] == "D" and first >= 3 and row[first - 3] == "p"))
    ):
        return True
    if before in "tuyc" or items[first - 1].word in ("here", "there", "where", "what", "who", "how"):
        return False
    return bool(re.match(r"[SFQNEZ]*P", row[last:])) and before in "BCN"


def _may_be_name(items: Sequence[Item], begin: int, place: int) -> bool:
    """Whether one bare word before a verb may be the name of somebody: "wes is lacing the front wheel"."""
    word = items[place].word
    known = shipped_data("readings.yaml")["no names"]
    return place == begin and word.isalpha() and len(word) > 2 and word not in known and not word.endswith("ing")


_PEOPLE = {"u": "shop", "y": "you", "c": "customer", "t": "thing", "P": "thing", "O": "thing", "B": "thing"}


def _subject_kind(row: str, items: list[Item], begin: int, verb: tuple[int, int] | None) -> str:
    """Who or what does it: shop, you, customer, person, thing or none."""
    if verb is None or verb[0] <= begin:
        return "none"
    place = verb[0] - 1
    letter = row[place]
    if letter == "C":
        found = items[place].found
        sort = found.term.sort if found and found.term else None
        return "customer" if sort == "customer" else "person"
    if letter == "t" and items[place].word == "they" and row[verb[0]] in "Wv":
        return "customer"
    if letter == "N" and _may_be_name(items, begin, place):
        return "person"
    if letter in "NFS":
        return "thing"
    return _PEOPLE.get(letter, "none")
