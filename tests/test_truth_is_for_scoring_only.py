"""What is truly in the demo films is for scoring only: the product neither carries, names nor opens it, nor needs it.

And it knows nothing of the demo's people, bikes and suppliers beyond what the demo shop's own files tell it.
"""

from __future__ import annotations

import ast
import csv
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.sound import excerpt

ROOT = Path(__file__).resolve().parent.parent
DEMO = ROOT / "fixtures" / "demo-shop"
FOR_SCORING = ("truth", "timings", "scripts")  # folders of fixtures/ that say what is in the films

#: Indexes a shop and asks of it what people ask, listening to every file that Python opens on the way.
WATCHED = """
import json, sys
opened = []
sys.addaudithook(
    lambda event, values: opened.append(str(values[0]))
    if event in ("open", "os.listdir", "os.scandir", "sqlite3.connect") else None
)
from dataclasses import asdict
from pathlib import Path
import diaryidx
from diaryidx.builds.finding import find_build
from diaryidx.faq.search import ask
from diaryidx.indexing import index
from diaryidx.roundup.month import round_up
from diaryidx.shop import load_shop
from diaryidx.store import reading
from diaryidx.store.database import open_store
from diaryidx.vocabulary.loader import load_vocabulary
shop, allowed = load_shop(Path(sys.argv[1])), Path(sys.argv[2])
db = open_store(shop.database)
outcomes = [one.outcome for one in index(shop, db)]
vocabulary = load_vocabulary(shop.words, reading.builds(db.conn))
found = {
    "outcomes": outcomes,
    "sentences": [asdict(one) for film in reading.recordings(db.conn) for one in reading.sentences(db.conn, film.id)],
    "segments": [asdict(one) for one in reading.segments(db.conn)],
    "statements": [asdict(one) for one in reading.statements(db.conn)],
    "answer": asdict(ask(db.conn, "is the wiring loom in", vocabulary)),
    "build": asdict(find_build(db.conn, "Greenbottle")),
    "month": asdict(round_up(db.conn, "2026-09")),
}
before = list(opened)
allowed.read_text()
print(json.dumps({"package": diaryidx.__file__, "found": found, "opened": before, "after": opened[len(before):]}))
"""


def product_files(*suffixes: str) -> Iterator[Path]:
    for folder in ("diaryidx", "plugins"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.is_file() and path.suffix in suffixes:
                yield path


def strings_of(path: Path) -> Iterator[str]:
    """Every string of a file of the product that can do anything: docstrings and comments are left out."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        yield re.sub(r"(?m)(^|\s)#.*$", "", text) if path.suffix == ".yaml" else text
        return
    tree = ast.parse(text)
    told = {
        id(node.value)
        for parent in ast.walk(tree)
        if isinstance(parent, ast.Module | ast.ClassDef | ast.FunctionDef)
        for node in parent.body
        if isinstance(node, ast.Expr)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield node.value


def demo_names() -> set[str]:
    """The names of the demo: customers, makes, models, nicknames, people, suppliers and products with a name."""
    with (DEMO / "jobs.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    words = yaml.safe_load((DEMO / "words.yaml").read_text(encoding="utf-8"))
    names = [*words["suppliers"], *words["people"], *words["products"], *words["finishes"], *words["nicknames"]]
    names += [word for row in rows for word in row["customer"].split()]
    names += [word for row in rows for key in ("make", "model", "nickname") for word in row[key].split()]
    proper = {word for name in names for word in re.findall(r"\b[A-Z][a-z]{3,}\b", str(name))}
    return proper - {"Yard", "Paint", "Sunday"}  # words of every day, too


def test_no_file_of_the_product_names_the_folders_for_scoring() -> None:
    naming = re.compile(rf"fixtures[\\/]({'|'.join(FOR_SCORING)})|\btruth\b", re.IGNORECASE)
    files = list(product_files(".py", ".yaml", ".html", ".js", ".css", ".toml"))
    assert len(files) > 100
    assert [path for path in files if naming.search(path.read_text(encoding="utf-8"))] == []
    assert naming.search('Path("fixtures/truth")') and naming.search('folder / "truth"')


def test_no_rule_or_word_of_the_product_is_a_name_of_the_demo() -> None:
    names = demo_names()
    assert {"Curlew", "Greenbottle", "Marta", "Brackwater", "Puffin", "Odette"} <= names
    known = re.compile(rf"\b({'|'.join(sorted(names))})\b", re.IGNORECASE)
    assert known.search("the curlew's tank")
    hits = {
        (path.relative_to(ROOT).as_posix(), found[0])
        for path in product_files(".py", ".yaml", ".html", ".js")
        for text in strings_of(path)
        for found in known.finditer(text)
    }
    assert hits == set()


def test_what_is_installed_carries_nothing_that_is_for_scoring() -> None:
    wheel = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"]["targets"][
        "wheel"
    ]
    assert wheel.keys() == {"packages", "force-include"}
    carried = [ROOT / source for source in (*wheel["packages"], *wheel["force-include"])]
    assert DEMO in carried
    for folder in FOR_SCORING:
        scored = ROOT / "fixtures" / folder
        assert any(scored.iterdir())
        assert not [source for source in carried if scored.is_relative_to(source) or source.is_relative_to(scored)]


@pytest.fixture(scope="module")
def short_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo shop with half a minute of one film."""
    folder = tmp_path_factory.mktemp("short") / "shop"
    (folder / "recordings").mkdir(parents=True)
    for name in ("shop.toml", "words.yaml", "jobs.csv"):
        shutil.copy(DEMO / name, folder)
    film = next((DEMO / "recordings").rglob("*September diary*"))
    excerpt(film, folder / "recordings" / f"{film.stem}.wav", start=20.0, seconds=28.0)
    return folder


def run_watched(tree: Path, shop: Path, folder: Path) -> dict[str, Any]:
    """Index a copy of a shop with the product as it stands in a tree."""
    shutil.copytree(shop, folder / "shop", copy_function=shutil.copy2)
    command = [sys.executable, "-c", WATCHED, str(folder / "shop"), str(tree / "fixtures" / "control.txt")]
    if tree == ROOT:
        command[-1] = str(ROOT / "fixtures" / "truth" / "README.md")
    environment = {**os.environ, "PYTHONPATH": str(tree), "DIARYIDX_HOME": str(folder / "home")}
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    assert Path(told["package"]).is_relative_to(tree)
    return told


def test_indexing_and_asking_open_nothing_that_is_for_scoring_and_find_the_same_without_it(
    short_shop: Path, tmp_path: Path
) -> None:
    for name in ("here", "elsewhere"):
        (tmp_path / name).mkdir()
    here = run_watched(ROOT, short_shop, tmp_path / "here")
    for_scoring = [str(ROOT / "fixtures" / folder) for folder in FOR_SCORING]

    def scored(opened: list[str]) -> list[str]:
        return [path for path in opened if any(str(Path(path).absolute()).startswith(one) for one in for_scoring)]

    assert any("vocabulary" in path for path in here["opened"])
    assert scored(here["opened"]) == []
    assert scored(here["after"]), "the watch must see it when such a file is opened"

    bare = tmp_path / "bare"
    for source in ("diaryidx", "plugins", "fixtures/vosk-mini-en/model"):
        shutil.copytree(ROOT / source, bare / source, ignore=shutil.ignore_patterns("__pycache__"))
    (bare / "fixtures" / "control.txt").write_text("nothing of the films")
    there = run_watched(bare, short_shop, tmp_path / "elsewhere")
    assert here["found"]["outcomes"] == ["indexed"]
    assert here["found"]["statements"]
    assert there["found"] == here["found"]
