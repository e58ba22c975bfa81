"""Where clauses begin in a row of letters.

Marks, joiners and cues cut first; then each verb group begins a clause at its subject, or at an object told before it;
then rows without verbs of their own are cut into what is told of each thing.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from itertools import pairwise

from diaryidx.language.found import Cue, Item

Group = tuple[int, int]  # a verb group: its items, the last not included
SOFT_CUES = frozenset(("and the", "and also the", "also the", "to match", "matching", "as well as", "the same"))
_CUTTING_CUES = frozenset(("correction", "same", "joke"))
_PHRASE = frozenset("PFSQNOACZEGB$%")
_LIKEWISE = re.compile(r"(?<=[EPpN%F])[&,]*D?[SFQA]{0,4}[PO](?=N)")
_ANOTHER = re.compile(r"(?<=[EG])[&,]*E")
_NEW = frozenset(("new", "fresh"))
_SINGULAR = frozenset(("is", "was", "has", "'s", "needs", "wants"))
_ALIKE = frozenset(("neither", "likewise", "ditto"))
_BELONGING = frozenset(("of", "for", "on", "with", "to", "from", "at", "under", "behind", "inside", "in", "between"))
_DOING = frozenset(("do", "done", "did", "doing"))
_THINGS = r"(?:D?[NSFQAB]{0,5}[PO](?:[&,]{1,2}D?[SFQA]{0,5}[PO])*|S(?=,?E))"
_TOLD = (
    rf"{_THINGS},?E(?:[&,]*E)*[FNZ]{{0,5}}(?:S(?:&S)?)?(?:pD?[SFQN]{{0,5}}[CPN]{{1,2}})*%?"  # "left peg welded by kit"
)
_ROW = re.compile(rf"[&,]*{_TOLD}(?![tD>])")
_STATE = re.compile(rf"(?<=[EpPN%F])[&,]+{_THINGS}p(?=[&,%]|p%|$)")  # "strainer cleaned | fresh oil in on friday"
_ROW_ENDS = re.compile(rf"(?:^|[PEFCN%,])(?:{_TOLD}|{_THINGS}pF{{1,4}})$")
_NEWS = re.compile(r"(?:(?<=[EpFS%t]),|(?<=pt))N(?=[SFQN]{0,3}P)")  # "valves lapped in, | new guides on the inlet"
_TO_COME = re.compile(r"[wWmMLIjTG]")
_TOGETHER = frozenset(("together", "apart"))


def clause_starts(
    words: Sequence[str], items: list[Item], row: str, groups: list[Group], cues: Sequence[Cue]
) -> list[int]:
    """Where clauses begin.

    Arguments:
        words: of the text.
        items: its row; ``row``: their letters.
        groups: its verb groups, in order.
        cues: of which some begin a clause ("same on the ...", "no, sorry").
    Returns: items, in order.
    """
    starts = {0, *_new_things(row, items, groups), *_left_over(words, items)}
    for place, letter in enumerate(row):
        if letter == "r" or (letter == "," and items[place].word not in (",", "(", ")")):
            starts.add(place)
    for cue in cues:
        if cue.kind in _CUTTING_CUES and cue.text not in SOFT_CUES | _ALIKE:
            place = bisect_left(items, cue.start, key=lambda item: item.start)
            starts.add(place if place < len(items) else 0)
    last = -1  # where the verb group before ends
    begun, has_verb = 0, bool(re.match(r"[&,]*[EX]D", row))  # "checked the clearances | exhaust side was tight"
    edges = sorted(starts)
    for group in groups:
        edge = edges[bisect_right(edges, group[0]) - 1]
        if edge > begun:
            begun = edge
            has_verb = bool(re.match(r"[r&,]+[ETGX]", row[begun:]))  # "then painted black": a verb carried over
        subject = group[0] if group[0] == last else max(_subject_start(row, group[0], items), begun)
        last = group[1]
        fronted = _fronted(row, subject, begun, groups, group)
        if not has_verb and fronted < subject:
            has_verb = True  # "new plugs new points | the condenser we're leaving"
        subject = fronted
        alone = subject > begun and (
            (row[begun] != "r" and _stands_alone(row, items, begun, subject))
            or _only_new(row, items, begun, subject, group)
        )
        if has_verb or alone:
            starts.add(subject)
            begun = subject
        has_verb = True
    for place in _shared_verbs(row, groups, sorted(starts)):
        starts.add(place)
    return sorted(starts.union(_rows(words, items, row, groups, sorted(starts))))


def _stands_alone(row: str, items: Sequence[Item], begun: int, subject: int) -> bool:
    """Whether the words before a subject are a statement of their own ("tank painted black | the seat is next")."""
    before = row[begun:subject]
    if re.search(r"^[BCSFQDN]*P(pP)*p$", before) and items[subject - 1].word not in _BELONGING - {"on", "in"}:
        return True  # "seat on tail light on | that's the back end finished"
    told = before.rstrip("&,")
    if told and (told == before or row[subject] in "uytD") and _ROW_ENDS.search(told):
        return True  # "filter changed by ruth and | the plugs are next"
    return bool(re.search(r"P[^&,]*[EFG]", before)) and row[subject - 1] not in "&p>D" and "p" not in before


def _only_new(row: str, items: Sequence[Item], begun: int, subject: int, group: Group) -> bool:
    """Whether only new things are told before a subject: "new shoes new springs and | the plater turned it"."""
    told = re.fullmatch(r"[r&,]*((?:N[SF]*N?P[&,]*)+)", row[begun:subject])
    if told is None or items[begun + told.start(1)].word not in _NEW:
        return False
    joined = "," in row[begun:subject] and items[group[0]].word in _SINGULAR
    return joined or (row[subject] in "ucC" and re.match(r"[tDP]", row[group[1] :]) is not None)


def _rows(words: Sequence[str], items: list[Item], row: str, groups: Sequence[Group], starts: list[int]) -> list[int]:
    """Where the next of several things is told without a verb: "frame blasted | swingarm plated | hub built".

    A participle denied by its own "not" is told apart too ("blasted | not painted yet"), and what is told to be alike
    ("engine not stripped yet | frame neither").
    """
    found: list[int] = []
    for start, end in pairwise([*starts, len(row)]):
        verb = first_within(groups, start, end)
        at = start if verb is None else verb[1]
        for match in sorted([*_ROW.finditer(row, at, end), *_STATE.finditer(row, at, end)], key=re.Match.start):
            place = match.start()
            denied = verb is not None and words[items[at - 1].end : items[at - 1].end + 1] in (["not"], ["n't"])
            if place > start and (_lacks_nothing(row, start, place, verb, denied) if verb else place > at):
                found.append(place)
        if verb is not None and not _TO_COME.search(row[verb[0] : at]):
            found += [match.start() for match in _NEWS.finditer(row, at, end) if items[match.end() - 1].word in _NEW]
        found += [match.start() for match in _LIKEWISE.finditer(row, at, end) if items[match.end()].word in _ALIKE]
        found += [
            match.start()
            for match in _ANOTHER.finditer(row, at, end)
            if words[items[match.end() - 1].start - 1] == "not"
        ]
    return found


def _shared_verbs(row: str, groups: Sequence[Group], starts: list[int]) -> list[int]:
    """Places where a clause without a verb of its own begins: "and fitted new seals", "and the seat covered"."""
    found: list[int] = []
    for number, start in enumerate(starts):
        end = starts[number + 1] if number + 1 < len(starts) else len(row)
        verb = first_within(groups, start, end)
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


def first_within(groups: Sequence[Group], first: int, last: int) -> Group | None:
    """The first verb group that begins between these items."""
    place = bisect_left(groups, (first, 0))
    return groups[place] if place < len(groups) and groups[place][0] < last else None


def last_within(groups: Sequence[Group], first: int, last: int) -> Group | None:
    """The last verb group that begins between these items."""
    place = bisect_left(groups, (last, 0)) - 1
    return groups[place] if place >= 0 and groups[place][0] >= first else None


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


def _new_things(row: str, items: Sequence[Item], groups: Sequence[Group]) -> list[int]:
    """Where a thing is told as new without a verb: "it's back together | new seals | new pads"."""
    places: list[int] = []
    for match in re.finditer(r"(?<=[PNp%])N(?=[SF]*[PN]*P)", row):
        place = match.start()
        stands = place > 1 and row[place - 1] == "p" and row[place - 2] in "sb"  # "the clutch's in | new plates"
        told = row[place - 1] in "P%" or items[place - 1].word in _TOGETHER or stands
        begun = not groups or groups[0][1] <= place  # not in a row that its verb still follows
        if items[place].word in _NEW and told and begun:
            places.append(place)
    return places


def _subject_start(row: str, verb: int, items: list[Item]) -> int:
    """The item with which the subject of the verb group at this item begins (the verb itself where it has none)."""
    place = verb - 1
    if place < 0:
        return verb
    if row[place] == "," and (told := re.search(r"[&,r]D[SFQNA]{0,4}[PO](,{1,2})$", row[max(0, verb - 9) : verb])):
        place -= len(told.group(1))  # "and the right one, touch wood, | was fine"
    if _told_of(row, items, place, verb):
        return verb
    if row[place] == "t":
        return _named_before(row, items, place)
    if row[place] in "uyc":
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
    while start >= 2 and row[start - 1] == "p" and items[start - 1].word in _BELONGING and row[start - 2] in "POZNS":
        start = _noun_phrase_start(row, start - 2)
    if start >= 2 and row[start - 1] == "&" and row[start] != "D" and row[start - 2] in "PO":
        start = _bare_start(row, start - 2)
    return start


def _named_before(row: str, items: list[Item], place: int) -> int:
    """Where a subject begins whose last word is a pronoun ("but | the lines for it aren't here")."""
    if (
        place >= 2
        and row[place - 1] == "p"
        and row[place - 2] in "PON"
        and items[place - 1].word in _BELONGING - {"on", "in"}
    ):
        start = _noun_phrase_start(row, place - 2)
        if items[place].word != "that" and (start == 0 or row[start - 1] in ",&r"):
            return start
    return place


def _told_of(row: str, items: list[Item], place: int, verb: int) -> bool:
    """Whether the pronoun before "is" belongs to what stands before it: "still to do on it | is the exhaust"."""
    turned = re.match(r"[bs][DP]", row[verb:]) and re.search(r"[TENe]p(?:t|D?O)$", row[: place + 1])
    before = items[place - 1 - (row[place - 1] == "D")].word if turned else ""
    return before in ("on", "to", "for", "with")


def _fronted(row: str, subject: int, begun: int, groups: Sequence[Group], group: Group) -> int:
    """The start of an object told before its clause: "been replaced | and the front one we're leaving".

    So it is where what stands before it lacks nothing ("is at the platers | the slide i've kept"), and its own verb has
    no other object.
    """
    agent = re.match(r"[uc]|D?C", row[subject:])
    told = re.search(r"(?:&?N?D[SFQNA]*[POS]|[PO])$", row[begun:subject])
    if agent is None or told is None or told.start() == 0 or re.match(r"(?:D(?!Z)|[FSQ]*[POt])", row[group[1] :]):
        return subject
    verb = last_within(groups, begun, group[0])
    return begun + told.start() if _lacks_nothing(row, begun, begun + told.start(), verb) else subject


def _lacks_nothing(row: str, first: int, last: int, verb: Group | None, denied: bool = False) -> bool:
    """Whether these items can be all that is told: a verb with its object or without need of one, or a thing."""
    if verb is None:
        return row[first:last].rstrip("&,")[-1:] in ("P", "E")
    rest = row[verb[1] : last].rstrip("&,")
    passive = re.search(r"[nbsqgk][Ee]$", row[verb[0] : verb[1]])
    state = re.fullmatch(r"[bsq]|[hs]n", row[verb[0] : verb[1]])
    if re.fullmatch(r"[r&,DN]*t[bsq]", row[first:last]):
        return True  # "it's | the clutch cover we had chromed"
    if not rest:  # "was replaced", "they are n't", "the front one we had blasted"
        return denied or passive is not None or re.search(r"[POS](?:[uc]|D?C)$", row[first : verb[0]]) is not None
    return rest[-1] not in "p>DbIKL" or (rest == "p" and state is not None)


def _noun_phrase_start(row: str, place: int) -> int:
    """From the last item of a noun phrase back to its first: to its determiner, else over the modifiers of one noun."""
    at = place
    while at > 0 and place - at < 7 and row[at - 1] in _PHRASE and not (row[at - 1] in "PC%$" and row[at] in "SQA"):
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
