"""`explain`: how one sentence is understood."""

from __future__ import annotations

from pathlib import Path

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option, vocabulary_of
from diaryidx.terminal.language import explanation_json, show_explanation


@click.command()
@click.argument("sentence")
@click.option("--as", "form", type=click.Choice(["text", "html"]), default="text", show_default=True, help="The form.")
@shop_option
@json_option
def explain(sentence: str, form: str, shop_folder: Path, as_json: bool) -> None:
    """Show how a sentence is understood.

    Prints the terms in SENTENCE, the cues and their reach, the statements and the rules that made them; `--as html` as
    a page to save and open. Works outside a shop too, then with the shipped words alone.
    """
    from diaryidx.language.explaining import explain as explain_sentence
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.vocabulary.loader import load_vocabulary

    if (shop_folder / "shop.toml").is_file() or shop_folder != Path():
        with opened(shop_folder) as (shop, db):
            vocabulary = vocabulary_of(shop, db)
    else:
        vocabulary = load_vocabulary()
    explanation = explain_sentence(build_pipeline(vocabulary), sentence, vocabulary)
    if explanation.left_out:
        click.echo(f"The last {explanation.left_out:,} characters were not read: that is no sentence.", err=True)
    if as_json:
        print_json(explanation_json(explanation))
    elif form == "html":
        from diaryidx.language.explaining_page import explanation_page

        click.echo(explanation_page(explanation), nl=False)
    else:
        show_explanation(explanation)
