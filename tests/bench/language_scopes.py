"""Our scope component against NegEx and ConText: `python -m tests.bench.language scopes`.

Chapman, Bridewell, Hanbury, Cooper and Buchanan 2001 (NegEx) as the package negspacy has it, Harkema, Dowling,
Thornblade and Chapman 2009 (ConText) as medspacy has it. Given their cues, our component must judge as they do.
medspacy needs spaCy below 3.8 on Python 3.11 and loads a matcher of medical terms that its context component has no use
for; so it is installed without what it requires, and its context component alone is loaded.
"""

from __future__ import annotations

import importlib.metadata
import importlib.util
import itertools
import json
import re
import sys
import types
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

import spacy
import yaml

from diaryidx.language.pipeline import build_pipeline
from diaryidx.vocabulary import load_vocabulary
from tests.bench.language_scoring import GoldSet
from tests.language.checkable_set import read_case, slots_of
from tests.language.report_set import REPORT_SLOTS, Normaliser

SENTENCES = Path(__file__).with_name("scoped_sentences.yaml")
Target = tuple[int, int]
Judge = Callable[[str, list[Target]], list[frozenset[str]]]
#: Their categories, and what each sets.
CATEGORIES = {
    "NEGATED_EXISTENCE": "negated", "POSSIBLE_EXISTENCE": "uncertain", "HISTORICAL": "historical",
    "HYPOTHETICAL": "hypothetical", "FAMILY": "family",
}  # fmt: skip
#: Which of our kinds of cue say the same.
OURS = {
    "negated": {"negation", "ruled out"},
    "historical": {"earlier"},
    "hypothetical": {"condition", "advice", "question", "doubted", "only talked about", "joke"},
}


# --- theirs ----------------------------------------------------------------------------------------------------------


def negspacy_judge() -> Judge | None:
    """negspacy with its clinical terms, or None where it is not installed."""
    if importlib.util.find_spec("negspacy") is None:
        return None
    import negspacy.negation  # noqa: F401  (importing registers the factory)

    nlp = spacy.blank("en")
    nlp.add_pipe("sentencizer")
    nlp.add_pipe("negex", config={"ent_types": ["T"]})
    return _judge(nlp, lambda span: {"negated"} if span._.negex else set())


def medspacy_judge() -> Judge | None:
    """medspacy's ConText with its own rules, or None where it is not installed."""
    if not _give_medspacy():
        return None
    import medspacy.context  # noqa: F401

    nlp = spacy.blank("en")
    nlp.add_pipe("sentencizer")
    nlp.add_pipe("medspacy_context")
    return _judge(nlp, lambda span: {name for name in CATEGORIES.values() if getattr(span._, f"is_{name}")})


@cache
def _give_medspacy() -> bool:
    try:
        found = importlib.metadata.distribution("medspacy")
    except importlib.metadata.PackageNotFoundError:
        return False
    package = types.ModuleType("medspacy")
    package.__path__ = [str(found.locate_file("medspacy"))]
    matcher = types.ModuleType("quickumls")
    matcher.spacy_component = None  # type: ignore[attr-defined]
    sys.modules.setdefault("medspacy", package)
    sys.modules.setdefault("quickumls", matcher)
    return True


def _judge(nlp: Any, says: Callable[[Any], set[str]]) -> Judge:
    def judge(text: str, targets: list[Target]) -> list[frozenset[str]]:
        doc = nlp.make_doc(text)
        spans = [doc.char_span(start, end, label="T", alignment_mode="expand") for start, end in targets]
        doc.ents = spacy.util.filter_spans(spans)
        for _, pipe in nlp.pipeline:
            doc = pipe(doc)
        by_place = {one.start: frozenset(says(one)) for one in doc.ents}
        return [by_place.get(span.start, frozenset()) for span in spans]

    return judge


# --- ours ------------------------------------------------------------------------------------------------------------


def negex_cues() -> dict[str, Any]:
    """negspacy's terms as cues of ours."""
    from negspacy.termsets import termset

    terms = termset("en_clinical").get_patterns()
    cues: dict[str, Any] = {}
    for kind, reach, said in (("negated", "forward", "preceding"), ("negated behind", "backward", "following")):
        cues[kind] = {"reach": reach, "say": terms[f"{said}_negations"]}
        cues[f"not {kind}"] = {"reach": "none", "say": terms["pseudo_negations"]}
        cues[f"end {kind}"] = {"reach": "none", "say": terms["termination"]}
    return cues


def context_cues() -> tuple[dict[str, Any], int]:
    """medspacy's rules as cues of ours, and how many rules cannot be written as phrases.

    There a longer phrase hides a shorter one of any category, and every terminator ends every category.
    """
    file = importlib.metadata.distribution("medspacy").locate_file("resources/en/context_rules.json")
    rules = json.loads(Path(str(file)).read_text(encoding="utf-8"))["context_rules"]
    said: dict[str, list[str]] = {}
    ends: list[str] = []
    left_out = 0
    for rule in rules:
        phrases = _phrases(rule)
        left_out += not phrases
        if rule["direction"] == "TERMINATE":
            ends += phrases
        elif rule["direction"] in ("FORWARD", "BACKWARD"):
            behind = " behind" if rule["direction"] == "BACKWARD" else ""
            said.setdefault(CATEGORIES[rule["category"]] + behind, []).extend(phrases)
    cues: dict[str, Any] = {}
    for kind, phrases in said.items():
        cues[kind] = {"reach": "backward" if kind.endswith("behind") else "forward", "say": phrases}
        cues[f"end {kind}"] = {"reach": "none", "say": ends}
        cues[f"not {kind}"] = {"reach": "none", "say": _hiding(phrases, [*itertools.chain(*said.values()), *ends])}
        cues[f"not end {kind}"] = {"reach": "none", "say": _hiding(ends, itertools.chain(*said.values()))}
    return cues, left_out


def _hiding(phrases: Iterable[str], others: Iterable[str]) -> list[str]:
    own = set(phrases)
    return sorted(
        {one for one in others if one not in own and any(f" {word} " in f" {one} " for word in own if word != one)}
    )


def _phrases(rule: dict[str, Any]) -> list[str]:
    """Every phrase that a rule's token pattern stands for; none where it asks for more than words."""
    if not rule.get("pattern"):
        return [rule["literal"].lower()]
    if isinstance(rule["pattern"], str):
        return []
    choices: list[list[str]] = []
    for token in rule["pattern"]:
        if set(token) - {"LOWER", "OP"} or token.get("OP", "?") != "?" or not token.get("LOWER"):
            return []
        words = token["LOWER"]["IN"] if isinstance(token["LOWER"], dict) else [token["LOWER"]]
        choices.append([*words, ""] if "OP" in token else list(words))
    return [" ".join(filter(None, words)) for words in itertools.product(*choices)]


def our_judge(nlp: Any, kinds: dict[str, set[str]]) -> Judge:
    """Our pipeline: a target is judged by the cues whose scopes it lies in. ``kinds``: judgement to kinds of cue."""

    def judge(text: str, targets: list[Target]) -> list[frozenset[str]]:
        doc = nlp(text)
        places = doc.user_data["places"]
        judged = []
        for start, end in targets:
            own = {at for at, (first, last) in enumerate(places) if first < end and start < last}
            reached = {
                cue.kind
                for cue, first, last in doc.user_data["scopes"]
                if own & set(range(first, last)) and not own & set(range(cue.start, cue.end))
            }
            judged.append(frozenset(name for name, cues in kinds.items() if cues & reached))
        return judged

    return judge


def with_cues(cues: dict[str, Any], ends_at: str) -> Any:
    """The product's pipeline up to its scopes, with other cues."""
    nlp = build_pipeline(load_vocabulary())
    for name in ("cue_matcher", "scopes", "statement_assembler"):
        nlp.remove_pipe(name)
    nlp.add_pipe("cue_matcher", before="clause_splitter", config={"cues": cues})
    nlp.add_pipe("scopes", config={"cues": cues, "ends_at": ends_at})
    return nlp


# --- comparing -------------------------------------------------------------------------------------------------------


def compare() -> None:
    """Print how often our component, given their cues, judges as they do."""
    theirs: list[tuple[str, Judge | None, Callable[[], dict[str, Any]], list[str]]] = [
        ("NegEx (negspacy)", negspacy_judge(), negex_cues, ["negated"]),
        ("ConText (medspacy)", medspacy_judge(), lambda: context_cues()[0], list(CATEGORIES.values())),
    ]
    sentences = [_marked(line) for line in yaml.safe_load(SENTENCES.read_text(encoding="utf-8"))]
    count = sum(len(targets) for _, targets in sentences)
    print(f"\nscopes: {len(sentences)} sentences, {count} targets; our component with the cues of the other")
    for name, judge, cues, judgements in theirs:
        if judge is None:
            print(f"  {name}: not installed")
            continue
        told = [judge(*one) for one in sentences]
        said = {judgement: sum(judgement in one for row in told for one in row) for judgement in judgements}
        print(f"  {name} judges " + ", ".join(f"{times} {judgement}" for judgement, times in said.items()))
        for ends_at in ("cues", "clauses"):
            kinds = {judgement: {judgement, f"{judgement} behind"} for judgement in judgements}
            ours = our_judge(with_cues(cues(), ends_at), kinds)
            apart = []
            for (text, targets), rows in zip(sentences, told, strict=True):
                for target, want, have in zip(targets, rows, ours(text, targets), strict=True):
                    if want != have:
                        apart.append(f"{_bracketed(text, target)}: {_words(want)}; ours {_words(have)}")
            print(f"    scopes ended at {ends_at}: the same for {1 - len(apart) / count:.1%} of the targets")
            if ends_at == "cues":
                print("".join(f"      {line}\n" for line in apart), end="")
    if judge is not None:
        print(f"  rules of medspacy that are no phrases and were left out: {context_cues()[1]}")


def _marked(line: str) -> tuple[str, list[Target]]:
    text, targets, place = "", [], 0
    for mark in re.finditer(r"\[([^\]]*)\]", line):
        text += line[place : mark.start()]
        targets.append((len(text), len(text) + len(mark.group(1))))
        text, place = text + mark.group(1), mark.end()
    return text + line[place:], targets


def _bracketed(text: str, target: Target) -> str:
    return f"{text[: target[0]]}[{text[target[0] : target[1]]}]{text[target[1] :]}"


def _words(judged: frozenset[str]) -> str:
    return ", ".join(sorted(judged)) or "nothing"


# --- on the report half ----------------------------------------------------------------------------------------------


def beside_the_report(golds: Iterable[GoldSet]) -> None:
    """Print how well cues tell which parts are ruled out, of earlier work, or only supposed (nothing is stated)."""
    judges: dict[str, Judge | None] = {"negspacy": negspacy_judge(), "medspacy": medspacy_judge()}
    found: dict[tuple[str, str], list[tuple[bool, bool]]] = {}
    for gold in golds:
        alike = Normaliser(gold.nlp, gold.vocabulary)
        judges["our cues"] = our_judge(gold.nlp, OURS)
        for case in gold.cases:
            targets = [(start, end) for start, end, label in case.spans or () if label == "PART"]
            if not targets:
                continue
            wanted = [dict(alike(one, case.said_on)) for one in case.means]
            parts = [dict(alike((("part", case.text[start:end]),), None))["part"] for start, end in targets]
            truth = [_said_of(part, wanted) for part in parts]
            made = [
                dict(alike(slots_of(one, REPORT_SLOTS), None)) for one in read_case(gold.nlp, gold.vocabulary, case)[0]
            ]
            told = {name: judge(case.text, targets) for name, judge in judges.items() if judge is not None}
            told["our cues and rules"] = [_said_of(part, made) for part in parts]
            for name, rows in told.items():
                for judgement in OURS:
                    pairs = zip(rows, truth, strict=True)
                    found.setdefault((judgement, name), []).extend((judgement in a, judgement in b) for a, b in pairs)
    print("\ncues on the report half, over its marked parts: precision, recall, F1")
    for (judgement, name), pairs in sorted(found.items()):
        right = sum(a and b for a, b in pairs)
        made, true = sum(a for a, _ in pairs), sum(b for _, b in pairs)
        if judgement == "hypothetical" and name == "our cues and rules":
            continue  # nothing stated is what it says of every part that it does not know
        print(
            f"  {_MEANING[judgement]:28} {name:20} {right / max(made, 1):.2f} {right / max(true, 1):.2f} "
            f"{2 * right / max(made + true, 1):.2f}  ({made} judged so, {true} so marked)"
        )


_MEANING = {"negated": "ruled out", "historical": "earlier work", "hypothetical": "nothing is stated of it"}


def _said_of(part: str, statements: Iterable[dict[str, str]]) -> frozenset[str]:
    statuses = {one["status"] for one in statements if one.get("part") == part}
    names = {"ruled out": "negated", "earlier work": "historical"}
    return frozenset(names[one] for one in statuses if one in names) if statuses else frozenset(("hypothetical",))
