"""Component ``cue_matcher``: finds the cues (``cues/cues.yaml``) that decide status, speaker and certainty."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from spacy.language import Language
from spacy.matcher import PhraseMatcher
from spacy.tokens import Doc, Span

from diaryidx.language.found import Cue, Found
from diaryidx.language.phrases import Cues, as_patterns, cue_phrases, shipped_cues
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.vocabulary.loader import Vocabulary


@Language.factory("cue_matcher", assigns=["doc._.cues", "doc.spans"], default_config={"cues": None})
def make_cue_matcher(nlp: Language, name: str, cues: dict[str, Any] | None) -> CueMatcher:
    """Build the component over cues (None: the shipped ones) and the names of the vocabulary."""
    return CueMatcher(nlp, vocabulary_of(nlp), cues or shipped_cues())


def _without_hidden(cues: list[Cue]) -> list[Cue]:
    """Cues without those that lie in a pseudo-cue of their kind ("not negation", "not advice")."""
    hiding = [cue for cue in cues if cue.kind.startswith("not ")]
    if not hiding:
        return cues
    hidden = {(cue.kind.removeprefix("not "), place) for cue in hiding for place in range(cue.start, cue.end)}
    return [cue for cue in cues if (cue.kind, cue.start) not in hidden]


def _outside_names(terms: Sequence[Found], cues: list[Cue]) -> list[Cue]:
    """Cues without those inside the name of a part or a finish: "mudguard stays", "burnt orange"."""
    named = {place for one in terms if one.label in ("PART", "FINISH") for place in range(one.start, one.end)}
    return [cue for cue in cues if not named.issuperset(range(cue.start, cue.end))]


_CORRECTABLE = frozenset(("FINISH", "SIDE", "PART", "DATE"))


def _with_corrections(words: list[str], terms: Sequence[Found], cues: list[Cue]) -> list[Cue]:
    """A "no" between two things of one kind takes the first back: "silver, no, light grey", "the tank no the seat"."""
    places = [place for place, word in enumerate(words) if word == "no" and place]
    if not places:
        return cues
    ends, starts = {one.end: one for one in terms}, {one.start: one for one in terms}
    for place in places:
        before = ends.get(place - 1 if words[place - 1] == "," else place)
        at = place + 1
        while at < len(words) and words[at] in (",", "the", "a", "it", "'s"):
            at += 1
        after = starts.get(at)
        if before is None or after is None or before.label != after.label or before.label not in _CORRECTABLE:
            continue
        if before.label == "PART" and words[at - 1] != "the":
            continue  # "no seat no mudguards"
        cues = [cue for cue in cues if cue.start != place]
        cues.append(Cue("correction", place, place + 1, "no"))
    return sorted(cues, key=lambda cue: cue.start)


class CueMatcher:
    """Finds cues. Sets ``doc._.cues`` (list of Cue in reading order) and ``doc.spans["cues"]``.

    Of cues of one kind that overlap the longest counts. A pseudo-negation ("not only") hides the negation inside it, as
    in NegEx (Chapman et al. 2001).
    """

    def __init__(self, nlp: Language, vocabulary: Vocabulary, cues: Cues) -> None:
        self.kinds = cue_phrases(vocabulary, cues)
        self.matcher = PhraseMatcher(nlp.vocab, attr="ORTH")
        self.matcher.add("cue", as_patterns(nlp.vocab, self.kinds))

    def __call__(self, doc: Doc) -> Doc:
        """Find the cues of one text."""
        words: list[str] = doc.user_data["words"]
        cues: list[Cue] = []
        free_from: dict[str, int] = {}
        matches = sorted(((start, -end) for _, start, end in self.matcher(doc)))
        for start, minus_end in matches:
            end = -minus_end
            phrase = " ".join(words[start:end])
            for kind in self.kinds[phrase]:
                if start >= free_from.get(kind, 0):
                    cues.append(Cue(kind, start, end, phrase))
                    free_from[kind] = end
        dates = [one for one in doc._.measures if one.label == "DATE"]
        cues = _without_hidden(_with_corrections(words, [*doc._.terms, *dates], cues))
        doc._.cues = cues
        doc.spans["cues"] = [Span(doc, cue.start, cue.end, label=cue.kind) for cue in cues]
        return doc
