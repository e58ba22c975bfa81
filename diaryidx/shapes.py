"""The JSON shapes that others build on: each takes records and returns plain data, the same for commands and pages.

Times are seconds from the start of the film, dates ISO 8601, null is unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from diaryidx.film_records import FilmLink, Needs, Remarks, Step
from diaryidx.records import (
    Answer,
    Build,
    Candidate,
    Development,
    Entry,
    History,
    Note,
    Recording,
    RoundUp,
    Segment,
    Sentence,
    Statement,
)

if TYPE_CHECKING:
    from diaryidx.builds.gaps import Disagreement, Gaps, LeftOut, UnknownBike, Waiting
    from diaryidx.builds.job_import import ImportPlan, JobChange
    from diaryidx.builds.standing import OpenItem, PartState
    from diaryidx.store.reading import Taught
    from diaryidx.suggesting import Suggestion
    from diaryidx.teaching import Applied, Plan

Shape = dict[str, Any]
#: Columns of the job book that must never leave the shop.
PRIVATE_FIELDS = ("customer", "registration", "vin")


def recording_json(recording: Recording) -> Shape:
    """A film as pages and commands list it."""
    return asdict(recording)


def sentence_json(sentence: Sentence) -> Shape:
    """A sentence with its heard words and its repairs."""
    return {
        "id": sentence.id,
        "start": sentence.start,
        "end": sentence.end,
        "heard": sentence.heard,
        "text": sentence.text,
        "repairs": [asdict(repair) for repair in sentence.repairs],
        "speaker": sentence.speaker,
        "certainty": sentence.certainty,
        "words": [
            {
                "word": word.word,
                "start": word.start,
                "end": word.end,
                "certainty": word.certainty,
                "estimated": word.estimated,
            }
            for word in sentence.words
        ],
    }


def transcript_json(
    recording: Recording, sentences: Sequence[Sentence], remarks: Remarks, links: Iterable[FilmLink] = ()
) -> Shape:
    """``transcript ID --json``."""
    return {"recording": recording_json(recording), "sentences": spoken_json(sentences, remarks, links)}


def taught_json(taught: Taught) -> Shape:
    """A taught correction, as ``teach --list --json`` gives each."""
    return {**asdict(taught), "holds": taught.undone_number is None}


def plan_json(plan: Plan, applied: Applied | None, films: Mapping[str, Recording]) -> Shape:
    """``teach --json``: what a decision changes, and what was done; ``taught`` is null where nothing was kept.

    ``applied`` tells whether the films follow it already; false where an index at work does it.
    """
    return {
        "heard": plan.heard,
        "meant": plan.meant,
        "warnings": list(plan.warnings),
        "changes": [
            {
                "recording": change.recording,
                "title": films[change.recording].title,
                "said_on": films[change.recording].date,
                "start": change.before.start,
                "before": change.before.text,
                "after": change.after.text,
            }
            for change in plan.changes
        ],
        "taught": None if applied is None else taught_json(applied.taught),
        "applied": applied is not None and applied.films is not None,
        "films": [] if applied is None else list(applied.films or ()),
    }


def suggestion_json(suggestion: Suggestion) -> Shape:
    """One of ``teach --suggest --json``; ``meant`` and ``certainty`` are null where it sounds like nothing known."""
    return {
        "heard": suggestion.heard,
        "meant": suggestion.meant,
        "certainty": None if suggestion.certainty is None else round(suggestion.certainty, 3),
        "sentences": suggestion.count,
        "films": suggestion.films,
        "examples": [
            {"recording": line.recording, "start": line.start, "text": line.text} for line in suggestion.examples
        ],
    }


def spoken_json(sentences: Sequence[Sentence], remarks: Remarks, links: Iterable[FilmLink] = ()) -> list[Shape]:
    """The sentences of a film, each with films it refers to, pointing in it, and whether it is an aside.

    ``refers`` has an object a reference, with ``film`` null where it is in doubt; ``points`` an object a pointing word.
    """
    titles = {link.film: link.title for link in links}
    away = {place for one in remarks.asides for place in range(one.first, one.last + 1)}
    return [
        {
            **sentence_json(sentence),
            "refers": [
                {"text": one.text, "start": one.start, "film": one.film, "title": titles.get(one.film or ""),
                 "certainty": one.film_certainty, "likely": list(one.likely)}
                for one in remarks.references
                if one.sentence == place
            ],
            "points": [
                {"text": one.text, "at": one.at, "part": one.part} for one in remarks.pointings if one.sentence == place
            ],
            "aside": place in away,
        }
        for place, sentence in enumerate(sentences)
    ]  # fmt: skip


def step_json(step: Step) -> Shape:
    """A step of a tutorial with its tools, parts, torques and warnings."""
    return {
        "number": step.number,
        "tools": [asdict(one) for one in step.tools],
        "parts": list(step.parts),
        "needed": [asdict(one) for one in step.needed],
        "torques": [asdict(one) for one in step.torques],
        "warnings": [asdict(one) for one in step.warnings],
    }


def segments_json(segments: Iterable[Segment], remarks: Remarks) -> Shape:
    """``segments ID --json``: topics, those of a tutorial with their step; what all of it needs; digressions.

    ``needs`` is null where nothing is taught.
    """
    steps = {step.first: step for step in remarks.steps if step.number}
    return {
        "segments": [
            {**segment_json(one), "step": step_json(steps[one.first]) if one.first in steps else None}
            for one in segments
        ],
        "needs": asdict(Needs.of(remarks.steps)) if remarks.steps else None,
        "asides": [{"start": one.start, "end": one.end} for one in remarks.asides],
    }


def segment_json(segment: Segment) -> Shape:
    """A topic stretch with what it is about and why."""
    return {
        "id": segment.id,
        "recording": segment.recording,
        "start": segment.start,
        "end": segment.end,
        "title": segment.title,
        "subject": asdict(segment.subject),
        "build": segment.build,
        "certainty": segment.certainty,
        "evidence": list(segment.evidence),
    }


def statement_json(statement: Statement) -> Shape:
    """A statement with all its slots and its source."""
    return {
        "id": statement.id,
        "subject": statement.subject and {"kind": statement.subject.kind, "id": statement.subject.id},
        "build": statement.build,
        "part": statement.part,
        "side": statement.side,
        "task": statement.task,
        "finish": statement.finish,
        "product": statement.product,
        "supplier": statement.supplier,
        "quantity": statement.quantity,
        "status": statement.status,
        "said_by": statement.said_by,
        "who": statement.who,
        "when": statement.when,
        "certainty": statement.certainty,
        "text": statement.text,
        "source": statement.source,
        "recording": statement.recording,
        "start": statement.start,
        "end": statement.end,
        "note": statement.note,
        "said_on": statement.said_on,
        "decided": statement.decided,
        "also": [{"recording": recording, "start": start} for recording, start in statement.also],
    }


def note_json(note: Note) -> Shape:
    """What a person wrote about a build."""
    shape = asdict(note)
    del shape["reading_key"]
    return {**shape, "undone": note.undone_at is not None}


def build_json(build: Build, *, private: bool) -> Shape:
    """A row of the job book; without what belongs to the customer unless ``private``."""
    row = asdict(build)
    if not private:
        for field in PRIVATE_FIELDS:
            del row[field]
    return {**row, "name": build.name}


def import_json(plan: ImportPlan, *, written: bool) -> Shape:
    """``jobs import FILE --json``."""
    book = plan.book
    return {
        "builds": len(book.rows),
        "written": written,
        "columns": dict(book.columns),
        "new": [_job_change_json(change) for change in plan.new],
        "changed": [_job_change_json(change) for change in plan.changed],
        "unchanged": plan.unchanged,
        "problems": list(book.problems),
        "warnings": list(book.warnings),
    }


def _job_change_json(change: JobChange) -> Shape:
    fields = {one.field: {"old": one.old, "new": one.new} for one in change.changes}
    return {"job_number": change.build.job_number, "line": change.line, "fields": fields}


def history_json(history: History, *, private: bool, since: str | None = None) -> Shape:
    """``history BUILD --json`` for one build; notes are the shop's own and left out unless ``private``.

    ``since`` (an ISO day, the customer's last visit if None) is the day from which statements are new.
    """
    from diaryidx.builds.standing import news_since, open_in_full, systems

    def shown(*said: Statement) -> bool:
        return private or all(one.source != "note" for one in said)

    day = since or history.last_visit
    return {
        "build": build_json(history.build, private=private),
        "statements": [statement_json(one) for one in history.statements if shown(one)],
        "open": [_open_json(item) for item in open_in_full(history) if shown(item.statement)],
        "conflicts": [[statement_json(one) for one in pair] for pair in history.conflicts if shown(*pair)],
        "changes": [
            {"kind": one.kind, "earlier": statement_json(one.earlier), "later": statement_json(one.later)}
            for one in history.changes
            if shown(one.earlier, one.later)
        ],
        "systems": [
            {"system": system, "parts": [_part_json(part) for part in parts if shown(part.latest)]}
            for system, parts in systems(history).items()
        ],
        "promises": [asdict(promise) for promise in history.promises],
        "customer_parts": [asdict(one) for one in history.customer_parts],
        "since": day and {
            "date": day,
            "visit": since is None,
            "statements": [statement_json(one) for one in news_since(history, day) if shown(one)],
        },
        "notes": [note_json(note) for note in history.notes] if private else [],
    }  # fmt: skip


def _open_json(item: OpenItem) -> Shape:
    return {**statement_json(item.statement), "since": item.since, "on": item.on, "promised": item.promised}


def _part_json(part: PartState) -> Shape:
    return {
        "part": part.part,
        "side": part.side,
        "status": part.status,
        "since": part.since,
        "fitted": part.fitted,
        "finish": part.finish,
        "wanted": part.wanted,
        "supplier": part.supplier,
        "product": part.product,
        "quantity": part.quantity,
        "tasks": list(part.tasks),
        "certainty": part.certainty,
        "decided": part.latest.decided,
        "source": statement_json(part.latest),
    }


def development_json(development: Development) -> Shape:
    """A development with its thread through the films."""
    shape = asdict(development)
    del shape["by_name"]
    return {**shape, "thread": list(shape["thread"])}


def gaps_json(found: Gaps) -> Shape:
    """``jobs gaps --json``: lists of what somebody should look after, each with its evidence."""
    kinds = ("left_out", "waiting", "unknown_bikes", "finished_but_open", "open_but_finished")
    return {kind: [_gap_json(one) for one in getattr(found, kind)] for kind in kinds}


def _gap_json(gap: LeftOut | Waiting | UnknownBike | Disagreement) -> Shape:
    shape = asdict(gap)
    build = getattr(gap, "build", None)
    return shape if build is None else {**shape, "build": build_json(build, private=True)}


def candidates_json(candidates: Sequence[Candidate]) -> Shape:
    """``history BUILD --json`` where the words fit several builds."""
    return {"candidates": [asdict(candidate) for candidate in candidates]}


def entry_json(entry: Entry) -> Shape:
    """A FAQ entry."""
    return {**asdict(entry), "terms": list(entry.terms)}


def answer_json(answer: Answer) -> Shape:
    """``ask TEXT --json``."""
    return {
        "answered": answer.answered,
        "answers": [asdict(passage) for passage in answer.answers],
        "cautions": list(answer.cautions),
    }


def roundup_json(roundup: RoundUp, *, private: bool) -> Shape:
    """``roundup YYYY-MM --as json``."""
    return {
        "month": roundup.month,
        "recordings": [recording_json(recording) for recording in roundup.recordings],
        "builds": [
            {
                "build": build_json(moved.build, private=private),
                "finished": moved.finished,
                "since_last": moved.since_last,
                "done": [statement_json(statement) for statement in moved.done],
                "open": [statement_json(statement) for statement in moved.open],
            }
            for moved in roundup.builds
        ],
        "products": [asdict(product) for product in roundup.products],
        "tutorials": [recording_json(recording) for recording in roundup.tutorials],
        "dates": [asdict(event) for event in roundup.dates],
        "promises": [asdict(promise) for promise in roundup.promises],
        "clips": [segment_json(clip) for clip in roundup.clips],
    }
