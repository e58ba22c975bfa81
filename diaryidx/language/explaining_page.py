"""An explanation as a page of its own: what was found, cues and scopes drawn by displaCy, the statements as a table."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Any

from diaryidx.language.explaining import Explanation
from diaryidx.vocabulary.spoken_words import split_words
from diaryidx.wording import how_sure

_COLUMNS = (
    "part", "side", "quantity", "task", "finish", "product", "supplier", "status", "said_by", "who", "when",
)  # fmt: skip
MOST_DRAWN = 3_000  # words under all spans of one drawing: each costs a line of the page
_STYLE = """body{font:16px/1.5 system-ui,sans-serif;margin:2rem auto;max-width:70rem;padding:0 1rem;color:#222}
h1{font-size:1.3rem}h2{font-size:1.05rem;margin-top:2rem}table{border-collapse:collapse}
th,td{border:1px solid #bbb;padding:.3rem .6rem;text-align:left;vertical-align:top}
figure{margin:0;overflow-x:auto}"""


def explanation_page(told: Explanation) -> str:
    """Draw an explanation.

    Arguments:
        told: what was made of a text.
    Returns: an HTML page that needs no other file; everything that was said is escaped.
    """
    title = escape(told.text if len(told.text) <= 80 else told.text[:79] + "…")
    scopes = [{"kind": f"{one['kind']}: {one['cue']}", "start": one["start"], "end": one["end"]} for one in told.scopes]
    parts = (
        f"<h1>How “{title}” is understood</h1>",
        _figure("What is named", told.text, [(one.start, one.end, one.label) for one in told.mentions]),
        _figure("Cues", told.text, _places(told.cues)),
        _figure("What each cue reaches", told.text, _places(scopes)),
        f"<h2>Statements</h2>{_table(told)}",
    )
    return (
        f'<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{_STYLE}</style></head><body>\n{''.join(parts)}\n</body></html>\n"
    )


def _places(found: Iterable[dict[str, Any]]) -> list[tuple[int, int, str]]:
    return [(one["start"], one["end"], one["kind"]) for one in found]


def _figure(title: str, text: str, places: list[tuple[int, int, str]]) -> str:
    """Places of a text (characters) as spans over its words."""
    from spacy import displacy

    words = split_words(text)
    spans: list[dict[str, Any]] = []
    covered = 0
    for start, end, label in places:
        inside = [place for place, word in enumerate(words) if word.start < end and start < word.end]
        covered += len(inside)
        if covered > MOST_DRAWN:
            break
        if inside:
            spans.append({"start_token": inside[0], "end_token": inside[-1] + 1, "label": escape(label)})
    if not spans:
        return f"<h2>{title}</h2><p>None.</p>"
    drawn = {"text": text, "tokens": [text[word.start : word.end] for word in words], "spans": spans}
    rest = f"<p>Only the first {len(spans)} are drawn.</p>" if covered > MOST_DRAWN else ""
    drawing = displacy.render(drawn, style="span", manual=True, jupyter=False)
    return f"<h2>{title}</h2><figure>{drawing}</figure>{rest}"


def _table(told: Explanation) -> str:
    if not told.statements:
        return "<p>Nothing is stated about a part of a bike here.</p>"
    columns = [name for name in _COLUMNS if any(getattr(one, name) for one in told.statements)]
    head = "".join(f"<th>{name.replace('_', ' ')}</th>" for name in (*columns, "how sure", "rule"))
    rows = []
    for one in told.statements:
        cells = [getattr(one, name) or "" for name in columns]
        cells += [f"{how_sure(one.certainty)} ({one.certainty:.2f})", one.rule or ""]
        rows.append("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>")
    return f"<table><thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table>"
