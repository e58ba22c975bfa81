"""The scope component with other cues judges as the published algorithms say: NegEx (Chapman et al. 2001), ConText.

The rules tested are those of the papers: a negation reaches forward (or, a post-negation, backward) to a termination
term or the end of the sentence; a pseudo-negation that holds a negation hides it. Sentences and cue lists are ours;
`tests.bench.language scopes` compares with two implementations and their lists.
"""

from __future__ import annotations

import pytest
from spacy.language import Language

from diaryidx.language.pipeline import build_pipeline
from diaryidx.vocabulary import Vocabulary

CUES = {
    "negated": {"reach": "forward", "say": ["no", "denies", "no sign of"]},
    "not negated": {"reach": "none", "say": ["no increase"]},
    "end negated": {"reach": "none", "say": ["but", "which"]},
    "negated behind": {"reach": "backward", "say": ["was ruled out"]},
    "end negated behind": {"reach": "none", "say": ["but", "which"]},
}


@pytest.fixture(scope="module")
def as_published(vocabulary: Vocabulary) -> Language:
    nlp = build_pipeline(vocabulary)
    for name in ("cue_matcher", "scopes", "statement_assembler"):
        nlp.remove_pipe(name)
    nlp.add_pipe("cue_matcher", before="clause_splitter", config={"cues": CUES})
    nlp.add_pipe("scopes", config={"cues": CUES, "ends_at": "cues"})
    return nlp


def reached(nlp: Language, text: str) -> list[tuple[str, str]]:
    doc = nlp(text)
    words = doc.user_data["words"]
    scopes = doc.user_data["scopes"]
    return [(cue.text, " ".join(words[start:end])) for cue, start, end in scopes if start < end]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("no rust in the tank", [("no", "rust in the tank")]),
        ("the cap is fine but no rust in the tank", [("no", "rust in the tank")]),
        ("he denies a crash but the fork is bent", [("denies", "a crash")]),
        ("no sign of play which is good", [("no sign of", "play")]),
        ("no rust. the tank is dry", [("no", "rust")]),
        ("no increase in wear", []),
        ("a bent valve was ruled out", [("was ruled out", "a bent valve")]),
        ("it smokes but a bent valve was ruled out", [("was ruled out", "a bent valve")]),
        ("no dents no scratches", [("no", "dents"), ("no", "scratches")]),
        ("the tank is painted", []),
    ],
)
def test_a_scope_runs_from_its_cue_to_what_ends_it(
    as_published: Language, text: str, expected: list[tuple[str, str]]
) -> None:
    assert reached(as_published, text) == expected


def test_our_own_scopes_end_with_the_clause(nlp: Language) -> None:
    found = dict(reached(nlp, "hopefully the tank is back on friday and we've painted the seat"))
    assert "tank" in found["hopefully"] and "seat" not in found["hopefully"]
