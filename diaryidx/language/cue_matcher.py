"""Component ``cue_matcher``: finds the cues (``cues/cues.yaml``) that decide status, speaker and certainty."""

from __future__ import annotations

from spacy.language import Language
from spacy.matcher import PhraseMatcher
from spacy.tokens import Doc, Span

from diaryidx.language.found import Cue
from diaryidx.language.phrases import cue_phrases
from diaryidx.language.shop_vocabulary import vocabulary_of
from diaryidx.vocabulary.loader import Vocabulary


@Language.factory("cue_matcher", assigns=["doc._.cues", "doc.spans"])
def make_cue_matcher(nlp: Language, name: str) -> CueMatcher:
    """Build the component over the shipped cues and the names of the vocabulary."""
    return CueMatcher(nlp, vocabulary_of(nlp))


def _without_hidden(cues: list[Cue]) -> list[Cue]:
    """Cues without those that lie in a pseudo-cue of their kind ("not negation", "not advice")."""
    hiding = [cue for cue in cues if cue.kind.startswith("not ")]
    if not hiding:
        return cues
    hidden = {(cue.kind.removeprefix("not "), place) for cue in hiding for place in range(cue.start, cue.end)}
    return [cue for cue in cues if (cue.kind, cue.start) not in hidden]


class CueMatcher:
    """Finds cues. Sets ``doc._.cues`` (list of Cue in reading order) and ``doc.spans["cues"]``.

    Of cues of one kind that overlap the longest counts. A pseudo-negation ("not only") hides the negation inside it, as
    in NegEx (Chapman et al. 2001).
    """

    def __init__(self, nlp: Language, vocabulary: Vocabulary) -> None:
        self.kinds = cue_phrases(vocabulary)
        self.matcher = PhraseMatcher(nlp.vocab, attr="ORTH")
        self.matcher.add("cue", [Doc(nlp.vocab, words=phrase.split(" ")) for phrase in self.kinds])

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
        cues = _without_hidden(cues)
        doc._.cues = cues
        doc.spans["cues"] = [Span(doc, cue.start, cue.end, label=cue.kind) for cue in cues]
        return doc
