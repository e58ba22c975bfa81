"""Listens to what ``speak_sets.py`` spoke, with both engines, and keeps what was heard as small text files.

``python -m tests.bench.repair_sets.listen_sets FOLDER [ENGINE]`` writes ``heard_SHOP_ENGINE.tsv`` beside the shops:
place of the sentence, voice, noise (decibels), the heard text, and the certainty of each word in hundredths where the
engine gives it.
"""

from __future__ import annotations

import sys
import wave
from pathlib import Path

import numpy as np

from diaryidx.speech.packaged_engine import PackagedEngine
from diaryidx.speech.vosk_engine import VoskEngine

HERE = Path(__file__).parent
MODEL = HERE.parents[2] / "fixtures" / "vosk-mini-en" / "model"


def main(folder: Path, *engines: str) -> None:
    """Listen to every WAV file in the folder, with these engines or both."""
    for name in engines or ("vosk", "packaged"):
        engine = VoskEngine(MODEL) if name == "vosk" else PackagedEngine()
        for shop in sorted(HERE.glob("shop_*.yaml")):
            lines = []
            for path in sorted(folder.glob(f"{shop.stem}-*.wav")):
                place, voice, noise = path.stem.removeprefix(f"{shop.stem}-").partition("-")[0], "", ""
                voice, _, noise = path.stem.removeprefix(f"{shop.stem}-{place}-").rpartition("-")
                with wave.open(str(path)) as file:
                    words = engine.hear(np.frombuffer(file.readframes(file.getnframes()), np.int16))
                heard = " ".join(word.word for word in words)
                certainties = " ".join(str(round(100 * word.certainty)) for word in words if word.certainty is not None)
                lines.append("\t".join([str(int(place)), voice, noise, heard, certainties]))
            name = f"heard_{shop.stem.removeprefix('shop_')}_{engine.name}.tsv"
            (HERE / name).write_text("\n".join(lines) + "\n", encoding="utf-8")
            print(name, len(lines), flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), *sys.argv[2:])
