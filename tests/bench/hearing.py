"""What users get to read of what was said: names and terms, numbers, and what that costs.

    python -m tests.bench.hearing [repair] [working] [harm] [numbers] [clips] [steps] [memory] [transcriber]

repair       misheard terms repaired, on the half that is kept for reporting (what was heard is kept beside the shops)
working      the same on the half to work on, with every wrong repair
harm         wrong repairs of everyday talk and of workshop talk that was heard right, with 10 and 500 builds
numbers      spoken numbers and measures read, by kind
clips        word errors on LibriVox clips (Debian's pocketsphinx-testdata) before and behind repair
steps        what all steps but the engine take of a run over the demo's films
memory       the largest memory of a run over a film of two hours beside one of ten minutes
transcriber  the command that ships with the vosk package on the same films (it needs an ffmpeg program)

Without a word, all but ``working``.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
import wave
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from jiwer import wer

from diaryidx.indexing import index
from diaryidx.media.decode import SAMPLE_RATE, decode_blocks
from diaryidx.resources import mini_model_folder
from diaryidx.shop import Shop, load_shop
from diaryidx.speech.vosk_engine import VoskEngine
from diaryidx.starting import make_shop
from diaryidx.store.database import open_store
from diaryidx.transcript.repair import repair
from diaryidx.transcript.sentences import sentences
from tests.bench import hearing_numbers, hearing_repair
from tests.bench.bench_speech import clips, demo_films, engines, heard, plain, scripts

ROOT = Path(__file__).resolve().parents[2]


def repaired() -> None:
    """Print recall on the report half."""
    hearing_repair.print_recall("report")


def working() -> None:
    """Print recall and harm on the half to work on."""
    hearing_repair.print_recall("working")
    hearing_repair.print_harm("working", show=True)


def harm() -> None:
    """Print harm on the report half."""
    hearing_repair.print_harm("report")


def numbers() -> None:
    """Print what is read of spoken numbers."""
    print(hearing_numbers.table())


def real_clips() -> None:
    """Print word errors on real read speech before and behind repair, with the job book of an invented shop."""
    shop = hearing_repair.shops()[0]
    for size in hearing_repair.BOOKS:
        repairer = hearing_repair.repairer_of(shop, size)
        for engine in engines():
            before, behind, said, made = [], [], [], 0
            for text, samples in clips():
                film = sentences(heard(engine, samples))
                mended = repair(repairer, film)
                made += sum(len(one.repairs) for one in mended)
                said.append(plain(text))
                before.append(plain(" ".join(one.heard for one in film)))
                behind.append(plain(" ".join(one.text for one in mended)))
            print(
                f"{engine.name}, {size} builds: word errors {wer(said, before):.1%} as heard, {wer(said, behind):.1%} "
                f"as repaired, {made} repairs"
            )


@contextmanager
def shop_with(films: list[Path]) -> Iterator[Shop]:
    """A new shop with the demo's words, job book and model, and these films."""
    with tempfile.TemporaryDirectory(prefix="diaryidx-hearing-") as folder:
        os.environ["DIARYIDX_HOME"] = str(Path(folder) / "home")
        shop = make_shop(Path(folder) / "shop")
        demo = ROOT / "fixtures" / "demo-shop"
        for name in ("words.yaml", "jobs.csv", "shop.toml"):
            shutil.copy(demo / name, shop.folder / name)
        for film in films:
            shutil.copy(film, shop.recordings / film.name)
        yield load_shop(shop.folder)


def steps() -> None:
    """Print the share of a run that goes to everything but the engine, one worker, everything loaded before."""
    seconds = 0.0
    hear = VoskEngine.hear

    def timed(self: VoskEngine, samples: object) -> object:
        nonlocal seconds
        began = time.perf_counter()
        words = hear(self, samples)  # type: ignore[arg-type]
        seconds += time.perf_counter() - began
        return words

    VoskEngine.hear = timed  # type: ignore[method-assign, assignment]
    try:
        films = demo_films()
        for turn in ("with everything to load", "once loaded"):
            with shop_with(films) as shop:
                db = open_store(shop.database)
                seconds, began = 0.0, time.perf_counter()
                done = index(shop, db, workers=1)
                took = time.perf_counter() - began
                length = sum(one.recording.duration for one in done if one.recording)
                print(
                    f"{turn}: {length / 60:.0f} minutes of film in {took:.1f} s, {seconds:.1f} s in the engine; "
                    f"all else {1 - seconds / took:.0%} (wanted: 10 %), {(took - seconds) / length:.2%} of playing time"
                )
                db.close()
    finally:
        VoskEngine.hear = hear  # type: ignore[method-assign]


def memory() -> None:
    """Print the largest memory of a run over ten minutes and over two hours of the demo's sound."""
    sound = np.concatenate([block for film in demo_films() for block in decode_blocks(film)])
    largest = {}
    for minutes in (10, 120):
        with tempfile.TemporaryDirectory() as folder:
            film = Path(folder) / f"2026-01-05 diary of {minutes} minutes.wav"
            with wave.open(str(film), "wb") as file:
                file.setnchannels(1)
                file.setsampwidth(2)
                file.setframerate(SAMPLE_RATE)
                left = minutes * 60 * SAMPLE_RATE
                while left > 0:
                    file.writeframes(sound[:left].astype("<i2").tobytes())
                    left -= len(sound)
            with shop_with([film]) as shop:
                began = time.perf_counter()
                largest[minutes] = _peak([sys.executable, "-m", "diaryidx.cli", "index", "--shop", str(shop.folder)])
                print(f"{minutes} minutes: {largest[minutes]:.0f} MB at most, {time.perf_counter() - began:.0f} s")
    print(f"two hours take {largest[120] - largest[10]:.0f} MB more than ten minutes (wanted: at most 150)")


def _peak(command: list[str]) -> float:
    """The largest memory of a program, in MB; only the largest child so far is known, so each runs under its own."""
    counting = (
        "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL); "
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)"
    )
    done = subprocess.run([sys.executable, "-c", counting, *command], check=True, capture_output=True, text=True)
    return float(done.stdout)


def transcriber() -> None:
    """Print time and word errors of the vosk package's own command beside `index`, one core each."""
    program = shutil.which("vosk-transcriber", path=f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}")
    if not program or not shutil.which("ffmpeg"):
        print("left out: it needs the programs vosk-transcriber and ffmpeg (Debian package ffmpeg)")
        return
    said = [plain(text) for text, _ in scripts()]
    films = demo_films_in_order()
    began = time.perf_counter()
    theirs = []
    for film in films:
        command = [program, "--model", str(mini_model_folder()), "--input", str(film), "--output-type", "txt"]
        done = subprocess.run(command, check=True, capture_output=True, text=True)
        theirs.append(plain(done.stdout))
    their_time = time.perf_counter() - began
    with shop_with(films) as shop:
        db = open_store(shop.database)
        began = time.perf_counter()
        index(shop, db, workers=1)
        our_time = time.perf_counter() - began
        rows = db.execute(
            "select r.path, group_concat(s.heard, ' ') from (select * from sentences order by place) s "
            "join recordings r on r.id = s.recording_id group by r.path"
        )
        ours = {Path(path).name: plain(text) for path, text in rows}
        db.close()
    print(f"vosk-transcriber: {their_time:.1f} s, {wer(said, theirs):.1%} word errors (text alone)")
    print(
        f"index:            {our_time:.1f} s, {wer(said, [ours[film.name] for film in films]):.1%} word errors heard "
        f"(text, topics, statements, search); ratio {our_time / their_time:.2f}"
    )


def demo_films_in_order() -> list[Path]:
    """The demo's films in the order of its scripts."""
    import yaml

    folder = ROOT / "fixtures" / "scripts"
    names = [yaml.safe_load(file.read_text("utf-8"))["film"] for file in sorted(folder.glob("*.yaml"))]
    films = [ROOT / "fixtures" / "demo-shop" / "recordings" / name for name in names]
    return [film for film in films if film.is_file()]


BENCHES = {
    "repair": repaired, "working": working, "harm": harm, "numbers": numbers, "clips": real_clips, "steps": steps,
    "memory": memory, "transcriber": transcriber,
}  # fmt: skip

if __name__ == "__main__":
    for name in sys.argv[1:] or [name for name in BENCHES if name != "working"]:
        print(f"--- {name}")
        BENCHES[name]()
