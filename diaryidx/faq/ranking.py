"""Stretches of film that may answer a question, judged by several signals, best first.

A stretch is judged by how much of the question it says, rare things counting more; by how much the question told on
film is like the one that was asked; by whether it says the sort of thing that was asked for; by the sort of film. All
weights are our own choice, held by `tests/faq` against questions that must and must not be answered.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from diaryidx.builds.wording import said_date
from diaryidx.faq.archive import Archive, Line
from diaryidx.faq.asking import Asked, Concept, concepts, kinds_of
from diaryidx.faq.extracts import (
    Said,
    answer_of,
    best_place,
    first_instruction,
    instructs,
    quoted,
    readable,
    says_kind,
    tells_a_question,
    wants_kind,
)
from diaryidx.faq.matching import match_any
from diaryidx.faq.meanings import BETWEEN, Reader, all_stems, everyday, phrases
from diaryidx.records import Entry, Passage, ProductLine, Recording
from diaryidx.store import reading
from diaryidx.store.reading import EntryHit
from diaryidx.vocabulary.spoken_words import split_words
from diaryidx.wording import DOUBTFUL_BELOW

#: A stretch that says less than this share of what is asked is not even near it.
LEAST_NEAR = 0.4
#: A stretch that says this share of what is asked answers it, if nothing speaks against it.
LEAST_ANSWER = 0.62
#: What says nothing of the sort that was asked for ("how much": no number) must say more of the rest.
LEAST_OF_ANOTHER_KIND = 0.8
#: From here on two questions are the same, put differently.
LEAST_ALIKE = 0.55
#: How much of the parts and products asked about must be said.
LEAST_MAIN = 0.5
#: What the words around a stretch say (title, topic, the entry's question), counted for it.
_CONTEXT = 0.8
_TEACHING_KINDS = ("tutorial", "questions")
#: What a film says of its viewers' doings ("if you're buying an old bike"), not of the shop's.
_OF_THE_VIEWER = re.compile(r"\byou(?:['’](?:re|ve|d|ll))?(?:\s+\S+){1,4}", re.IGNORECASE)
_LIKE_QUESTION, _SAME_KIND, _TEACHING, _SAYS_KIND, _PRICE, _NEW, _RANK = 0.4, 0.2, 0.15, 0.1, 0.3, 0.05, 0.05
#: What only speaks of the same thing is no answer; its certainty is held below what is shown as sure.
MENTIONED_CERTAINTY = DOUBTFUL_BELOW - 0.05
#: A passage is not longer than this, in seconds: what a person watches to get an answer.
LONGEST_PASSAGE = 60.0
#: How many matches of the full-text search are looked at; more than any question has good ones.
_ENTRIES_LOOKED_AT, _SENTENCES_LOOKED_AT, _TUTORIALS_LOOKED_AT = 20, 30, 2


@dataclass(frozen=True, slots=True)
class Found:
    """A stretch that may answer: the share of the question that it says, its worth, and whether it really answers."""

    passage: Passage
    covered: float
    score: float
    answers: bool


@dataclass(frozen=True, slots=True)
class Judge:
    """A question with all that is needed to judge stretches by it."""

    asked: Asked
    reader: Reader
    archive: Archive

    def strengths(self, text: str, context: str = "") -> list[tuple[Concept, float]]:
        """How far a text, or more weakly the words around it, says each thing that is asked about."""
        senses, around = self.reader.senses(text), self.reader.senses(context)
        return [
            (one, max(one.strength(senses), _CONTEXT * one.strength(around)) if context else one.strength(senses))
            for one in self.asked.concepts
        ]

    def covered(self, text: str, context: str = "") -> float:
        """The share of the question that a text says, by weight; 0 unless it says enough of the parts asked about."""
        return share(self.strengths(text, context))

    def is_met(self, text: str, context: str, covered: float, told: frozenset[str]) -> bool:
        """Whether a text answers: enough of the question, what is to be done, and the sort of thing asked for.

        :param told: in which ways the question was asked that is told on film.
        """
        strengths = dict(self.strengths(text, context))
        if self.asked.task and not self._shows(self.asked.task, text, context):
            return False
        rest = [one for one in self.asked.concepts if one.label not in ("PART", "PRODUCT", "SIDE", "PERSON")]
        if rest and not any(strengths[one] for one in rest) and covered < LEAST_OF_ANOTHER_KIND:
            return False
        if told & self.asked.kinds or says_kind(self.asked, text) or not wants_kind(self.asked):
            return covered >= LEAST_ANSWER
        return covered >= LEAST_OF_ANOTHER_KIND and self.asked.kinds.isdisjoint(everyday()["asks_a_figure"])

    def _shows(self, task: Concept, text: str, context: str) -> bool:
        """Whether a text shows how a task is done: the film, its topic or the question told is about that, or a
        sentence that tells people what to do."""
        if task.strength(self.reader.senses(context)):
            return True
        sentences = text.split(BETWEEN)
        return any(
            task.strength(self.reader.senses(one)) > 0 and instructs(one, self.reader.vocabulary) for one in sentences
        )


def share(strengths: Sequence[tuple[Concept, float]]) -> float:
    """The share of what is asked that is said, by weight; 0 unless enough of the parts asked about is."""
    main = [(one.weight, far) for one, far in strengths if one.label in ("PART", "PRODUCT")]
    if main and sum(weight * far for weight, far in main) < LEAST_MAIN * sum(weight for weight, _ in main):
        return 0.0
    return sum(one.weight * far for one, far in strengths) / sum(one.weight for one, _ in strengths)


def candidates(judge: Judge) -> Iterator[Found]:
    """Every stretch that says anything of the question, in no order."""
    match = match_any(phrase for one in judge.asked.concepts for phrase in one.look_for)
    newness = {name: 1 - place / len(judge.archive.films) for place, name in enumerate(judge.archive.films)}
    entries = judge.archive.entries(match, _ENTRIES_LOOKED_AT)
    lines = judge.archive.lines(match, _SENTENCES_LOOKED_AT)
    for hit in entries:
        yield _from_entry(judge, hit, _bonus(hit.rank / entries[0].rank, newness[hit.entry.recording or ""]))
    for hit in _beside(judge, [hit.entry for hit in entries], [line.recording for line, _ in lines]):
        yield _from_entry(judge, hit, _bonus(0.0, newness[hit.entry.recording or ""]))
    for line, rank in lines:
        yield _from_line(judge, line, _bonus(rank / lines[0][1], newness[line.recording]))
    if "price" in judge.asked.kinds:
        yield from _products(judge)


def _beside(judge: Judge, found: Sequence[Entry], films: Sequence[str]) -> Iterator[EntryHit]:
    """The other entries of tutorials that say something of the question: "how often should I do this" names nothing."""
    known = {entry.id for entry in found}
    tutorials = [film for film in dict.fromkeys(films) if judge.archive.films[film].kind == "tutorial"]
    for film in tutorials[:_TUTORIALS_LOOKED_AT]:
        title, said_on = judge.archive.films[film].title, judge.archive.films[film].date
        for entry in reading.entries(judge.archive.db, recording_id=film):
            if entry.id not in known:
                yield EntryHit(entry, title, said_on, 0.0)


def _bonus(rank: float, newness: float) -> float:
    return _RANK * rank + _NEW * newness


def like(judge: Judge, question: str) -> float:
    """How like a question told on film is to the one asked, from 0 to 1: the harmonic mean of the shares that each says
    of the other."""
    told = [one for one in concepts(question, judge.reader.vocabulary) if one.label != "SIDE"]
    asked = judge.reader.senses(judge.asked.text)
    said = judge.covered(question)
    back = sum(one.strength(asked) for one in told) / len(told) if told else 0.0
    return 2 * said * back / (said + back) if said + back else 0.0


# --- an entry --------------------------------------------------------------------------------------------------------


def _from_entry(judge: Judge, hit: EntryHit, bonus: float) -> Found:
    entry = hit.entry
    assert entry.recording is not None
    film = judge.archive.films[entry.recording]
    said = answer_of(entry, judge.archive.said_in(entry))
    question = _told(entry.question, film)
    if "how_to" in judge.asked.kinds and judge.covered(question) >= LEAST_OF_ANOTHER_KIND:
        place = first_instruction(said, judge.reader.vocabulary)
    else:
        place = best_place(said, judge.asked, lambda text: judge.covered(text, question))
    extract = quoted(said[place:])
    text = BETWEEN.join(words for _, words in extract)
    alike = max(like(judge, told_so) for told_so in {entry.question, question})
    covered = max(judge.covered(f"{question}{BETWEEN}{text}"), alike)
    told = kinds_of(entry.question)
    answers = _is_like_enough(judge, alike, covered, told) or judge.is_met(
        f"{question}{BETWEEN}{text}", question, covered, told
    )
    answers = answers and _tells_of_the_shop(judge, f"{entry.question}{BETWEEN}{text}")
    certainty = (0.5 + covered / 2) * entry.certainty
    passage = Passage(
        recording=entry.recording,
        title=hit.title,
        start=entry.start if place == 0 else extract[0][0].start,
        end=entry.end,
        text=readable([words for _, words in extract]),
        said_on=hit.said_on,
        certainty=round(certainty if answers else min(certainty, MENTIONED_CERTAINTY), 3),
        why=f"answers{'' if answers else ' another question,'} “{entry.question}”, {_where(film)}",
        entry=entry.id,
    )
    score = covered + _LIKE_QUESTION * alike + _kind_bonus(judge, film, text, told) + 0.1 * entry.certainty
    return Found(passage, covered, score + bonus, answers)


def _tells_of_the_shop(judge: Judge, text: str) -> bool:
    """Whether a text says "we" and what of the shop itself is asked for ("do you sell"), where such a thing is."""
    asked = [one for one in judge.asked.concepts if one.of_the_shop]
    senses = judge.reader.senses(text)
    says_we = phrases("speaks_of_the_shop").within(all_stems(split_words(text)))
    return not asked or (says_we and any(one.strength(senses) for one in asked))


def _is_like_enough(judge: Judge, alike: float, covered: float, told: frozenset[str]) -> bool:
    """Whether the question told on film is so like the one asked, and asked for the same sort of thing, that its answer
    answers, whatever else was said."""
    other_kind = judge.asked.kinds and told.isdisjoint(judge.asked.kinds)
    return alike >= LEAST_ALIKE and covered >= LEAST_ALIKE and not other_kind and not judge.asked.task


def _told(question: str, film: Recording) -> str:
    """A question as it was told; in a tutorial with its title: "how often should I do this" names nothing."""
    return f"{question}{BETWEEN}{film.title}" if film.kind == "tutorial" else question


# --- sentences -------------------------------------------------------------------------------------------------------


def _from_line(judge: Judge, hit: Line, bonus: float) -> Found:
    film = judge.archive.films[hit.recording]
    spoken = judge.archive.said_between(hit.recording, max(hit.first, hit.place - 1), min(hit.last, hit.place + 12))
    context = f"{film.title}{BETWEEN}{hit.topic}" if film.kind in _TEACHING_KINDS else ""
    run = _best_run(judge, spoken, hit, context)
    text = BETWEEN.join(line.said for line in run)
    covered = judge.covered(text, context)
    after = [line for line in spoken if line.place > run[-1].place]
    asks = film.kind in _TEACHING_KINDS and tells_a_question(run[0].text)
    told = kinds_of(run[0].text) if asks else frozenset()
    shown = [*run, *after][1 if asks and len(run) + len(after) > 1 else 0 :]
    extract = quoted([(line, line.text) for line in shown])
    whole = BETWEEN.join([text, *(words for _, words in extract)])
    answers = judge.is_met(whole, context, covered, told) and _may_answer(judge, film, run, extract)
    heard = sum(0.7 if line.certainty is None else line.certainty for line in run) / len(run)
    certainty = (0.5 + covered / 2) * heard
    passage = Passage(
        recording=hit.recording,
        title=film.title,
        start=run[0].start,
        end=_end(run[0], shown),
        text=readable([words for _, words in extract]),
        said_on=film.date,
        certainty=round(certainty if answers else min(certainty, MENTIONED_CERTAINTY), 3),
        why=f"speaks of {_said_of(judge, whole)}, {_where(film)}",
    )
    score = covered + _kind_bonus(judge, film, whole, told) + 0.1 * heard
    return Found(passage, covered, score + bonus, answers)


def _best_run(judge: Judge, spoken: Sequence[Line], hit: Line, context: str) -> list[Line]:
    """The sentences around a match that together say most; one more must bring something."""
    at = next(place for place, line in enumerate(spoken) if line.place == hit.place)
    best, best_worth = [spoken[at]], -1.0
    for first, end in ((at, at + 1), (at, at + 2), (at - 1, at + 1), (at - 1, at + 2)):
        if first < 0 or end > len(spoken):
            continue
        run = list(spoken[first:end])
        worth = judge.covered(BETWEEN.join(line.said for line in run), context) - 0.06 * (len(run) - 1)
        if worth > best_worth + 1e-9:
            best, best_worth = run, worth
    return best


def _may_answer(judge: Judge, film: Recording, run: Sequence[Line], extract: Sequence[Said]) -> bool:
    """Whether what is said there can be an answer at all.

    A way of doing something is only shown by a film that teaches. What the shop does is only told where it says "we",
    not where it says "if you". A remark on one bike answers nobody, unless it says what holds for all, or that bike or
    its like was asked about.
    """
    text = " ".join(line.text for line in run)
    stems = all_stems(split_words(" ".join([text, *(words for _, words in extract[:1])])))
    if film.kind in _TEACHING_KINDS:
        return _tells_of_the_shop(judge, text)
    if "how_to" in judge.asked.kinds:
        return False
    one_bike = run[0].about == "build"
    if judge.asked.of_the_shop and run[0].about != "product":
        if one_bike and not phrases("speaks_of_the_shop").within(stems):
            return False
        if judge.covered(_OF_THE_VIEWER.sub(" ", text)) < LEAST_NEAR:
            return False
    if not one_bike or judge.asked.names_a_bike:
        return True
    return phrases("holds_for_all").within(stems) and not phrases("tells_of_one").within(stems)


def _end(first: Line, shown: Sequence[Line]) -> float:
    end = first.end
    for line in shown:
        if line.end - first.start > LONGEST_PASSAGE:
            break
        end = line.end
    return end


def _said_of(judge: Judge, text: str) -> str:
    return ", ".join(f"“{one.said}”" for one, far in judge.strengths(text) if far) or "the same thing"


# --- products and films ----------------------------------------------------------------------------------------------


def _products(judge: Judge) -> Iterator[Found]:
    """Products with their prices, for who asks what something costs."""
    for line in reading.products(judge.archive.db):
        if line.price is not None and line.recording is not None:
            yield _from_product(judge, line, judge.archive.films[line.recording])


def _from_product(judge: Judge, line: ProductLine, film: Recording) -> Found:
    text = f"{line.product}{BETWEEN}{line.text}"
    covered = judge.covered(text)
    passage = Passage(
        recording=film.id,
        title=film.title,
        start=line.start,
        end=line.end,
        text=readable([line.text]),
        said_on=film.date,
        certainty=round(max(covered, LEAST_ANSWER if covered else 0.0) * line.certainty, 3),
        why=f"gives the price of {line.product}, {_where(film)}",
    )
    return Found(passage, covered, covered + _PRICE, covered >= LEAST_ANSWER)


def _kind_bonus(judge: Judge, film: Recording, text: str, told: frozenset[str]) -> float:
    bonus = _SAYS_KIND if says_kind(judge.asked, text) else 0.0
    if told and judge.asked.kinds:
        bonus += _SAME_KIND if told & judge.asked.kinds else -_SAME_KIND
    if film.kind in _TEACHING_KINDS:
        return bonus + (_TEACHING if "how_to" in judge.asked.kinds else _TEACHING / 3)
    if "price" in judge.asked.kinds and film.kind == "product news":
        return bonus + _PRICE / 3
    return bonus


def _where(film: Recording) -> str:
    places = {
        "other": "in a recording",
        "product news": "in product news",
        "questions": "in a film of questions and answers",
    }
    place = places.get(film.kind, f"in a {film.kind}")
    return f"{place} of {said_date(film.date)}" if film.date else place
