"""How fast and how well films are heard, each figure beside a baseline measured in the same run.

    python -m tests.bench.bench_speech [scaling] [decoding] [errors] [pieces] [times]

scaling   two workers through hear_all against one, beside two bare recognisers in two threads against one
decoding  decoding and splitting against playing time
errors    word error rates on the five LibriVox clips of Debian's pocketsphinx-testdata, by jiwer, for each engine
pieces    the packaged engine with pieces of several lengths, on those clips and on the demo's films
times     how far the packaged engine's estimated word times lie from Vosk's on the demo's films
"""

from __future__ import annotations

import re
import statistics
import sys
import time
import wave
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from difflib import SequenceMatcher
from pathlib import Path

import numpy as np
import yaml
from jiwer import wer
from numpy.typing import NDArray

from diaryidx.media.decode import decode_blocks
from diaryidx.records import Word
from diaryidx.resources import demo_shop_folder, mini_model_folder
from diaryidx.speech import packaged_engine
from diaryidx.speech.hearing import Job, hear_all
from diaryidx.speech.home import PACKAGED_MODULE
from diaryidx.speech.packaged_engine import PackagedEngine
from diaryidx.speech.protocol import Engine
from diaryidx.speech.splitting import SAMPLE_RATE, Stretch, split
from diaryidx.speech.vosk_engine import AFTER, BEFORE, CHUNK, VoskEngine

CLIPS = Path("/usr/share/pocketsphinx/test/data/librivox")
SCRIPTS = Path(__file__).resolve().parents[2] / "fixtures" / "scripts"


def demo_films() -> list[Path]:
    """Return the demo's films with a picture."""
    return sorted(demo_shop_folder().rglob("*.webm"))


def timed(work: Callable[[], object]) -> float:
    """Return the seconds that a piece of work takes."""
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def scaling() -> None:
    """Print speed-ups of hear_all and of bare recognisers, in turns so that a busy machine disturbs both alike."""
    from vosk import KaldiRecognizer

    engine = VoskEngine(mini_model_folder())
    stretches = [stretch for film in demo_films()[:2] for stretch in split(decode_blocks(film))]

    def bare(stretch: Stretch) -> str:
        recognizer = KaldiRecognizer(engine._model, SAMPLE_RATE)
        recognizer.SetWords(True)
        before, after = (np.zeros(round(seconds * SAMPLE_RATE), np.int16) for seconds in (BEFORE, AFTER))
        sound = np.concatenate([before, stretch.samples, after])
        results = [
            recognizer.Result()
            for at in range(0, len(sound), CHUNK)
            if recognizer.AcceptWaveform(sound[at : at + CHUNK].tobytes())
        ]
        return "".join([*results, recognizer.FinalResult()])

    def ours(workers: int) -> None:
        list(hear_all((Job(None, stretch) for stretch in stretches), engine, workers))

    def theirs(workers: int) -> None:
        with ThreadPoolExecutor(workers) as threads:
            list(threads.map(bare, stretches))

    ours(2)  # warm
    rows = [[timed(lambda w=w, run=run: run(w)) for run in (ours, theirs) for w in (1, 2)] for _turn in range(4)]
    one, two, bare_one, bare_two = (statistics.median(column) for column in zip(*rows, strict=True))
    print(f"{len(stretches)} stretches, {sum(s.end - s.start for s in stretches):.0f} s of film, medians of 4 turns")
    print(f"hear_all: one worker {one:.2f} s, two {two:.2f} s, speed-up {one / two:.2f}")
    print(f"bare:     one thread {bare_one:.2f} s, two {bare_two:.2f} s, speed-up {bare_one / bare_two:.2f}")
    print(f"hear_all with two workers reaches {bare_two / two:.1%} of two bare recognisers (wanted: 95 %)")


def decoding() -> None:
    """Print how much faster than playing a film is decoded and split."""
    for film in demo_films():
        seconds = 0.0

        def work(film: Path = film) -> None:
            nonlocal seconds
            seconds = sum(stretch.end - stretch.start for stretch in split(decode_blocks(film)))

        took = timed(work)
        print(f"{film.name}: {seconds:.0f} s in {took:.2f} s, {seconds / took:.0f} times playing speed")


def plain(text: str) -> str:
    """Return lower-case words without punctuation, hyphens apart, "mr" spelt out as the transcription has it."""
    return " ".join(re.sub(r"[^a-z0-9' ]", " ", text.lower().replace("mr.", "mister")).split())


def clips() -> Iterator[tuple[str, NDArray[np.int16]]]:
    """Yield the five LibriVox clips: their transcription and samples."""
    for line in (CLIPS / "transcription").read_text().splitlines():
        found = re.fullmatch(r"<s> (.*) </s> \((.*)\)", line)
        assert found
        with wave.open(str(CLIPS / f"{found[2]}.wav")) as clip:
            yield found[1], np.frombuffer(clip.readframes(clip.getnframes()), np.int16)


def scripts() -> Iterator[tuple[str, NDArray[np.int16]]]:
    """Yield the demo's films: what their scripts say and their samples."""
    for file in sorted(SCRIPTS.glob("*.yaml")):
        script = yaml.safe_load(file.read_text("utf-8"))
        film = demo_shop_folder() / "recordings" / script["film"]
        if film.is_file():
            said = " ".join(line["say"] for topic in script["topics"] for line in topic["lines"] if "say" in line)
            yield said, np.concatenate(list(decode_blocks(film)))


def engines() -> list[Engine]:
    """Return the engines that this machine has."""
    from importlib.util import find_spec

    return [VoskEngine(mini_model_folder()), *([PackagedEngine()] if find_spec(PACKAGED_MODULE) else [])]


def heard(engine: Engine, samples: NDArray[np.int16]) -> list[Word]:
    """Return all words of a film."""
    stretches = hear_all((Job(None, stretch) for stretch in split([samples])), engine, 2)
    return [word for one in sorted(stretches, key=lambda one: one.stretch_number) for word in one.words]


def error_rate(engine: Engine, pairs: list[tuple[str, NDArray[np.int16]]]) -> float:
    """Return the word error rate over texts and samples."""
    texts = [plain(" ".join(word.word for word in heard(engine, samples))) for _said, samples in pairs]
    return float(wer([plain(said) for said, _samples in pairs], texts))


def errors() -> None:
    """Print each engine's word error rate on real read speech."""
    for engine in engines():
        print(f"{engine.name} ({engine.model}): {error_rate(engine, list(clips())):.1%} word errors on LibriVox")


def pieces() -> None:
    """Print the packaged engine's word error rates with pieces of several lengths."""
    engine = PackagedEngine()
    read, films = list(clips()), list(scripts())
    for shortest, longest in ((2, 9), (4, 9), (4, 12), (5, 15), (10, 20), (15, 30)):
        packaged_engine.SHORTEST_PIECE, packaged_engine.LONGEST_PIECE = shortest, longest
        took = time.perf_counter()
        rates = f"LibriVox {error_rate(engine, read):.1%}, the demo's films {error_rate(engine, films):.1%}"
        print(f"{shortest} to {longest} s: {rates}, {time.perf_counter() - took:.0f} s")


def times() -> None:
    """Print how far estimated word times lie from Vosk's, for words that both engines heard."""
    vosk, packaged = engines()
    for film in demo_films():
        samples = np.concatenate(list(decode_blocks(film)))
        exact, estimated = heard(vosk, samples), heard(packaged, samples)
        matcher = SequenceMatcher(None, [plain(w.word) for w in exact], [plain(w.word) for w in estimated], False)
        apart = [
            abs(exact[match.a + at].start - estimated[match.b + at].start)
            for match in matcher.get_matching_blocks()
            for at in range(match.size)
        ]
        middle, tenth = np.percentile(apart, [50, 90])
        print(f"{film.name}: {len(apart)} words, half within {middle:.2f} s, nine in ten within {tenth:.2f} s")


BENCHES = {"scaling": scaling, "decoding": decoding, "errors": errors, "pieces": pieces, "times": times}

if __name__ == "__main__":
    for name in sys.argv[1:] or BENCHES:
        print(f"--- {name}")
        BENCHES[name]()
