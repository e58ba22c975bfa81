"""What a second listen would bring: ``python -m tests.bench.hearing_again FOLDER`` with what ``speak_sets.py`` spoke.

Three ways with Vosk, on the half to work on. Alternatives: the ten likeliest texts of a recogniser of its own (it gives
no word certainties), a repair taken where it stands in enough of them. Grammar: a recogniser that knows only the words
of the shop and the trade as far as the model has them, and "[unk]", a term taken where it is sure of it. Both beside
what repair alone brings, with the seconds that each listen takes.
"""

from __future__ import annotations

import json
import sys
import time
import wave
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import vosk
from numpy.typing import NDArray

from diaryidx.resources import mini_model_folder
from diaryidx.speech.splitting import SAMPLE_RATE
from diaryidx.speech.vosk_engine import AFTER, BEFORE, CHUNK
from diaryidx.transcript.repair import Repairer
from diaryidx.transcript.repair.heard import SURE_OF_TALK, listen
from diaryidx.transcript.repair.repairing import proposals
from tests.bench.hearing_repair import repairer_of
from tests.bench.repair_data import Shop, as_sentence, shops, terms_in

ALTERNATIVES = 10
ENOUGH = 0.3  # of the alternatives, each counted with its chance
SURE = 0.9  # certainty of a term's words in the grammar pass


def sound(path: Path) -> NDArray[np.int16]:
    """A spoken sentence with the silence around it that the engine gets."""
    with wave.open(str(path)) as file:
        samples = np.frombuffer(file.readframes(file.getnframes()), np.int16)
    before, after = (np.zeros(round(seconds * SAMPLE_RATE), np.int16) for seconds in (BEFORE, AFTER))
    return np.concatenate([before, samples, after])


def results(recognizer: Any, samples: NDArray[np.int16]) -> list[dict[str, Any]]:
    """What a recogniser gives."""
    recognizer.SetWords(True)
    found = [
        json.loads(recognizer.Result())
        for at in range(0, len(samples), CHUNK)
        if recognizer.AcceptWaveform(samples[at : at + CHUNK].tobytes())
    ]
    return [*found, json.loads(recognizer.FinalResult())]


def repairs_of(repairer: Repairer, text: str, certainties: str = "") -> dict[str, float]:
    """The terms that repair would put in, with their chances."""
    if not text:
        return {}
    heard = listen(repairer.vocabulary, repairer.own, as_sentence(text, certainties))
    found: dict[str, float] = {}
    for one in proposals(replace(repairer, threshold=-4.0), heard, SURE_OF_TALK):
        chance = float(1 / (1 + np.exp(-one.odds)))
        found[one.target.canonical] = max(found.get(one.target.canonical, 0.0), chance)
    return found


def by_alternatives(model: Any, repairer: Repairer, samples: NDArray[np.int16]) -> set[str]:
    """The terms that enough of the alternatives hold or would be repaired to."""
    recognizer = vosk.KaldiRecognizer(model, SAMPLE_RATE)
    recognizer.SetMaxAlternatives(ALTERNATIVES)
    share: Counter[str] = Counter()
    for one in results(recognizer, samples):
        for alternative in one["alternatives"]:
            found = repairs_of(repairer, alternative["text"].strip())
            found.update(dict.fromkeys(terms_in(repairer.vocabulary, alternative["text"]), 1.0))
            for name, chance in found.items():
                share[name] += chance / len(one["alternatives"])  # type: ignore[assignment]
    return {name for name, chance in share.items() if chance > ENOUGH}


def by_grammar(model: Any, repairer: Repairer, samples: NDArray[np.int16], words: frozenset[str]) -> set[str]:
    """The terms that a recogniser which knows little else is sure of."""
    phrases = [target.phrase for target in repairer.targets if set(target.phrase.split()) <= words]
    grammar = json.dumps([*phrases, "[unk]"])
    heard = [
        word
        for one in results(vosk.KaldiRecognizer(model, SAMPLE_RATE, grammar), samples)
        for word in one.get("result", [])
    ]
    text = " ".join(word["word"] if word["conf"] > SURE else "[unk]" for word in heard)
    return set(terms_in(repairer.vocabulary, text))


def spoken(shop: Shop, folder: Path) -> Iterator[tuple[str, str, Path]]:
    """Noise, what was said, and the sound."""
    for place, text in enumerate(shop.sentences):
        for path in sorted(folder.glob(f"shop_{shop.name}-{place:03}-*-*.wav")):
            yield path.stem.rpartition("-")[2], text, path


def main(folder: Path) -> None:
    """Print the table."""
    vosk.SetLogLevel(-1)
    model = vosk.Model(str(mini_model_folder()))
    words = frozenset(line.split()[0] for line in (mini_model_folder() / "graph" / "words.txt").open(encoding="utf-8"))
    counts: dict[str, Counter[str]] = {}
    seconds: Counter[str] = Counter()
    for shop in (one for one in shops() if one.half == "working"):
        repairer = repairer_of(shop, len(shop.builds))
        for noise, text, path in spoken(shop, folder):
            samples, began = sound(path), time.perf_counter()
            first = results(vosk.KaldiRecognizer(model, SAMPLE_RATE), samples)
            seconds["first listen"] += time.perf_counter() - began  # type: ignore[assignment]
            heard = " ".join(one["text"] for one in first).strip()
            certainties = " ".join(str(round(100 * word["conf"])) for one in first for word in one.get("result", []))
            ways = {
                "repair alone": {
                    one for one, chance in repairs_of(repairer, heard, certainties).items() if chance > 0.55
                }
            }
            for name, listen_again in (("alternatives", by_alternatives), ("grammar", by_grammar)):
                began = time.perf_counter()
                more = (words,) if name == "grammar" else ()
                ways[f"and {name}"] = ways["repair alone"] | listen_again(model, repairer, samples, *more)  # type: ignore[operator]
                seconds[name] += time.perf_counter() - began  # type: ignore[assignment]
            said, right = set(terms_in(repairer.vocabulary, text)), set(terms_in(repairer.vocabulary, heard))
            tally = counts.setdefault(noise, Counter())
            tally["misheard"] += len(said - right)
            for way, found in ways.items():
                tally[f"{way}: right"] += len(found & (said - right))
                tally[f"{way}: wrong"] += len(found - said - right)
    for noise, tally in counts.items():
        print(noise, dict(tally))
    print({name: round(value) for name, value in seconds.items()})


if __name__ == "__main__":
    main(Path(sys.argv[1]))
