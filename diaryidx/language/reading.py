"""The reading of a whole recording: mentions, topic stretches, statements, questions, promises, dates and products."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from diaryidx.film_records import Remarks
from diaryidx.language.asides import asides, places_of
from diaryidx.language.customer_parts import customer_parts
from diaryidx.language.dates import resolve
from diaryidx.language.entries import question_entries, tutorial_entry, tutorial_title
from diaryidx.language.events import events
from diaryidx.language.found import Drafted, Found
from diaryidx.language.kinds import guess_kind
from diaryidx.language.pointing import pointings
from diaryidx.language.products import product_lines
from diaryidx.language.promises import promises
from diaryidx.language.references import film_references
from diaryidx.language.segments import CLOSING, Stretch, asks_on_film, cut_into_stretches
from diaryidx.language.steps import steps
from diaryidx.language.told import Told
from diaryidx.records import Mention, Reading, RecordingKind, Segment, Sentence, Statement, Subject
from diaryidx.transcript.numbers import other_unit
from diaryidx.vocabulary.loader import Vocabulary, shipped_data

if TYPE_CHECKING:
    from spacy.language import Language

    from diaryidx.language.statement_assembler import StatementAssembler

_HALF_CHARACTER = re.compile("[\ud800-\udfff]")  # a surrogate alone, which no text can be written with
LONGEST_TEXT = 4_000  # characters of one sentence that are read; the sentences of transcript/ stay far below


def read_recording(
    nlp: Language,
    sentences: Sequence[Sentence],
    kind: RecordingKind,
    date: str | None,
    vocabulary: Vocabulary,
) -> Reading:
    """Read one recording.

    Arguments:
        nlp: from ``build_pipeline`` with the same vocabulary.
        sentences: in order, as repaired.
        kind: the kind of film; "other" is guessed from the talk.
        date: ISO date of the film, from which "next month" is reckoned; None if unknown.
        vocabulary: of the shop.
    Returns: the reading. Sentences are referred to by their place in ``sentences``; statements and segments carry times
        in seconds from the start of the film.
    """
    told = tell(nlp, sentences)
    if kind == "other":
        kind = guess_kind(told)
    title = tutorial_title(told, kind)
    beside = asides(told)
    stretches = cut_into_stretches(told, kind, title, beside)
    here = [one for one in told if one.place not in places_of(beside)]
    whole = tutorial_entry(told, stretches, title)
    return Reading(
        kind=kind,
        mentions=tuple(mention for one in told for mention in mentions_of(one, date)),
        segments=tuple(_segment(stretch, told) for stretch in stretches),
        statements=tuple(_statements(nlp, told, stretches, kind, date, places_of(beside))),
        entries=(*([whole] if whole else []), *question_entries(told, kind, stretches)),
        promises=tuple(promises(told, kind, date)),
        events=tuple(events(told, date)),
        products=tuple(product_lines(told, stretches, kind, vocabulary)),
        remarks=Remarks(
            references=tuple(film_references(told)),
            pointings=tuple(pointings(here)),
            steps=tuple(steps(told, stretches)) if kind == "tutorial" else (),
            customer_parts=tuple(customer_parts(here)) if kind not in ("tutorial", "product news") else (),
            asides=tuple(beside),
        ),
    )


def read_written(nlp: Language, sentences: Sequence[Sentence], date: str | None) -> tuple[Statement, ...]:
    """The statements of a text that a person wrote about one bike: it is all one topic, and nothing in it is talk.

    Arguments:
        nlp: from ``build_pipeline``.
        sentences: of the text, in order.
        date: ISO date of the text, from which "next month" is reckoned; None if unknown.
    """
    told = tell(nlp, sentences)
    whole = Stretch(0, len(told) - 1, "Note", Subject("build"), 1.0)
    return tuple(_statements(nlp, told, [whole], "bench note", date))


def tell(nlp: Language, sentences: Iterable[Sentence]) -> list[Told]:
    """Run the pipeline up to its clauses over each sentence."""
    from diaryidx.language.statement_assembler import found_terms

    told: list[Told] = []
    with nlp.select_pipes(disable=["statement_assembler"]):
        for place, sentence in enumerate(sentences):
            doc = nlp(cut(sentence.text))
            told.append(Told(place, sentence, doc, doc.user_data["words"], found_terms(doc), doc._.clauses))
    return told


def cut(text: str) -> str:
    """A text short enough to be read at once, of whole characters; what is beyond is no sentence that anyone said."""
    return _HALF_CHARACTER.sub("\ufffd", text[:LONGEST_TEXT])


def mentions_of(one: Told, said_on: str | None = None) -> list[Mention]:
    """The terms and measures of a sentence as mentions, with their places as characters of its text.

    General verbs ("got", "put on", "ordered") stand for a task in a statement, but nobody looks for them. A date gets
    the day or month that it means, as ISO 8601 under "date", where the day it was said is known.
    """
    return [_mention(one, found, said_on) for found in one.terms if not _is_unspoken(one, found)]


def _is_unspoken(one: Told, found: Found) -> bool:
    """Whether nobody looks for a term: a general verb, or a tool of the workshop."""
    if found.label == "TASK":
        data, verb = shipped_data("readings.yaml"), one.words[found.start]
        apart = found.particle >= 0 and verb in data["general where apart"]
        return apart or verb in data["general verbs"] or found.canonical in data["general tasks"]
    return found.label == "PART" and found.term is not None and found.term.system == "tools"


def _mention(one: Told, found: Found, said_on: str | None) -> Mention:
    places = one.doc.user_data["places"]
    start, end = places[found.start][0], places[_last_word(one, found)][1]
    hearing = one.sentence.certainty
    return Mention(
        label=found.label, text=one.text[start:end], canonical=found.canonical, sentence=one.place, start=start,
        end=end, certainty=1.0 if hearing is None else round(hearing, 3), value=_told_value(found, said_on),
    )  # fmt: skip


def _told_value(found: Found, said_on: str | None) -> dict[str, Any] | None:
    """The value of a mention; a date with the day it means, a measure with the same in its other unit."""
    value = found.value
    if value is not None and found.label == "DATE" and (day := resolve(value, said_on)):
        return {**value, "date": day}
    if value is not None and found.label == "MEASURE" and (other := other_unit(value)):
        return {**value, "also": other}
    return value


def _last_word(one: Told, found: Found) -> int:
    """The last word of a term; of a verb with "on", "in" the verb where these lead on: "bolted | on the arm"."""
    last = found.end - 1
    if (
        found.label != "TASK"
        or last == found.start
        or one.words[last] not in shipped_data("readings.yaml")["particles that say nothing"]
    ):
        return last
    alone = " ".join(one.words[found.start : last])
    leads_on = one.words[last + 1 : last + 2] and one.words[last + 1] in shipped_data("readings.yaml")["determiners"]
    return last - 1 if leads_on and found.term is not None and alone in found.term.variants else last


def _segment(stretch: Stretch, told: Sequence[Told]) -> Segment:
    return Segment(
        start=told[stretch.first].sentence.start, end=told[stretch.last].sentence.end, first=stretch.first,
        last=stretch.last, title=stretch.title, subject=stretch.subject, certainty=stretch.certainty,
    )  # fmt: skip


def _statements(
    nlp: Language,
    told: Sequence[Told],
    stretches: Sequence[Stretch],
    kind: RecordingKind,
    date: str | None,
    away: Container[int] = (),
) -> list[Statement]:
    """All statements, in the order of the film; each stretch begins with a blank discourse.

    Sentences at the places ``away`` are digressions and state nothing.
    """
    from typing import cast

    from diaryidx.language.said_before import Discourse
    from diaryidx.language.statement_assembler import TAKEN_BACK

    assembler = cast("StatementAssembler", nlp.get_pipe("statement_assembler"))
    drafted: list[tuple[Drafted, Told, int]] = []
    for number, stretch in enumerate(stretches):
        discourse = Discourse(film=kind)
        if stretch.title == CLOSING:
            continue  # goodbyes are no news of a bike
        goods = stretch.subject.kind == "product" or (kind == "product news" and stretch.subject.kind == "shop")
        for one in told[stretch.first : stretch.last + 1]:
            if one.place in away:
                continue  # a chat states nothing
            made = assembler.assemble(one.doc, discourse)
            if asks_on_film(one, kind):  # a question states nothing, save the habit that may answer it
                made = [draft for draft in made if _is_own_habit(draft, one) or _answers(draft, one)]
            drafted += [(draft, one, number) for draft in made if not goods or _is_work(draft)]
    return [
        _statement(draft, one, number, stretches[number], date)
        for draft, one, number in drafted
        if draft.rule != TAKEN_BACK
    ]


def _is_own_habit(draft: Drafted, one: Told) -> bool:
    """Whether a statement tells what the shop itself always does."""
    return draft.status == "usual practice" and one.clauses[draft.clause].subject == "shop"


def _answers(draft: Drafted, one: Told) -> bool:
    """Whether a statement is told after the question, in the same breath."""
    asks = [place for place, clause in enumerate(one.clauses) if not _ASKING.isdisjoint(clause.kinds)]
    return bool(asks) and draft.clause > asks[0] and draft.clause not in asks and draft.status != "usual practice"


_ASKING = frozenset(("question", "asked on film"))


def _is_work(draft: Drafted) -> bool:
    """Whether work on goods is told, not that they are in stock or what they fit, which ``products`` reads."""
    return draft.status == "in progress" or (draft.task is not None and draft.status in ("done", "planned", "waiting"))


def _statement(draft: Drafted, one: Told, number: int, stretch: Stretch, date: str | None) -> Statement:
    hearing = one.sentence.certainty
    certainty = draft.certainty * (1.0 if hearing is None else 0.5 + 0.5 * hearing)
    return Statement(
        status=draft.status, text=one.text, part=draft.part, side=draft.side, task=draft.task, finish=draft.finish,
        product=draft.product, supplier=draft.supplier, quantity=draft.quantity, said_by=draft.said_by, who=draft.who,
        when=_when(draft, date), certainty=round(min(certainty, 1.0), 3), subject=stretch.subject,
        sentence=one.place, segment=number, start=one.sentence.start, end=one.sentence.end, rule=draft.rule,
    )  # fmt: skip


def _when(draft: Drafted, date: str | None) -> str | None:
    """The day or month that was said, as ISO 8601 where it can be known, else in the words used.

    What is done was done on the last Friday, what is planned will be on the next.
    """
    if draft.when is None:
        return None
    value = dict(draft.when.value or {})
    if draft.status in _OVER and value.get("relative", "this") == "this":
        value["past"] = True
    elif draft.status == "planned":
        value.pop("past", None)
    return resolve(value, date) or draft.when.canonical


_OVER = ("done", "earlier work")
