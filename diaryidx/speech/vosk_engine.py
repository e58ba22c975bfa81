"""The engine "vosk": Kaldi's recogniser by libvosk, with word times and certainties, entirely offline."""

from __future__ import annotations

import json
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diaryidx.errors import SpeechError
from diaryidx.media.files import shown
from diaryidx.records import Word
from diaryidx.speech.home import home_folder
from diaryidx.speech.model_folder import find_model, model_identity, model_name, prove
from diaryidx.speech.splitting import SAMPLE_RATE

# A little silence around the sound, so that its first and last words are not swallowed. The lengths are those that the
# mini model's own figures were measured with (fixtures/vosk-mini-en/README.md).
BEFORE, AFTER = 0.25, 0.5  # seconds
CHUNK = 4_000  # samples given to the recogniser at a time, as in Vosk's own examples; part of the fingerprint


class VoskEngine:
    """One Vosk model, shared by all threads, and one recogniser for each stretch."""

    name = "vosk"

    def __init__(self, model_folder: Path) -> None:
        """Load the model in ``model_folder``.

        Raises SpeechError: no such folder, no Vosk model, a damaged one, or the vosk package is missing.
        """
        folder = find_model(model_folder)
        prove(folder, home_folder() / "proofs.json")
        try:
            import vosk
        except ImportError:
            raise SpeechError("the vosk package is not installed; install it with: pip install vosk") from None
        vosk.SetLogLevel(-1)
        try:
            self._model: Any = vosk.Model(str(folder))
        except Exception:  # all that vosk itself raises
            raise SpeechError(f"{shown(folder)}: this Vosk model cannot be loaded; unpack or fetch it again") from None
        self.model = model_name(folder)
        self.fingerprint = f"vosk {version('vosk')} {self.model} {model_identity(folder)} pad {BEFORE} {AFTER} {CHUNK}"

    def hear(self, samples: NDArray[np.int16]) -> tuple[Word, ...]:
        """Return the words in 16 kHz mono int16 samples, with certainties; times in seconds from the first sample."""
        from vosk import KaldiRecognizer

        recognizer = KaldiRecognizer(self._model, SAMPLE_RATE)
        recognizer.SetWords(True)
        silence = np.zeros(round(max(BEFORE, AFTER) * SAMPLE_RATE), np.int16)
        sound = np.concatenate([silence[: round(BEFORE * SAMPLE_RATE)], samples, silence[: round(AFTER * SAMPLE_RATE)]])
        results = []
        for at in range(0, len(sound), CHUNK):
            if recognizer.AcceptWaveform(sound[at : at + CHUNK].tobytes()):
                results.append(recognizer.Result())
        results.append(recognizer.FinalResult())
        return tuple(_words(results, len(samples) / SAMPLE_RATE))


def _words(results: list[str], length: float) -> list[Word]:
    """Return the words of the recogniser's JSON, moved back by the silence before and clipped to the sound's length."""
    words = []
    for result in results:
        for heard in json.loads(result).get("result", []):
            if heard["word"][:1] in "[<":  # "[unk]", "<eps>": no words
                continue
            start = min(max(heard["start"] - BEFORE, 0.0), length)
            end = min(max(heard["end"] - BEFORE, start), length)
            certainty = min(max(heard.get("conf", 0.0), 0.0), 1.0)
            words.append(Word(heard["word"], round(start, 3), round(end, 3), round(certainty, 4)))
    return words
