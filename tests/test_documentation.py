"""Docs that a test checks stay true: every command, setting and table is shown, and every command has its help."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from diaryidx.cli import main
from diaryidx.shop import KNOWN_SETTINGS
from diaryidx.store.migrations import HUMAN_TABLES, MACHINE_TABLES

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def _commands(group: click.Group, prefix: str = "") -> Iterator[tuple[str, click.Command]]:
    for name, command in group.commands.items():
        path = f"{prefix}{name}"
        if not isinstance(command, click.Group) or command.invoke_without_command:
            yield path, command
        if isinstance(command, click.Group):
            yield from _commands(command, f"{path} ")


COMMANDS = dict(_commands(main))


@pytest.mark.parametrize("path", COMMANDS)
def test_the_readme_shows_every_command(path: str) -> None:
    assert f"diaryidx {path}" in README


@pytest.mark.parametrize("path", COMMANDS)
def test_every_command_and_option_has_its_help(path: str) -> None:
    command = COMMANDS[path]
    assert command.help
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, parameter.name


READING = (
    "model status", "index", "transcript", "captions", "segments", "explain", "recording", "jobs list",
    "history", "ask", "roundup", "check", "teach",
    "review list", "decisions", "staff list",
)  # fmt: skip


@pytest.mark.parametrize("path", READING)
def test_every_reading_command_speaks_json_and_takes_a_shop(path: str) -> None:
    options = {option for parameter in COMMANDS[path].params for option in parameter.opts}
    assert {"--json", "--shop"} <= options


def test_the_readme_explains_every_setting() -> None:
    for table, keys in KNOWN_SETTINGS.items():
        for key in keys:
            assert f"`{key}`" in README or f"`{table}.{key}`" in README, (table, key)


def test_the_developers_file_explains_every_table() -> None:
    for table in (*HUMAN_TABLES, *MACHINE_TABLES):
        assert f"| `{table}` |" in DEVELOPERS


def test_the_developers_file_names_every_room() -> None:
    rooms = [path.name for path in (ROOT / "diaryidx").iterdir() if (path / "__init__.py").is_file()]
    assert rooms
    for room in rooms:
        assert f"`{room}/`" in DEVELOPERS
