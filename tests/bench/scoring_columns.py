"""The columns of the table: the demo shop indexed after each way of hearing its films.

"vosk" is Vosk with the demo's mini model, "packaged" the packaged engine. Two more columns hear perfectly, so that
what hearing costs can be told from what understanding costs: "text" has the words as the script writes them, with
capitals and punctuation (as the packaged engine writes); "bare text" has them in lower case without marks (as Vosk
does), with a silence where the film has one. Both go through the same `index`: the words are laid beside the film as
stretches that were heard before, which is what a resumed run finds.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterable
from importlib.util import find_spec
from pathlib import Path

from sqlite_utils import Database

from diaryidx.indexing import index
from diaryidx.media.decode import decode_blocks
from diaryidx.media.identity import content_hash
from diaryidx.records import Word
from diaryidx.resources import demo_shop_folder
from diaryidx.shop import Shop
from diaryidx.speech.home import open_engine
from diaryidx.speech.splitting import split
from diaryidx.starting import make_demo
from diaryidx.store import writing
from diaryidx.store.database import open_store
from tests.bench.scoring_truth import TrueFilm, words_with_times

COLUMNS = ("vosk", "packaged", "text", "bare text")


def available() -> list[str]:
    """The columns that can be made here."""
    return [name for name in COLUMNS if name != "packaged" or find_spec("moonshine_voice") is not None]


def indexed_demo(column: str, folder: Path, films: Iterable[TrueFilm], jobs: int) -> tuple[Shop, Database]:
    """Make a demo shop in a folder and index it as the column says.

    A folder that was used before is brought up to date: changed films are heard again, the others only understood
    again where words or rules changed. Perfect hearing costs nothing and begins anew.

    :raises RuntimeError: a film could not be indexed.
    """
    shop = make_demo(folder)
    shutil.copytree(demo_shop_folder(), folder, dirs_exist_ok=True)
    if column.endswith("text"):
        for file in shop.folder.glob("shop.db*"):
            file.unlink()
    db = open_store(shop.database)
    engine = "packaged" if column == "packaged" else "vosk"
    if column.endswith("text"):
        _lay_words(shop, db, films, _bare if column == "bare text" else _as_written)
    for outcome in index(shop, db, workers=jobs, engine=engine):
        if outcome.error:
            raise RuntimeError(f"{column}: {outcome.error}")
    return shop, db


def _lay_words(shop: Shop, db: Database, films: Iterable[TrueFilm], written: Callable[[str], list[str]]) -> None:
    """Store the words of every film as stretches that the engine of the shop has heard already."""
    fingerprint = open_engine("vosk", shop.model).fingerprint
    for film in films:
        path = shop.recordings / film.path
        words = [
            Word(text, round(start, 3), round(end, 3), 1.0)
            for word, start, end in words_with_times(film)
            for text in written(word)
        ]
        digest = content_hash(path)
        for stretch in split(decode_blocks(path)):
            inside = tuple(one for one in words if stretch.start <= one.start < stretch.end)
            writing.save_stretch(db, digest, fingerprint, stretch.start_sample, stretch.end_sample, inside)
            words = words[len(inside) :]
        if words:
            raise RuntimeError(f"{film.name}: {len(words)} words lie behind the end of the film")


def _as_written(word: str) -> list[str]:
    return [word]


def _bare(word: str) -> list[str]:
    """A word as Vosk writes it: lower case, no marks but apostrophes, hyphened words apart."""
    return re.findall(r"[a-z0-9]+(?:'[a-z]+)*", word.lower())
