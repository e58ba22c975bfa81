"""FAQ entries drafted from film: questions told on film with their answers, and what a tutorial teaches."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.language.discourse import phrases, words_of
from diaryidx.language.found import Found
from diaryidx.language.segments import Stretch, announces_question, asks_on_film, is_closing, is_greeting
from diaryidx.language.told import Told, capital, span_text
from diaryidx.records import Entry, RecordingKind

_ANSWER_PHRASES = (
    ["the", "answer"],
    ["it", "depends"],
    ["good", "question"],
    ["great", "question"],
    ["short", "answer"],
)
_MODALS = frozenset(["can", "could", "should", "would", "will", "do", "does", "did", "is", "are", "have", "has"])
_PRONOUNS = frozenset(["i", "you", "we", "they", "he", "she", "it"])
LONGEST_ANSWER = 240.0  # seconds
TITLE_SEARCH = 8  # sentences at the start in which a tutorial says what it teaches


def question_entries(told: Sequence[Told], kind: RecordingKind) -> list[Entry]:
    """Draft an entry for each question told on film.

    Arguments:
        told: all sentences of the film.
        kind: the kind of film.
    Returns: entries in the order of the film. An answer runs to the next question, the goodbye, or 4 minutes.
    """
    asked = [one for one in told if asks_on_film(one, kind)]
    places = [one.place for one in asked]
    entries: list[Entry] = []
    taken: set[int] = set()
    for number, one in enumerate(asked):
        question = _question(told, one)
        if question is None or question[1] in taken:
            continue  # announced alone ("next question"), or already told with the announcement before it
        taken.add(question[1])
        text, first, first_answer = question
        until = next((place for place in places[number + 1 :] if place > first), len(told))
        answer = _answer(told, first, first_answer, until)
        if answer is not None:
            entries.append(_entry(text, answer[0], told[one.place], answer[1], told))
    return entries


def _question(told: Sequence[Told], one: Told) -> tuple[str, int, int] | None:
    """The question's words, and where its answer begins: place of the sentence, word in it."""
    where = _question_start(one)
    if where is None and one.place + 1 < len(told):
        following = told[one.place + 1]
        where = _question_start(following)
        if where is None or where[0] > 8:
            return None
        one = following
    if where is None:
        return None
    end = _question_end(one, where[0])
    text = one.quote(where[0], end)
    if len(text.split()) < 3:
        return None
    return _as_question(text), one.place, end


def _question_start(one: Told) -> tuple[int, int] | None:
    """Where the question itself begins: a question word, or "if" after "asked", "wanted to know"."""
    where = phrases("question starts").find(one.words)
    if "if" in one.words and announces_question(one):
        place = one.words.index("if")
        told = phrases("question announced").find(one.words)
        if told is not None and place in (told[1] - 1, told[1]) and (where is None or place < where[0]):
            return place, place + 1
    return where


def _question_end(one: Told, start: int) -> int:
    for place in range(start + 3, len(one.words)):
        word = one.words[place]
        if word in ("?", "."):
            return place
        if place >= start + 4 and (
            word in ("well", "yes", "no") or one.words[place : place + 2] in list(_ANSWER_PHRASES)
        ):
            return place
    return len(one.words)


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


def _answer(told: Sequence[Told], first: int, word: int, until: int) -> tuple[str, float] | None:
    one = told[first]
    rest = one.quote(word, len(one.words)).strip(" ,.?!") if word < len(one.words) else ""
    following: list[Told] = []
    for after in told[first + 1 : until]:
        if is_closing(after) or after.sentence.end - one.sentence.start > LONGEST_ANSWER:
            break
        following.append(after)
    text = " ".join(part for part in (rest, span_text(following)) if part)
    if not text:
        return None
    return text, following[-1].sentence.end if following else one.sentence.end


def _entry(question: str, answer: str, begins: Told, end: float, told: Sequence[Told]) -> Entry:
    stretch = [one for one in told if begins.place <= one.place and one.sentence.end <= end]
    return Entry(
        question=question, answer=answer, start=begins.sentence.start, end=max(end, begins.sentence.end),
        terms=_terms(stretch), certainty=0.75,
    )  # fmt: skip


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
    """One entry for a tutorial as a whole: from its first step to its last, without greeting, questions and goodbye."""
    if title is None:
        return None
    steps = [stretch for stretch in stretches if not stretch.asks and stretch.title != "Closing"]
    body = [one for stretch in steps for one in told[stretch.first : stretch.last + 1] if not is_greeting(one)]
    if not body:
        return None
    return Entry(
        question=f"How to {title}", answer=span_text(body), start=body[0].sentence.start, end=body[-1].sentence.end,
        terms=_terms(body), certainty=0.85,
    )  # fmt: skip
