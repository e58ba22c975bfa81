"""The schema of the vocabulary files: what ships obeys it, and it is a schema by the standard."""

from __future__ import annotations

from dataclasses import fields
from importlib import resources
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator

from diaryidx.errors import VocabularyError
from diaryidx.language.status_rules import Shown, StatusRule
from diaryidx.vocabulary import load_vocabulary
from diaryidx.vocabulary.loader import SAFETY_CLASSES, part_names
from diaryidx.vocabulary.yaml_files import SCHEMA, Checked, check_names, has_schema, read_checked

FOLDER = Path(str(resources.files("diaryidx.vocabulary")))
SHIPPED = sorted(path for path in FOLDER.rglob("*.yaml") if path.name != SCHEMA)


TALK = (
    "asides.yaml", "availability.yaml", "customer_parts.yaml", "discourse.yaml", "hedges.yaml", "pointing.yaml",
    "promises.yaml", "questions.yaml", "references.yaml", "steps.yaml",
)  # fmt: skip


def checked(path: Path) -> Checked:
    text = path.read_text(encoding="utf-8")
    kind = str(yaml.load(text, Loader=yaml.BaseLoader).get("kind", path.name))
    return read_checked(path, text, kind if has_schema(kind) else "other")


def test_the_schema_is_one_by_the_standard() -> None:
    """Outside check: the meta-schema of JSON Schema draft 2020-12, as the jsonschema package ships it."""
    schema = yaml.safe_load((FOLDER / SCHEMA).read_text(encoding="utf-8"))
    Draft202012Validator.check_schema(schema)
    assert tuple(schema["$defs"]["safety"]["enum"]) == SAFETY_CLASSES


@pytest.mark.parametrize("path", SHIPPED, ids=[path.name for path in SHIPPED])
def test_every_shipped_file_obeys_its_schema(path: Path) -> None:
    assert checked(path).data


def test_no_shipped_term_is_there_twice_and_each_belongs_to_something_known() -> None:
    where: dict[tuple[str, str], str] = {}
    for path in SHIPPED:
        file = checked(path)
        terms = file.data.get("terms", ())
        check_names(file, [(("terms", place), term) for place, term in enumerate(terms)], part_names())
        for term in terms if file.data.get("kind") != "sides" else ():
            key = (file.data["kind"], term["name"])
            assert key not in where, f"{key} is in {path.name} and in {where[key]}"
            where[key] = path.name


def test_status_rules_ask_only_for_what_a_clause_shows() -> None:
    known = {field.name for field in fields(Shown)} | {field.name for field in fields(StatusRule)}
    for rule in checked(FOLDER / "cues" / "status_rules.yaml").data["rules"]:
        assert known.issuperset(rule), rule["name"]


@pytest.mark.parametrize(
    ("kind", "text", "line", "words"),
    [
        ("parts", "kind: parts\nsystem: engine\nterms:\n- {name: sump, sagety: fuel}\n", 4, "did you mean 'safety'?"),
        ("parts", "kind: parts\nterms:\n- {name: sump}\n", 1, "has no 'system'"),
        ("roles", "kind: roles\nterms:\n- name: welder\n  place: away\n", 4, "place 'away' is not known"),
        ("status_rules.yaml", "carriers: []\nof the bike: []\nrules:\n- {name: a, status: half}\n", 4, "status 'half'"),
        ("cues.yaml", "asked:\n  reach: paragraph\n  say: [wants]\n", 2, "reach 'paragraph'"),
        ("pointing.yaml", "points: ['see <here']\nnot pointing: [in here]\n", 1, "must have its braces in pairs"),
        ("asides.yaml", "begins: [hang on]\nends: [anyway]\n", 1, "has no 'speaks on'"),
        ("cautions.yaml", "general: []\nclasses:\n  breaks: [a]\nsigns: {}\n", 3, "'breaks' is not known"),
    ],
)
def test_a_wrong_shipped_file_would_be_told_with_its_line(kind: str, text: str, line: int, words: str) -> None:
    with pytest.raises(VocabularyError) as raised:
        read_checked(Path("some.yaml"), text, kind)
    assert str(raised.value).startswith(f"some.yaml, line {line}: ") and words in str(raised.value)


def test_every_list_of_how_people_talk_is_used_by_the_language_step() -> None:
    code = "".join(path.read_text(encoding="utf-8") for path in (FOLDER.parent / "language").glob("*.py"))
    for path in SHIPPED:
        if path.name in TALK:
            unused = [name for name in checked(path).data if f'"{name}"' not in code]
            assert not unused, f"{path.name}: nothing uses {unused}"


@pytest.mark.parametrize("name", [name for name in TALK if name not in ("discourse.yaml", "openings.yaml")])
def test_every_way_of_talking_has_a_definition_of_its_own(name: str) -> None:
    assert has_schema(name)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("parts:\n- seat\nparts:\n- tank\n", 3, "'parts' is there twice, first in line 1"),
        ("parts:\n- {name: hanger}\n- hanger\n", 3, "'hanger' is there twice, first in line 2"),
        ("parts:\n- {name: hanger, part_of: exhuast}\n", 2, "did you mean 'exhaust'?"),
        ("parts:\n- {name: hanger, system: spaceship}\n", 2, "system 'spaceship' is not known"),
        ("parts:\n- {name: hoop end, part_of: hoop kit}\n- {name: hoop kit, part_of: hoop end}\n", 2, "part of itself"),
        ("finishes:\n- gloss\n- {name: plain, say: [not]}\n", 3, "'not' is in every other sentence"),
        ("parts: [{name: the}]\n", 1, "can be no name of a thing"),
        ("parts:\n- name: hanger\n  say: thing\n", 3, "must be a list"),
        ("parts:\n- [hanger]\n", 2, "must be 'name: value' lines"),
        ("tasks:\n- {name: squirt, safety: fule}\n", 2, "use one of brakes"),
        ("parts: &all\n- *all\n", 1, "too deep"),
        ("heard:\n  '...': seat\n", 2, "no letters or digits"),
    ],
)
def test_the_shops_words_are_held_against_the_schema(tmp_path: Path, text: str, line: int, words: str) -> None:
    path = tmp_path / "words.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(VocabularyError) as raised:
        load_vocabulary(path)
    assert f"line {line}: " in str(raised.value) and words in str(raised.value)


def test_a_part_may_belong_to_one_of_the_shops_own_and_a_nickname_to_two_bikes(tmp_path: Path) -> None:
    path = tmp_path / "words.yaml"
    path.write_text(
        "parts: [hoop kit, {name: hoop end, part_of: hoop kit}]\n"
        "nicknames: [{name: the heron, job: 1}, {name: the heron, job: 2}]\n",
        encoding="utf-8",
    )
    term = load_vocabulary(path).term("hoop end", "PART")
    assert term is not None and term.part_of == "hoop kit"
