"""Component ``clause_splitter``: cuts a text into clauses, with or without punctuation.

Each word or found thing is one letter (``letters.py``). Verb groups are found by regular expressions over the row of
letters (finite-state parsing in the manner of Abney 1996, "Partial parsing via finite-state cascades"). A clause ends
where the next verb group's subject begins, and at words such as "but" and "because".
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise

from spacy.language import Language
from spacy.tokens import Doc

from diaryidx.language.found import Clause, Cue, Item
from diaryidx.language.letters import grammar, row_of
from diaryidx.vocabulary.loader import shipped_data

_CHAIN = "nkghHKIdwWLjJeviTEGXq"
_VERB_GROUP = re.compile(
    rf"(?:d[uyct](?=[TvWw])|[hHsbqmMdwWKvJY]|(?<=[uyctCB])[ET]|(?<=[uyctCBPONS])X|(?<=[uyctCB])[Gi]|(?<=P)j)(?:>?[{_CHAIN}mM])*"
)
_PHRASE = frozenset("PFSQNOACZEGB$%")
_DOING = frozenset(("do", "done", "did", "doing"))
_TO_COME = frozenset(("future", "need", "want", "modal", "got to"))
_FINITE = frozenset("hHsbqmMwWKJv")
_TOGETHER = frozenset(("together", "apart"))
SOFT_CUES = frozenset(("and the", "and also the", "also the", "to match", "matching", "as well as", "the same"))
_CUTTING_CUES = frozenset(("correction", "same", "joke"))


@Language.factory(
    "clause_splitter",
    requires=["doc._.terms", "doc._.measures", "doc._.cues"],
    assigns=["doc._.items", "doc._.clauses"],
)
def make_clause_splitter(nlp: Language, name: str) -> ClauseSplitter:
    """Build the component from the shipped grammar."""
    return ClauseSplitter()


class ClauseSplitter:
    """Sets ``doc._.items`` (the row of letters) and ``doc._.clauses``."""

    def __call__(self, doc: Doc) -> Doc:
        """Cut one text into clauses."""
        words: list[str] = doc.user_data["words"]
        items = row_of(words, doc._.terms, doc._.measures)
        row = "".join(item.letter for item in items)
        doc._.items = items
        doc._.clauses = self._clauses(words, items, row, doc._.cues)
        return doc

    def _clauses(self, words: list[str], items: list[Item], row: str, cues: Sequence[Cue]) -> list[Clause]:
        if not row:
            return []
        groups = [(match.start(), match.end()) for match in _VERB_GROUP.finditer(row)]
        groups = [group for group in groups if not _is_possessive(row, group, items)]
        groups = [group for group in groups if not re.search(r"[KHIL]t$", row[: group[0]])]  # "get it | resprayed"
        starts = self._starts(row, groups, items, cues, _left_over(words, items))
        clauses: list[Clause] = []
        for first, last in zip(starts, [*starts[1:], len(row)], strict=True):
            verb = _first_within(groups, first, last)
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

    def _starts(
        self, row: str, groups: list[tuple[int, int]], items: list[Item], cues: Sequence[Cue], left: Sequence[int]
    ) -> list[int]:
        """Where clauses begin, as items."""
        starts = {0, *_new_things(row, items, groups), *left}
        for place, letter in enumerate(row):
            if letter == "r" or (letter == "," and items[place].word not in (",", "(", ")")):
                starts.add(place)
        for cue in cues:
            if cue.kind in _CUTTING_CUES and cue.text not in SOFT_CUES:
                place = bisect_left(items, cue.start, key=lambda item: item.start)
                starts.add(place if place < len(items) else 0)
        begun, has_verb = 0, bool(re.match(r"[&,]*[EX]D", row))  # "checked the clearances | exhaust side was tight"
        edges = sorted(starts)
        for group in groups:
            edge = edges[bisect_right(edges, group[0]) - 1]
            if edge > begun:
                begun = edge
                has_verb = bool(re.match(r"[r&,]+[ETGX]", row[begun:]))  # "then painted black": a verb carried over
            subject = max(_subject_start(row, group[0], items), begun)
            subject = _fronted(row, subject, begun)
            if not has_verb and (fronted := _fronted_behind_others(row, subject, begun)) is not None:
                starts.add(fronted)  # "new plugs new points | the condenser we're leaving"
                begun, subject = fronted, fronted
            if has_verb or (subject > begun and row[begun] != "r" and self._stands_alone(row, begun, subject)):
                starts.add(subject)
                begun = subject
            has_verb = True
        for place in self._shared_verbs(row, groups, sorted(starts), items):
            starts.add(place)
        return sorted(starts)

    def _stands_alone(self, row: str, begun: int, subject: int) -> bool:
        """Whether the words before a subject are a statement of their own ("tank painted black | the seat is next")."""
        before = row[begun:subject]
        if re.search(r"^[CSFQDN]*P(pP)*p$", before):
            return True  # "seat on tail light on | that's the back end finished"
        return bool(re.search(r"P[^&,]*[EFG]", before)) and row[subject - 1] not in "&p>D" and "p" not in before

    def _shared_verbs(self, row: str, groups: list[tuple[int, int]], starts: list[int], items: list[Item]) -> list[int]:
        """Places where a clause without a verb of its own begins: "and fitted new seals", "and the seat covered"."""
        found: list[int] = []
        for number, start in enumerate(starts):
            end = starts[number + 1] if number + 1 < len(starts) else len(row)
            verb = _first_within(groups, start, end)
            if verb is None:
                continue
            at = verb[1]
            for match in re.finditer(r"[&,]+(?=[EGTXvi])", row[at:end]):
                if set(row[at : at + match.start()]) & set("POAtFQN"):
                    found.append(at + match.start())
            if not re.search(r"[hHsbwWKLI]$|[hs]H$", row[verb[0] : at]):  # no verb that waits for its participle
                found += [at + match.end() for match in re.finditer(r"[PONt](?=[EX][tD])", row[at:end])]
            if infinitive := re.match(r">T[DSFQN]*[PtO](?=T)", row[start:end]):  # "to adjust it | slacken the nut"
                found.append(start + infinitive.end())
            if row[start] == "r":  # "if you change one | do both"
                found += [at + match.end() for match in re.finditer(r"[PONEt](?=T[DSPtQF])", row[at:end])]
            for match in re.finditer(r"[&,]*(?:D[FSQNA]*|[FSQA]*)[PO](?=[EG](?:[^P]|$))", row[at:end]):
                place = at + match.start()
                passive = re.search(r"[nbqsgk]E$", row[verb[0] : at])
                if (
                    (match.start() > 0 or passive)
                    and re.search(r"[EG]", row[verb[0] : place])
                    and row[place - 1] not in "pDFSQ"
                ):
                    found.append(place)
        return found

    def _clause(
        self, words: list[str], items: list[Item], row: str, first: int, last: int, verb: tuple[int, int] | None
    ) -> Clause:
        connector = None
        begin = first
        while begin < last and row[begin] in "r&,":
            if row[begin] == "r":
                connector = items[begin].word
            begin += 1
        relative = begin < last and items[begin].word == "that"
        if relative and begin and re.match(r"[PO]td", row[begin - 1 : last]):
            connector = "that"  # "a stand | that doesn't scrape"
        if verb is not None and verb[1] > last:
            verb = (verb[0], last)
        aspect, waits = self._aspect(row[verb[0] : verb[1]]) if verb else ("none", False)
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


def _only_does(items: Sequence[Item], clause: Clause) -> bool:
    """Whether a clause says that something was done and the next says what: "all we've done | is strip the engine"."""
    verb = clause.verb
    return verb is not None and verb[1] == clause.last and items[verb[1] - 1].word in _DOING


def _first_within(groups: Sequence[tuple[int, int]], first: int, last: int) -> tuple[int, int] | None:
    """The first verb group that begins between these items."""
    place = bisect_left(groups, (first, 0))
    return groups[place] if place < len(groups) and groups[place][0] < last else None


def _left_over(words: Sequence[str], items: Sequence[Item]) -> list[int]:
    """Where what is left is told: "engine's in loom's in | just the exhaust to do"."""
    return [
        place
        for place, item in enumerate(items)
        if place
        and item.letter in "DP"
        and words[item.start - 1] in ("just", "only")
        and items[place - 1].letter in "pPE,"
        and "to" in words[item.end : item.end + 6]
    ]


def _new_things(row: str, items: Sequence[Item], groups: Sequence[tuple[int, int]]) -> list[int]:
    """Where a thing is told as new without a verb: "it's back together | new seals | new pads"."""
    places: list[int] = []
    for match in re.finditer(r"(?<=[PNp%])N(?=[SF]*[PN]*P)", row):
        place = match.start()
        stands = place > 1 and row[place - 1] == "p" and row[place - 2] in "sb"  # "the clutch's in | new plates"
        told = row[place - 1] in "P%" or items[place - 1].word in _TOGETHER or stands
        begun = not groups or groups[0][1] <= place  # not in a row that its verb still follows
        if items[place].word in ("new", "fresh") and told and begun:
            places.append(place)
    return places


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


def _subject_start(row: str, verb: int, items: list[Item]) -> int:
    """The item with which the subject of the verb group at this item begins (the verb itself where it has none)."""
    place = verb - 1
    if place < 0:
        return verb
    if row[place] in "uyct":
        return place
    if row[place] == "C":
        return place - 1 if place and row[place - 1] == "D" else place  # "headlight brackets | wilf's turning those"
    if row[place] not in _PHRASE or (row[place] == "N" and place and row[place - 1] in "vbsqk"):
        return verb  # "seems fine | just needs bleeding"
    if row[place] == "E" and items[place].word in _DOING:
        return verb  # "all we've done | is strip the engine"
    if row[place] == "F" and re.search(r"[bsqkKLWwhjJv]F+$", row[max(0, verb - 8) : verb]):
        return verb  # "that were to be gold | are now"
    start = _noun_phrase_start(row, place)
    while (
        start >= 2
        and row[start - 1] == "p"
        and items[start - 1].word in ("of", "for", "on")
        and row[start - 2] in "POZNS"
    ):
        start = _noun_phrase_start(row, start - 2)
    if start >= 2 and row[start - 1] == "&" and row[start] != "D" and row[start - 2] in "PO":
        start = _bare_start(row, start - 2)
    return start


def _fronted(row: str, subject: int, begun: int) -> int:
    """The start of an object told before its clause: "been replaced | and the front one we're leaving"."""
    if subject >= len(row) or row[subject] not in "uc" or subject - begun < 3:
        return subject
    match = re.search(r"(?:[nbsqgk][Ee]|(&))(D[SFQNA]*[PO])$", row[begun:subject])
    return begun + match.start(1 if match.group(1) else 2) if match else subject


def _fronted_behind_others(row: str, subject: int, begun: int) -> int | None:
    """Where an object told before its clause begins, if other things are named before it."""
    if subject >= len(row) or row[subject] not in "ucC":
        return None
    match = re.search(r"(?<=P)N?D[SFQNA]*[PO]$", row[begun:subject])
    return begun + match.start() if match else None


def _noun_phrase_start(row: str, place: int) -> int:
    """From the last item of a noun phrase back to its first: to its determiner, else over the modifiers of one noun."""
    at = place
    while at > 0 and place - at < 7 and row[at - 1] in _PHRASE and not (row[at - 1] == "P" and row[at] in "SQA"):
        at -= 1
    if at > 0 and row[at - 1] in "D":
        return at - 1
    return _bare_start(row, place)


def _bare_start(row: str, place: int) -> int:
    at = place
    while at > 0 and row[at - 1] in "SFQA" and place - at < 5:
        at -= 1
    if at and row[at - 1] == "E" and row[at] == "F":
        return place - len(row[at:place].lstrip("F"))  # "powder coated black | risers are brushed"
    if at > 0 and row[at - 1] == "D":
        at -= 1
    return at


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
