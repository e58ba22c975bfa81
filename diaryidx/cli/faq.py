"""`ask`: the moments that answer a question."""

from __future__ import annotations

from pathlib import Path

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option, vocabulary_of
from diaryidx.terminal.faq import show_answer


@click.command()
@click.argument("question")
@click.option("--reply", "as_reply", is_flag=True, help="Print a reply to paste instead of the passages.")
@click.option("--most", type=click.IntRange(1, 50), default=3, show_default=True, help="How many passages to print.")
@shop_option
@json_option
def ask(question: str, as_reply: bool, most: int, shop_folder: Path, as_json: bool) -> None:
    """Find the moments that answer a question.

    QUESTION is in the customer's own words; the cautions that go with it are printed too.
    """
    from diaryidx.faq.reply import reply
    from diaryidx.faq.search import ask as find_answer
    from diaryidx.shapes import answer_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        answer = find_answer(db.conn, question, vocabulary_of(shop, db))
        if as_json:
            print_json(answer_json(answer))
        elif as_reply:
            click.echo(reply(question, answer, shop.settings.name, reading.builds(db.conn)))
        else:
            show_answer(answer, most, has_films=bool(reading.recordings(db.conn)))
