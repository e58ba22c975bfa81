"""Reading YAML: every scalar as text (so that "on", "off" and "no" stay words), and errors that name file and line.

What a file may say is data: JSON Schema (draft 2020-12) in ``schema.yaml``, checked with ``jsonschema``, which
is imported only where a person's file is read.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml

from diaryidx.errors import VocabularyError

if TYPE_CHECKING:
    from jsonschema import ValidationError
    from jsonschema.protocols import Validator

try:
    from yaml import CBaseLoader as TextLoader
except ImportError:  # a PyYAML built without libyaml: slower, the same result
    from yaml import BaseLoader as TextLoader  # type: ignore[assignment]

SCHEMA = "schema.yaml"
DEEPEST = 6  # levels; no vocabulary file needs more, and a mapping that holds itself has no end
_Path = tuple[str | int, ...]


def read_shipped(text: str) -> dict[str, Any]:
    """A shipped YAML file as plain data; all scalars are strings."""
    data = yaml.load(text, Loader=TextLoader)
    return data if isinstance(data, dict) else {}


@dataclass(frozen=True)
class Checked:
    """A file that its schema allows: plain data, all scalars strings, and the line of every key and value.

    ``lines`` maps the path to a value ("parts", 0, "name") to its line, from 1; ``keys`` to the line of its key.
    """

    path: Path
    data: dict[str, Any]
    lines: dict[_Path, int] = field(default_factory=dict)
    keys: dict[_Path, int] = field(default_factory=dict)

    def wrong(self, at: _Path, what: str) -> VocabularyError:
        """The error for this place: file, line and what is wrong, in one line."""
        return _wrong(self.path, self.lines.get(at, 1), what)


def read_checked(path: Path, text: str, schema: str) -> Checked:
    """Read a YAML file and hold it against its schema.

    Arguments:
        path: named in errors.
        text: the file's content.
        schema: the name of a definition in schema.yaml.
    Returns: the data with its lines; empty for an empty file. A list or mapping that was left empty is "".
    Raises: VocabularyError, one line with file and line number, at the first place that is wrong.
    """
    node = _composed(path, text)
    checked = Checked(path, {})
    if node is None:
        return checked
    _fill(checked, checked.data, node, ())
    errors = list(_validator(schema).iter_errors(checked.data))
    if errors:
        raise min((_told(checked, error, schema) for error in errors), key=lambda one: one[0])[1]
    return checked


def check_names(checked: Checked, items: Iterable[tuple[_Path, Mapping[str, Any]]], part_names: Iterable[str]) -> None:
    """Check what no schema can: that no name is there twice, and that every ``part_of`` names a part or a system.

    Arguments:
        checked: the file.
        items: path and term of one list.
        part_names: names of parts and systems that may stand under ``part_of``.
    Raises: VocabularyError, one line with file and line number.
    """
    known = set(part_names)
    seen: dict[tuple[str | None, ...], int] = {}
    for at, item in items:
        key = (item["name"].strip().casefold(), item.get("job"), item.get("needs"))
        if key in seen:
            raise checked.wrong(at, f"'{item['name'].strip()}' is there twice, first in line {seen[key]}")
        seen[key] = checked.lines[at]
        if (whole := item.get("part_of")) and whole not in known:
            hint = _hint(whole, known, "no part or system of that name is known")
            raise checked.wrong((*at, "part_of"), f"part_of '{whole}' is not known; {hint}")


# --- nodes to data ---------------------------------------------------------------------------------------------------


def _composed(path: Path, text: str) -> yaml.MappingNode | None:
    try:
        node = yaml.compose(text, Loader=TextLoader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 1
        raise _wrong(path, line, f"not valid YAML ({error.problem or error.context})") from error
    except yaml.YAMLError as error:
        raise VocabularyError(f"{path}: not valid YAML ({' '.join(str(error).split())[:200]}).") from error
    if node is not None and not isinstance(node, yaml.MappingNode):
        raise _wrong(path, _line(node), "expected lists under names such as 'parts:' or 'suppliers:'")
    return node


def _fill(checked: Checked, into: dict[str, Any], node: yaml.MappingNode, at: _Path) -> None:
    """Put the lines of a mapping into a dict; a key that is there twice would lose the first."""
    for key, value in node.value:
        if not isinstance(key, yaml.ScalarNode) or not key.value.strip():
            raise _wrong(checked.path, _line(key), "a name must be plain text")
        name = key.value.strip()
        if name in into:
            first = checked.keys[(*at, name)]
            raise _wrong(checked.path, _line(key), f"'{name}' is there twice, first in line {first}")
        checked.keys[(*at, name)] = _line(key)
        into[name] = _plain(checked, value, (*at, name))


def _plain(checked: Checked, node: yaml.Node, at: _Path) -> Any:
    if len(at) > DEEPEST:
        raise _wrong(checked.path, _line(node), "lists within lists are too deep to be words")
    checked.lines[at] = _line(node)
    if isinstance(node, yaml.MappingNode):
        made: dict[str, Any] = {}
        _fill(checked, made, node, at)
        return made
    if isinstance(node, yaml.SequenceNode):
        return [_plain(checked, one, (*at, place)) for place, one in enumerate(node.value)]
    return node.value.strip()


def _line(node: yaml.Node) -> int:
    return int(node.start_mark.line) + 1


def _wrong(path: Path, line: int, what: str) -> VocabularyError:
    return VocabularyError(f"{path}, line {line}: {what}.")


# --- the schema ------------------------------------------------------------------------------------------------------


@cache
def _schema() -> dict[str, Any]:
    """The schema as numbers and booleans are meant in it, unlike in the files that it describes."""
    found: dict[str, Any] = yaml.safe_load(
        (resources.files("diaryidx.vocabulary") / SCHEMA).read_text(encoding="utf-8")
    )
    return found


def has_schema(name: str) -> bool:
    """Whether the schema has a definition of this name."""
    return name in _schema()["$defs"]


@cache
def _validator(schema: str) -> Validator:
    from jsonschema import Draft202012Validator
    from jsonschema.validators import extend

    empty = Draft202012Validator.TYPE_CHECKER.redefine_many(
        {
            "array": lambda _, value: isinstance(value, list) or value == "",
            "object": lambda _, value: isinstance(value, dict) or value == "",
        }
    )  # "parts:" with nothing behind it is an empty list
    return extend(Draft202012Validator, type_checker=empty)({**_schema(), "$ref": f"#/$defs/{schema}"})


def _told(checked: Checked, error: ValidationError, schema: str) -> tuple[int, VocabularyError]:
    """Line and error of one finding, in plain words."""
    at: _Path = tuple(error.absolute_path)
    line = checked.lines.get(at, 1)
    where = _where(at, schema)
    if error.validator == "additionalProperties":
        known = error.schema["properties"]
        name = next(one for one in error.instance if one not in known)
        hint = _hint(name, known, f"known are {', '.join(sorted(known))}")
        line, what = checked.keys[(*at, name)], f"unknown name '{name}' in {where}; {hint}"
    elif "propertyNames" in error.absolute_schema_path:
        line = checked.keys[(*at, error.instance)]
        what = f"'{error.instance}' {error.schema.get('wrong', 'is not known')}"
    elif error.validator == "required":
        lacking = next(one for one in error.validator_value if one not in error.instance)
        what = f"{where} has no '{lacking}'"
    elif error.validator in ("enum", "const"):
        known = [error.validator_value] if error.validator == "const" else error.validator_value
        what = f"{at[-1]} '{error.instance}' is not known; use one of {', '.join(known)}"
    elif error.validator in ("pattern", "minItems") and error.instance:
        what = f"'{error.instance}' {error.schema.get('wrong', 'is not allowed')}"
    else:
        what = f"{where} must be {_KINDS.get(str(error.validator_value), 'plain text')}"
    return line, _wrong(checked.path, line, what)


_KINDS = {"array": "a list (lines that start with '- ')", "object": "'name: value' lines"}


def _where(at: _Path, schema: str) -> str:
    if not at:
        return schema
    return f"an item of '{at[-2]}'" if isinstance(at[-1], int) and len(at) > 1 else f"'{at[-1]}'"


def _hint(name: str, known: Iterable[str], otherwise: str) -> str:
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.5)
    return f"did you mean '{near[0]}'?" if near else otherwise
