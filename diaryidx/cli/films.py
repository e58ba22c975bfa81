"""Films: `index` listens to them; `recording`, `transcript`, `captions` and `segments` show what came of it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Literal

import click

from diaryidx.cli.common import json_option, opened, print_json, shop_option
from diaryidx.errors import WrongUse
from diaryidx.records import RECORDING_KINDS
from diaryidx.shop import ENGINES, Shop, load_shop
from diaryidx.terminal.films import (
    index_progress,
    show_indexed,
    show_recording,
    show_recordings,
    show_segments,
    show_transcript,
)


@click.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path))
@click.option("--jobs", type=click.IntRange(1, 256), help="Stretches of film heard at the same time; one a core.")
@click.option("--engine", type=click.Choice(ENGINES), help="Listen with this engine instead of the shop's.")
@shop_option
@json_option
def index(paths: tuple[Path, ...], jobs: int | None, engine: str | None, shop_folder: Path, as_json: bool) -> None:
    """Listen to new and changed films.

    PATHS are films or folders; without them, the shop's recordings folder. A run that was stopped goes on where it
    was, and films that did not change are left alone.
    """
    failed = index_films(load_shop(shop_folder), paths, jobs, engine, as_json=as_json)
    if failed:
        sys.exit(1)


@click.command()
@click.argument("recording_id", metavar="[ID]", required=False)
@click.option("--date", help="When it was filmed, as YYYY-MM-DD.")
@click.option("--month", help="The month it belongs to, as YYYY-MM, if not that of its date.")
@click.option("--kind", type=click.Choice(RECORDING_KINDS), help="What sort of film it is.")
@click.option("--title", help="Its title.")
@click.option("--address", help="Where the public can watch it, as a web address.")
@shop_option
@json_option
def recording(
    recording_id: str | None,
    date: str | None,
    month: str | None,
    kind: str | None,
    title: str | None,
    address: str | None,
    shop_folder: Path,
    as_json: bool,
) -> None:
    """List films, show one, correct what was guessed.

    A correction stays through every re-index.
    """
    from dataclasses import asdict

    from diaryidx.correcting import correct
    from diaryidx.shapes import recording_json
    from diaryidx.store import reading

    given = {"date": date, "month": month, "kind": kind, "title": title, "address": address}
    corrections = {field: value for field, value in given.items() if value is not None}
    with opened(shop_folder) as (_shop, db):
        if recording_id is None:
            if corrections:
                raise WrongUse("say which film to correct by its id; `diaryidx recording` lists them")
            films = reading.recordings(db.conn)
            if as_json:
                print_json({"recordings": [recording_json(film) for film in films]})
            else:
                show_recordings(films)
            return
        film = correct(db, recording_id, corrections) if corrections else reading.recording(db.conn, recording_id)
        links = reading.film_links(db.conn, film.id)
        if as_json:
            print_json({**recording_json(film), "refers_to": [asdict(link) for link in links]})
        else:
            show_recording(film, links)


@click.command()
@click.argument("recording_id", metavar="ID")
@shop_option
@json_option
def transcript(recording_id: str, shop_folder: Path, as_json: bool) -> None:
    """Print what was heard in a film.

    Every sentence with its time; below it what was heard where that was put right, the film that it refers to, and the
    second at which somebody points.
    """
    from diaryidx.shapes import transcript_json
    from diaryidx.store import reading

    with opened(shop_folder) as (_shop, db):
        recording = reading.recording(db.conn, recording_id)
        sentences = reading.sentences(db.conn, recording_id)
        remarks, links = reading.remarks(db.conn, recording_id), reading.film_links(db.conn, recording_id)
        if as_json:
            print_json(transcript_json(recording, sentences, remarks, links))
        else:
            show_transcript(recording, sentences, remarks, links)


@click.command()
@click.argument("recording_id", metavar="RECORDING")
@click.option("--as", "form", type=click.Choice(["vtt", "srt"]), default="vtt", show_default=True, help="The form.")
@shop_option
@json_option
def captions(recording_id: str, form: Literal["vtt", "srt"], shop_folder: Path, as_json: bool) -> None:
    """Print a film's captions.

    From the words as they are meant, in lines that can be read in time: WebVTT for web players, SRT for editors.
    """
    from dataclasses import asdict

    from diaryidx.store import reading
    from diaryidx.transcript.captions import captions as captions_of
    from diaryidx.transcript.captions import written

    with opened(shop_folder) as (_shop, db):
        film = reading.recording(db.conn, recording_id)
        shown = captions_of(reading.sentences(db.conn, recording_id), film.duration)
    if as_json:
        print_json({"recording": film.id, "captions": [asdict(one) for one in shown]})
    else:
        click.echo(written(shown, form), nl=False)


@click.command()
@click.argument("recording_id", metavar="ID")
@shop_option
@json_option
def segments(recording_id: str, shop_folder: Path, as_json: bool) -> None:
    """Show a film's topics and the bikes they are about.

    Each with the reasons why it is tied to its build; of a tutorial its steps, with the tools, materials, torques and
    warnings of each and of the whole.
    """
    from diaryidx.shapes import segments_json
    from diaryidx.store import reading

    with opened(shop_folder) as (_shop, db):
        recording = reading.recording(db.conn, recording_id)
        found = reading.segments(db.conn, recording_id=recording_id)
        remarks = reading.remarks(db.conn, recording_id)
        if as_json:
            print_json(segments_json(found, remarks))
        else:
            show_segments(recording, found, remarks.steps)


def index_films(shop: Shop, paths: tuple[Path, ...], workers: int | None, engine: str | None, *, as_json: bool) -> bool:
    """Index and print; returns whether anything failed."""
    from diaryidx.indexing import index as run
    from diaryidx.indexing import indexed_json

    with opened(shop.folder) as (_shop, db), index_progress(quiet=as_json) as progress:
        outcome = run(shop, db, paths, workers=workers, engine=engine, progress=progress)
    if as_json:
        print_json(indexed_json(outcome))
    else:
        show_indexed(outcome, shop)
    return progress.problems > 0 or any(one.outcome == "failed" for one in outcome)
