"""How a thing looks, told right after what was done to it, is one piece of news with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from diaryidx.language.found import Drafted
from diaryidx.vocabulary.loader import Vocabulary

_LOOKS = "how it looks"  # the rule of "they're gloss black"


def with_looks_joined(vocabulary: Vocabulary, drafts: Sequence[Drafted]) -> list[Drafted]:
    """Join the finish of a thing to the work just told of it.

    Arguments:
        vocabulary: for what tasks leave a finish.
        drafts: the statements of one text, in the order of speech.
    Returns: those statements. "We've had them powder coated, they're gloss black" is one; of "the seat's back from the
        trimmer, it's brown leather" the finish is the trimmer's.
    """
    kept: list[Drafted] = []
    for one in drafts:
        before = kept[-1] if kept else None
        look = one.rule == _LOOKS and one.finish is not None and one.task is None
        if before is None or not look or before.part != one.part or before.status != one.status:
            kept.append(one)
        elif _leaves_finish(vocabulary, before.task) and before.finish is None and before.rule == "done":
            kept[-1] = replace(before, finish=one.finish)
        elif not before.task and before.when is None and (before.who or before.supplier):
            told = replace(one, who=one.who or before.who, supplier=one.supplier or before.supplier)
            kept[-1:] = [told] if before.finish is None else [before, told]
        else:
            kept.append(one)
    return kept


def _leaves_finish(vocabulary: Vocabulary, task: str | None) -> bool:
    term = vocabulary.term(task, "TASK")
    return term is not None and term.sort == "finishing"
