"""The home of the speech models: which engine and model would be used and why, and how to choose another.

The home is the user's data folder (``DIARYIDX_HOME`` names another): ``models/`` holds what was fetched or unpacked,
``model.json`` remembers which model a person chose, ``proofs.json`` which ones have been seen to load.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path

import platformdirs

from diaryidx.errors import SpeechError, WrongUse
from diaryidx.media.files import reason, shown
from diaryidx.speech.model_folder import find_model, missing, model_name, prove
from diaryidx.speech.protocol import Engine
from diaryidx.speech.unpacking import unpack_model

PACKAGED_MODULE = "moonshine_voice"

HOW_TO_GET = (
    "get the small English model with `diaryidx model get` (needs the network once), "
    "name one you have with `diaryidx model use PATH`, or `pip install 'diaryidx[packaged]'`"
)
NO_ENGINE = f"nothing to listen with: no speech model is set or installed; {HOW_TO_GET}"
NO_MODEL = (
    "the engine vosk has no model: get the small English one with `diaryidx model get` (needs the network once), "
    "or name one you have with `diaryidx model use PATH`"
)
NOT_PACKAGED = (
    "the engine packaged is not installed; `pip install 'diaryidx[packaged]'` brings it (Linux on x86-64 and Windows), "
    "or use a Vosk model: `diaryidx model get`"
)


@dataclass(frozen=True)
class ModelStatus:
    """What would be used: ``engine`` ("vosk", "packaged"), the ``model``'s name and folder, and why, in plain words.

    ``problem`` is the one line that says what is lacking and what to do; None where all is well.
    """

    engine: str | None
    model: str | None
    path: Path | None
    why: str
    problem: str | None = None


def home_folder() -> Path:
    """Return the folder that models and their settings live in; it need not exist yet."""
    named = os.environ.get("DIARYIDX_HOME")
    return Path(named) if named else platformdirs.user_data_path("diaryidx", appauthor=False)


def models_folder() -> Path:
    """Return the folder of fetched and unpacked models; it need not exist yet."""
    return home_folder() / "models"


def status(engine: str = "auto", model: str | Path | None = None) -> ModelStatus:
    """Say which engine and model a shop with these settings would use, and why; nothing is loaded.

    Args:
        engine: "auto", "vosk" or "packaged". "auto" takes a Vosk model if one is named, set or installed, else the
            packaged engine if it is installed.
        model: the folder of a Vosk model named by the shop's settings; it goes before all others.
    """
    choices: dict[str, Callable[[], ModelStatus]] = {
        "auto": lambda: _choose_any(model),
        "vosk": lambda: _choose_vosk(model) or ModelStatus("vosk", None, None, "the engine is set to vosk", NO_MODEL),
        "packaged": lambda: _choose_packaged("the engine is set to packaged"),
    }
    if engine not in choices:
        return ModelStatus(None, None, None, "", f"there is no engine {engine!r}; choose from {', '.join(choices)}")
    return choices[engine]()


def open_engine(engine: str = "auto", model: str | Path | None = None) -> Engine:
    """Load the engine that ``status`` tells of.

    Raises:
        WrongUse: there is no engine of that name.
        SpeechError: nothing to listen with, or the model is missing or damaged; the line says what to do.
    """
    found = status(engine, model)
    if found.problem:
        raise (SpeechError if found.engine or engine == "auto" else WrongUse)(found.problem)
    if found.engine == "packaged" or found.path is None:
        from diaryidx.speech.packaged_engine import PackagedEngine

        return PackagedEngine()
    from diaryidx.speech.vosk_engine import VoskEngine

    return VoskEngine(found.path)


def proven(found: ModelStatus) -> ModelStatus:
    """What ``status`` found, with a ``problem`` if the model is there but cannot be loaded; tried once a model."""
    if found.problem or found.engine != "vosk" or found.path is None:
        return found
    try:
        prove(found.path, home_folder() / "proofs.json")
    except SpeechError as error:
        return replace(found, problem=str(error))
    return found


def use(path: Path) -> Path:
    """Use the Vosk model in a folder or zip from now on, for every shop that names no other; return its folder.

    A folder is used where it is; a zip is unpacked into the home. The model is loaded once, to see that it works.

    Raises SpeechError: no such file, no Vosk model, a damaged one, a harmful zip, or the home cannot be written.
    """
    if not path.exists():
        raise SpeechError(f"{shown(path)}: there is no such folder or zip; check the name")
    if path.is_dir():
        folder = find_model(path.absolute())
        prove(folder, home_folder() / "proofs.json")
    else:
        folder = unpack_model(path, models_folder(), proofs=home_folder() / "proofs.json")
    remember(folder)
    return folder


def remember(folder: Path) -> None:
    """Write down that the model in ``folder`` was chosen. Raises SpeechError where the home cannot be written."""
    file = _settings_file()
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        beside = file.with_name(f".{file.name}.{os.getpid()}")
        beside.write_text(json.dumps({"model": str(folder)}), "utf-8")
        beside.replace(file)
    except OSError as error:
        raise SpeechError(f"{shown(file)}: cannot be written ({reason(error)}); free the disk or the folder") from None


def remembered() -> Path | None:
    """Return the folder of the model that a person chose last, whether or not it is still there."""
    try:
        return Path(json.loads(_settings_file().read_text("utf-8"))["model"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def installed() -> list[Path]:
    """Return the models in the home, the newest first."""
    try:
        folders = [path for path in models_folder().iterdir() if path.is_dir() and not path.name.startswith(".")]
    except OSError:
        return []
    return sorted((path for path in folders if missing(path) is None), key=lambda path: -path.stat().st_mtime)


def _choose_any(model: str | Path | None) -> ModelStatus:
    vosk = _choose_vosk(model)
    if vosk:
        return vosk
    packaged = _choose_packaged("no Vosk model is set or installed, and the packaged engine is")
    return ModelStatus(None, None, None, "", NO_ENGINE) if packaged.problem else packaged


def _choose_vosk(model: str | Path | None) -> ModelStatus | None:
    """Return the Vosk model to use: the shop's, else the chosen one, else an installed one, else None."""
    if model is not None:
        return _look_at(Path(model), "the shop's settings name this model", "correct the model in shop.toml")
    chosen = remembered()
    if chosen is not None:
        return _look_at(chosen, "it was chosen with `diaryidx model use` or `get`", "choose another in the same way")
    return next((_look_at(path, "it is the model last installed", "") for path in installed()), None)


def _look_at(path: Path, why: str, remedy: str) -> ModelStatus:
    try:
        folder = find_model(path)
    except SpeechError as error:
        return ModelStatus("vosk", path.name, path, why, f"{error} ({why}; {remedy})")
    return ModelStatus("vosk", model_name(folder), folder, why)


def _choose_packaged(why: str) -> ModelStatus:
    if find_spec(PACKAGED_MODULE) is None:
        return ModelStatus("packaged", None, None, why, NOT_PACKAGED)
    return ModelStatus("packaged", "the small English model inside the package", None, why)


def _settings_file() -> Path:
    return home_folder() / "model.json"
