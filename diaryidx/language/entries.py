"""FAQ entries drafted from film: questions told on film with their answers, and what a tutorial teaches."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diaryidx.language.discourse import after_fillers, phrases, phrases_of, words_of
from diaryidx.language.found import Found
from diaryidx.language.patterns import Row, patterns, words_in
from diaryidx.language.segments import CLOSING, Stretch, announces_question, asks_on_film, is_closing, is_greeting
from diaryidx.language.told import Told, capital, span_text
from diaryidx.language.word_times import word_times
from diaryidx.records import Entry, RecordingKind

_FILE = "questions.yaml"
_ANSWERING = ("tutorial", "questions")
_LATEST_START = 8  # words of a sentence behind an announcement in which its question begins; own choice
_SHORTEST = 4  # words of a question told in a run of words; own choice
_MODALS = frozenset(["can", "could", "should", "would", "will", "do", "does", "did", "is", "are", "have", "has"])
_PRONOUNS = frozenset(["i", "you", "we", "they", "he", "she", "it"])
LONGEST_ANSWER = 240.0  # seconds
TITLE_SEARCH = 8  # sentences at the start in which a tutorial says what it teaches


def question_entries(told: Sequence[Told], kind: RecordingKind, stretches: Sequence[Stretch] = ()) -> list[Entry]:
    """Draft an entry for each question told on film.

    Arguments:
        told: all sentences of the film.
        kind: the kind of film. Outside tutorials and films of questions only what somebody is said to have asked
            counts: "is the tank here? it is not" asks nobody.
        stretches: the film's topics; outside those films an answer ends with its topic.
    Returns: entries in the order of the film. An answer runs to the next question, the goodbye, or 4 minutes.
    """
    asked = _asked(told, kind)
    entries: list[Entry] = []
    taken: set[tuple[int, int]] = set()
    for number, (one, word) in enumerate(asked):
        question = _question(told, one, word)
        if question is None or (question.place, question.start) in taken:
            continue  # announced alone ("next question"), or already told with the announcement before it
        taken.add((question.place, question.start))
        later = [(after.place, at) for after, at in asked[number + 1 :]]
        until = next((place for place in later if place > (question.place, question.start)), (len(told), 0))
        if kind not in _ANSWERING:
            ends = [stretch.last + 1 for stretch in stretches if stretch.first <= question.place <= stretch.last]
            until = min(until, *((end, 0) for end in ends)) if ends else until
        answer = _answer(told, question, until)
        if answer is not None:
            begins = word_times(one, word, len(one.words))[0] if word else one.sentence.start
            entries.append(_entry(question.text, answer[0], told[one.place], begins, answer[1], told))
    return entries


@dataclass(frozen=True, slots=True)
class _Question:
    """A question: its words, its sentence and first word, and the word there at which its answer begins."""

    text: str
    place: int
    start: int
    end: int


def _asked(told: Sequence[Told], kind: RecordingKind) -> list[tuple[Told, int]]:
    """The sentences that ask, each with the word from which on; 0 for one that asks from its start."""
    found: list[tuple[Told, int]] = []
    for one in told:
        asks = asks_on_film(one, kind) and (kind in _ANSWERING or announces_question(one))
        if asks:
            found.append((one, 0))
        if kind in _ANSWERING and not _has_marks(one):
            first = _question(told, one, 0) if asks else None
            behind = first.end if first is not None and first.place == one.place else 0
            found += [(one, word) for word in _asked_inside(one) if word >= behind]
    return found


def _has_marks(one: Told) -> bool:
    """Whether the engine set full stops and question marks; then a question is a sentence of its own."""
    return one.text.rstrip().endswith((".", "?", "!"))


def _asked_inside(one: Told) -> list[int]:
    """Where a question begins in the middle of a run of words: "... won't stop you | how long should a set last"."""
    found = patterns(_FILE, "inside").find(Row.of(one.words))
    stops = words_in(_FILE, "not inside")
    return [
        match.start for match in found
        if match.start > after_fillers(one.words) and not stops & set(one.words[max(0, match.start - 2) : match.start])
    ]  # fmt: skip


def _question(told: Sequence[Told], one: Told, word: int) -> _Question | None:
    """The question that a sentence asks from a word on, or that the next one asks where this one only announces it."""
    where = (None if word else _as_asker_says(one)) or _question_start(one, word)
    if where is None and one.place + 1 < len(told):
        following = told[one.place + 1]
        where = _as_asker_says(following) or _question_start(following, 0)
        if where is None or where[0] > _LATEST_START:
            return None
        one = following
    if where is None:
        return None
    end = _question_end(one, where[0])
    text = one.quote(where[0], end)
    if len(text.split()) < 3:
        return None
    return _Question(_as_question(text), one.place, where[0], end)


def _as_asker_says(one: Told) -> tuple[int, int] | None:
    """Where a question begins that is told in its asker's words: "she says | my chain has a tight spot, what ..."."""
    says = patterns(_FILE, "asker says").first(Row.of(one.words))
    if says is None or (says.start > 0 and not announces_question(one)):
        return None
    start = says.end + (one.words[says.end : says.end + 1] == [","])
    return (start, start + 1) if start < len(one.words) else None


def _question_start(one: Told, word: int) -> tuple[int, int] | None:
    """Where the question itself begins: a question word, or "if" after "asked", "wanted to know"."""
    where = phrases("question starts").find(one.words, word)
    if "if" in one.words[word:] and announces_question(one):
        place = one.words.index("if", word)
        told = phrases("question announced").find(one.words)
        if told is not None and place in (told[1] - 1, told[1]) and (where is None or place < where[0]):
            return place, place + 1
    return where


def _question_end(one: Told, start: int) -> int:
    """Where the question ends: at a mark; where the engine sets none, where an answer or another question begins."""
    for place in range(start + 3, len(one.words)):
        if one.words[place] in ("?", "."):
            return place
    if _has_marks(one):
        return len(one.words)
    ends = [len(one.words)]
    row = Row.of(one.words, ((count.start, count.end, "QUANTITY") for count in one.labelled("QUANTITY")))
    goes_on = words_in(_FILE, "goes on")
    begins = (match.start for match in patterns(_FILE, "answer begins").find(row))
    ends += [word for word in begins if one.words[word - 1] not in goes_on]
    ends += [word for word in _asked_inside(one) if phrases("question starts").within(one.words[start:word])]
    return min(end for end in ends if end >= start + _SHORTEST or end == len(one.words))


def _as_question(text: str) -> str:
    """ "whether you can ride" as a person would ask it: "Can you ride?"."""
    words = text.strip(" ,.?!").split()
    if len(words) > 2 and words[0].lower() in ("whether", "if"):
        words = words[1:]
        if len(words) > 1 and words[1].lower() in _MODALS and words[0].lower() in _PRONOUNS:
            asker = "I" if words[0].lower() in ("they", "he", "she") else words[0]  # who asks speaks of himself
            words[0], words[1] = words[1], asker
        return capital(" ".join(words)) + "?"
    return capital(" ".join(words)) + "?"


def _answer(told: Sequence[Told], question: _Question, until: tuple[int, int]) -> tuple[str, float] | None:
    """The words up to a sentence and a word of it that answer a question, and when they end."""
    one = told[question.place]
    last, word = until
    within = last == question.place
    rest = one.quote(question.end, word if within else len(one.words)).strip(" ,.?!")
    following: list[Told] = []
    for after in told[question.place + 1 : last]:
        if is_closing(after) or after.sentence.end - one.sentence.start > LONGEST_ANSWER:
            break
        following.append(after)
    reached = following[-1].place if following else question.place
    shared = told[last] if word and not within and reached == last - 1 else None  # its end asks the next question
    begun = shared.quote(0, word).strip(" ,.?!") if shared else ""
    text = " ".join(part for part in (rest, span_text(following), begun) if part)
    if not text:
        return None
    if within or shared:
        return text, word_times(one if within else told[last], 0, word)[1]
    return text, following[-1].sentence.end if following else one.sentence.end


def _entry(question: str, answer: str, one: Told, begins: float, end: float, told: Sequence[Told]) -> Entry:
    stretch = [other for other in told if one.place <= other.place and other.sentence.start < end]
    return Entry(
        question=question, answer=answer, start=begins, end=max(end, begins), terms=_terms(stretch), certainty=0.75
    )


def _terms(told: Sequence[Told]) -> tuple[str, ...]:
    labels = ("PART", "TASK", "FINISH", "PRODUCT", "MODEL")
    return tuple(dict.fromkeys(found.canonical for one in told for found in one.labelled(*labels)))


# --- tutorials -------------------------------------------------------------------------------------------------------


def tutorial_title(told: Sequence[Told], kind: RecordingKind) -> str | None:
    """What a tutorial teaches ("change the front brake pads"), from its first sentences; None for other films."""
    if kind != "tutorial":
        return None
    for one in told[:TITLE_SEARCH]:
        if title := _after_how_to(one):
            return title
    for one in told[:TITLE_SEARCH]:
        titled = phrases("tutorial titles").find(one.words)
        title = _task_and_part(one, titled[0] if titled else None)
        if title and titled:
            return title
    return next((title for one in told[:TITLE_SEARCH] if (title := _task_and_part(one, 0))), None)


def _after_how_to(one: Told) -> str | None:
    """What follows "how to", up to where the words go on about something else."""
    where = phrases("how to").find(one.words)
    if where is None:
        return None
    end, stops = where[1], words_of("ends a title")
    while end < len(one.words) and end - where[1] < 9 and one.words[end] not in stops:
        end += 1
    if not any(where[1] <= found.start < end for found in one.labelled("TASK", "PART")):
        return None
    title = one.quote(where[1], end).split()
    return " ".join("the" if word.lower() in _OWNERS else word for word in title)


def _task_and_part(one: Told, start: int | None) -> str | None:
    """From the first task to the end of the last part of its clause, the task in its plain form."""
    if start is None:
        return None
    for task in one.labelled("TASK"):
        if task.end <= start or task.form == "noun":
            continue
        clause = next((clause for clause in one.clauses if clause.start <= task.start < clause.end), None)
        end_of_clause = clause.end if clause else len(one.words)
        parts = [part for part in one.labelled("PART") if task.end <= part.start < end_of_clause]
        if parts:
            thing = one.quote(task.end, parts[-1].end).split()
            if thing[0].lower() in _OWNERS:
                thing[0] = "the"
            return " ".join([_plain_verb(one, task), *thing])
    return None


def _plain_verb(one: Told, task: Found) -> str:
    """The verb as said, without its ending where that is regular ("swapping" is "swap"); else the task's name."""
    word = one.words[task.start]
    if task.form in ("base", "both"):
        return one.quote(task.start, task.end).lower()
    for base in (word.removesuffix("ing"), word.removesuffix("ing") + "e", word[:-4]):
        if word.endswith("ing") and task.term is not None and base in task.term.variants:
            return base
    return task.canonical


_OWNERS = ("your", "our", "my", "his", "her", "their")


def tutorial_entry(told: Sequence[Told], stretches: Sequence[Stretch], title: str | None) -> Entry | None:
    """One entry for a tutorial as a whole: from its first step to its questions or goodbye, without the greeting."""
    if title is None:
        return None
    asked = next((stretch.first for stretch in stretches if stretch.asks), len(told))
    steps = [stretch for stretch in stretches if stretch.first < asked and stretch.title != CLOSING]
    body = [one for stretch in steps for one in told[stretch.first : stretch.last + 1] if not is_greeting(one)]
    while body and asked < len(told) and phrases_of(_FILE, "turns to questions").within(body[-1].words):
        body.pop()
    if not body:
        return None
    return Entry(
        question=f"How to {title}", answer=span_text(body), start=body[0].sentence.start, end=body[-1].sentence.end,
        terms=_terms(body), certainty=0.85,
    )  # fmt: skip
