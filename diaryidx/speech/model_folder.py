"""What a Vosk model's folder looks like, whether one is whole, and which one it is. Loads no engine.

libvosk is a C++ library that may end the whole process over a damaged file, so a folder is first looked at by name and
size, and then loaded once in a process of its own; that it went well is remembered until a file in it changes.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

from diaryidx.errors import SpeechError
from diaryidx.media.files import shown

# Files of a model, each by the paths it may have: today's layout and the flat one of older models. Source: libvosk's
# Model::ConfigureV1 and ConfigureV2 (from memory).
NEEDED = (
    ("an acoustic model", ("am/final.mdl", "final.mdl")),
    ("its sound settings", ("conf/mfcc.conf", "mfcc.conf")),
    ("a graph", ("graph/HCLG.fst", "HCLG.fst", "graph/HCLr.fst", "HCLr.fst")),
)
PARTS = ("am", "conf", "graph", "ivector")
GRAMMAR = ("graph/Gr.fst", "Gr.fst")  # needed beside HCLr.fst

PROBE_SECONDS = 600.0  # a model of several gigabytes may take minutes to load from a slow disk
EDGE = 65_536  # bytes read from each end of a file to tell models apart

# What the trial process does: load the model and hear a fifth of a second.
PROBE = """
import json, sys, vosk
vosk.SetLogLevel(-1)
recognizer = vosk.KaldiRecognizer(vosk.Model(sys.argv[1]), 16000)
recognizer.SetWords(True)
recognizer.AcceptWaveform(bytes(6400))
json.loads(recognizer.FinalResult())
print("whole")
"""


def find_model(path: Path) -> Path:
    """Return the model's folder: ``path`` itself, or the only folder in it (as zips are often unpacked).

    Raises SpeechError: there is no folder, or what is in it is no Vosk model; the line says what is missing.
    """
    if not path.is_dir():
        raise SpeechError(f"{shown(path)}: there is no such folder; name the folder of a Vosk model")
    if missing(path) is None:
        return path
    inner = [entry for entry in path.iterdir() if entry.is_dir() and not entry.name.startswith((".", "__"))]
    whole = [folder for folder in inner if missing(folder) is None]
    if len(whole) == 1:
        return whole[0]
    if whole:
        raise SpeechError(f"{shown(path)}: holds {len(whole)} Vosk models; name the folder of one of them")
    lacking = missing(inner[0] if len(inner) == 1 and inner[0].name not in PARTS else path)
    raise SpeechError(f"{shown(path)}: is not a whole Vosk model, it lacks {lacking}; unpack it again or name another")


def missing(folder: Path) -> str | None:
    """Return what a model's folder lacks, "an acoustic model (am/final.mdl)", or None if nothing."""
    for what, places in NEEDED:
        if not any(_filled(folder / place) for place in places):
            return f"{what} ({places[0]})"
    two_part = any(_filled(folder / place) for place in ("graph/HCLr.fst", "HCLr.fst"))
    if two_part and not any(_filled(folder / place) for place in GRAMMAR):
        return f"the second half of its graph ({GRAMMAR[0]})"
    return None


def model_name(folder: Path) -> str:
    """Return what people would call the model: its folder's name, or its parent's where that says only "model"."""
    return folder.parent.name if folder.name == "model" and folder.parent.name else folder.name


def model_identity(folder: Path) -> str:
    """Return a key of the model's content that is equal for copies of it: names, sizes and both ends of every file.

    Reading whole files would take seconds for models of gigabytes.
    """
    digest = hashlib.sha256()
    for file in _files(folder):
        size = file.stat().st_size
        digest.update(f"{file.relative_to(folder).as_posix()} {size}\n".encode())
        with file.open("rb") as content:
            digest.update(content.read(EDGE))
            if size > EDGE:
                content.seek(-min(EDGE, size - EDGE), os.SEEK_END)
                digest.update(content.read())
    return digest.hexdigest()[:16]


def prove(folder: Path, proofs: Path) -> None:
    """Load the model in a process of its own, unless that has been done since its files last changed.

    ``proofs`` is the JSON file that remembers it; where it can't be written, the trial is made every time.

    Raises SpeechError: the model cannot be loaded.
    """
    key = _listing(folder)
    known = _read_proofs(proofs)
    if known.get(str(folder.resolve())) == key:
        return
    try:
        trial = subprocess.run(
            [sys.executable, "-c", PROBE, str(folder)], capture_output=True, timeout=PROBE_SECONDS, check=False
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        raise SpeechError(f"{shown(folder)}: this Vosk model could not be tried ({error}); name another") from None
    if b"No module named" in trial.stderr:
        raise SpeechError("the vosk package is not installed; install it with: pip install vosk")
    if trial.returncode or trial.stdout.strip() != b"whole":
        raise SpeechError(f"{shown(folder)}: this Vosk model cannot be loaded, it is damaged; unpack or fetch it again")
    _write_proofs(proofs, {**known, str(folder.resolve()): key})


def _filled(path: Path) -> bool:
    return path.is_file() and path.stat().st_size > 0


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file())


def _listing(folder: Path) -> str:
    """Return a key of the names, sizes and times of a folder's files."""
    rows = [(str(file.relative_to(folder)), file.stat().st_size, file.stat().st_mtime_ns) for file in _files(folder)]
    return hashlib.sha256(repr(rows).encode("utf-8", "surrogateescape")).hexdigest()


def _read_proofs(proofs: Path) -> dict[str, str]:
    try:
        found = json.loads(proofs.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _write_proofs(proofs: Path, known: dict[str, str]) -> None:
    try:
        proofs.parent.mkdir(parents=True, exist_ok=True)
        beside = proofs.with_name(f".{proofs.name}.{os.getpid()}")
        beside.write_text(json.dumps(known, indent=1), "utf-8")
        beside.replace(proofs)
    except OSError:
        return
