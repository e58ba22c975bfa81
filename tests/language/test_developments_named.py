from __future__ import annotations

from pathlib import Path

import pytest

from diaryidx.language.pipeline import build_pipeline
from diaryidx.language.reading import read_recording
from diaryidx.records import Reading, Sentence
from diaryidx.vocabulary.loader import load_vocabulary

TALK = """
first up is the otter
the seat is back from the trimmer and it looks lovely
now the swan necks
only in cardboard so far but they clear the tank
next up this one is in for a service
it needs new tyres and a battery
"""


def read(folder: Path, words: str) -> Reading:
    path = folder / "words.yaml"
    path.write_text(words)
    vocabulary = load_vocabulary(path)
    said = TALK.strip().splitlines()
    sentences = [Sentence(float(place), place + 1.0, text, text) for place, text in enumerate(said)]
    return read_recording(build_pipeline(vocabulary), sentences, "diary", "2025-11-03", vocabulary)


def test_a_development_that_the_shop_names_is_a_topic_of_its_own(tmp_path: Path) -> None:
    found = read(tmp_path, "developments:\n  - {name: swan-neck bracket, say: [swan neck]}\n")
    about = [(one.first, one.last, one.subject.id) for one in found.segments if one.subject.kind == "development"]
    assert about == [(2, 3, "swan-neck bracket")]


def test_without_its_name_nothing_tells_that_it_is_one(tmp_path: Path) -> None:
    found = read(tmp_path, "parts:\n  - swan neck\n")
    assert "development" not in {one.subject.kind for one in found.segments}


@pytest.mark.parametrize("first", ["products", "developments"])
def test_a_development_may_also_be_among_the_products(tmp_path: Path, first: str) -> None:
    second = {"products": "developments", "developments": "products"}[first]
    path = tmp_path / "words.yaml"
    path.write_text(f"{first}:\n  - swan neck\n{second}:\n  - swan neck\n")
    vocabulary = load_vocabulary(path)
    assert vocabulary.developments == {"swan neck"}
    assert vocabulary.phrases["swan necks"].sort == vocabulary.phrases["swan neck"].sort == "development"
