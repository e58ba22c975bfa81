"""What kind of film it is, guessed from the talk; words are data (``kinds`` in ``cues/discourse.yaml``)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from diaryidx.language.discourse import kind_phrases, opens_with
from diaryidx.language.told import BIKE_LABELS, Told
from diaryidx.records import RecordingKind

_REPORTING = frozenset(
    (
        "perfect",
        "perfect passive",
        "causative done",
        "done state",
        "passive progressive",
        "changing",
        "causative progressive",
    )
)
LEAST_SENTENCES = 3  # below this a film is too short to say
LEAST_SHARE = 0.12  # hits per sentence; common practice, no source


def guess_kind(told: Sequence[Told]) -> RecordingKind:
    """Guess the kind of a film.

    Arguments:
        told: all its sentences.
    Returns: the kind for which most phrases speak, or "other" where too few do. Instructions ("take the ...") speak for
        a tutorial, names of bikes and of customers for a diary, prices for product news.
    """
    if len(told) < LEAST_SENTENCES:
        return "other"
    hits = {kind: float(sum(table.within(one.words) for one in told)) for kind, table in kind_phrases().items()}
    hits["diary"] += sum(bool(one.labelled(*BIKE_LABELS)) for one in told)
    hits["product news"] += 2 * sum(bool(one.labelled("PRICE")) for one in told)
    hits["diary"] += sum(_reports(one) for one in told) / 2
    hits["tutorial"] += sum(_instructs(one) for one in told)
    hits["questions"] += 2 * sum(opens_with("question announced", one.words) for one in told)
    if any(kind_phrases()["bench note"].within(one.words) for one in told[:2]):
        return "bench note"
    best = max(hits, key=lambda kind: hits[kind])
    return cast(RecordingKind, best) if hits[best] / len(told) >= LEAST_SHARE else "other"


def _reports(one: Told) -> bool:
    """Whether a sentence tells how far a part is."""
    return bool(one.labelled("PART")) and any(clause.aspect in _REPORTING for clause in one.clauses)


def _instructs(one: Told) -> bool:
    return any(
        clause.aspect in ("bare", "none") and clause.subject in ("none", "you") and "T" in _row(one, clause)
        for clause in one.clauses
    )


def _row(one: Told, clause: object) -> str:
    first, last = clause.first, clause.last  # type: ignore[attr-defined]
    return "".join(item.letter for item in one.doc._.items[first : min(first + 1, last)])
