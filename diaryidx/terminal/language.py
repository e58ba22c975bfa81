"""How a sentence is understood."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from rich.markup import escape

from diaryidx.terminal.lines import out, print_line, table_of
from diaryidx.wording import how_sure

if TYPE_CHECKING:
    from diaryidx.language.explaining import Explanation


def explanation_json(explanation: Explanation) -> dict[str, Any]:
    """``explain TEXT --json``: the statements in the shape of every other command, then how they came about."""
    from diaryidx.shapes import statement_json

    rest = {name: value for name, value in asdict(explanation).items() if name != "statements"}
    return {"statements": [statement_json(statement) for statement in explanation.statements], **rest}


def show_explanation(explanation: Explanation) -> None:
    """The terms, the cues with their reach, and the statements with the rule that made each."""
    terms = table_of("words", "what", "meaning")
    for mention in explanation.mentions:
        terms.add_row(escape(mention.text), mention.label.lower(), escape(mention.canonical))
    out.print(terms)
    if explanation.cues:
        cues = table_of("cue", "kind")
        for cue in explanation.cues:
            cues.add_row(escape(cue["text"]), cue["kind"])
        out.print(cues)
    for clause in explanation.clauses:
        reach = "; ".join(f"{kind}: “{words}”" for kind, words in clause["scopes"].items())
        print_line(f"clause “{clause['text']}”{f' under {reach}' if reach else ''}")
    slots = ("part", "side", "quantity", "task", "finish", "product", "supplier", "status", "said_by", "who", "when")
    for statement in explanation.statements:
        told = [f"{slot.replace('_', ' ')}: {getattr(statement, slot)}" for slot in slots if getattr(statement, slot)]
        print_line(f"- {'; '.join(told)}")
        print_line(f"    {how_sure(statement.certainty)}; rule: {statement.rule}")
    if not explanation.statements:
        print_line("Nothing is stated about a part of a bike here.")
