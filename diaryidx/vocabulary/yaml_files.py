"""Reading YAML: every scalar as text (so that "on", "off" and "no" stay words), and errors that name file and line."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

import yaml

from diaryidx.errors import VocabularyError

try:
    from yaml import CBaseLoader as TextLoader
except ImportError:  # a PyYAML built without libyaml: slower, the same result
    from yaml import BaseLoader as TextLoader  # type: ignore[assignment]


def read_shipped(text: str) -> dict[str, Any]:
    """A shipped YAML file as plain data; all scalars are strings."""
    data = yaml.load(text, Loader=TextLoader)
    return data if isinstance(data, dict) else {}


def compose(path: Path, text: str) -> yaml.MappingNode | None:
    """A person's YAML file as nodes that know their lines.

    Arguments:
        path: named in errors.
        text: the file's content.
    Returns: the top mapping, or None for an empty file.
    Raises: VocabularyError, one line with file and line number, where it is not YAML or not a mapping.
    """
    try:
        node = yaml.compose(text, Loader=TextLoader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark else 1
        raise VocabularyError(f"{path}, line {line}: not valid YAML ({error.problem or error.context}).") from error
    except yaml.YAMLError as error:
        raise VocabularyError(f"{path}: not valid YAML ({' '.join(str(error).split())[:200]}).") from error
    if node is None:
        return None
    if not isinstance(node, yaml.MappingNode):
        raise wrong(path, node, "expected lists under names such as 'parts:' or 'suppliers:'")
    return node


def wrong(path: Path, node: yaml.Node, what: str) -> VocabularyError:
    """The error for this node: file, line and what is wrong, in one line."""
    return VocabularyError(f"{path}, line {node.start_mark.line + 1}: {what}.")


def pairs(
    path: Path, node: yaml.Node, known: Collection[str] | None, what: str
) -> list[tuple[str, yaml.Node, yaml.Node]]:
    """The keys and values of a mapping node, keys checked against ``known`` (None: any key).

    Raises: VocabularyError naming the line, with the nearest known key where one is near.
    """
    if not isinstance(node, yaml.MappingNode):
        raise wrong(path, node, f"{what} must be 'name: value' lines")
    found: list[tuple[str, yaml.Node, yaml.Node]] = []
    for key, value in node.value:
        name = scalar(path, key, "a name")
        if known is not None and name not in known:
            near = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
            hint = f"did you mean '{near[0]}'?" if near else f"known are {', '.join(sorted(known))}"
            raise wrong(path, key, f"unknown name '{name}' in {what}; {hint}")
        found.append((name, key, value))
    return found


def items(path: Path, node: yaml.Node, what: str) -> list[yaml.Node]:
    """The items of a list node; an empty value counts as an empty list."""
    if isinstance(node, yaml.ScalarNode) and not node.value.strip():
        return []
    if not isinstance(node, yaml.SequenceNode):
        raise wrong(path, node, f"{what} must be a list (lines that start with '- ')")
    return list(node.value)


def scalar(path: Path, node: yaml.Node, what: str) -> str:
    """The text of a scalar node that must not be empty."""
    if not isinstance(node, yaml.ScalarNode) or not str(node.value).strip():
        raise wrong(path, node, f"{what} must be plain text")
    return str(node.value).strip()


def one_of(path: Path, node: yaml.Node, value: str, allowed: Mapping[str, Any] | Collection[str], what: str) -> str:
    """The value, checked to be one of those allowed."""
    if value not in allowed:
        raise wrong(path, node, f"{what} '{value}' is not known; use one of {', '.join(allowed)}")
    return value
