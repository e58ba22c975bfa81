"""What the repair bench works on: invented shops, what engines heard of them, job books of any size, talk."""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import yaml

from diaryidx.records import Build, Sentence, Word
from diaryidx.transcript.repair.pronouncing import ways_to_say
from diaryidx.transcript.repair.terms import SHORTEST_TRADE
from diaryidx.vocabulary.loader import Term, Vocabulary, find_terms, load_vocabulary

SETS = Path(__file__).parent / "repair_sets"
FORTUNES = Path("/usr/share/games/fortunes")  # Debian packages fortunes and fortunes-min
NOT_TALK = ("ascii-art", "definitions", "translate-me", "knghtbrd", "perl", "linux", "debian")
_NAMES = ("PERSON", "SUPPLIER", "PRODUCT", "MAKE", "MODEL", "NICKNAME")


@dataclass(frozen=True)
class Shop:
    """An invented shop: ``half`` is "working" or "report"."""

    name: str
    half: str
    words: dict[str, Any]
    builds: tuple[Build, ...]
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class Hearing:
    """One sentence as an engine heard it."""

    shop: str
    engine: str
    place: int
    voice: str
    noise: str
    sentence: Sentence


def shops() -> list[Shop]:
    """All shops, by name."""
    found = []
    for path in sorted(SETS.glob("shop_*.yaml")):
        loaded = yaml.safe_load(path.read_text(encoding="utf-8"))
        builds = tuple(Build(**row) for row in loaded["builds"])
        name = path.stem.removeprefix("shop_")
        found.append(Shop(name, loaded["half"], loaded["words"], builds, tuple(loaded["sentences"])))
    return found


def vocabulary_of(shop: Shop, builds: tuple[Build, ...]) -> Vocabulary:
    """The vocabulary of a shop with this job book."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "words.yaml"
        path.write_text(yaml.safe_dump(shop.words), encoding="utf-8")
        return load_vocabulary(path, builds)


def hearings(shop: Shop) -> list[Hearing]:
    """Everything that was heard of a shop's sentences."""
    found = []
    for path in sorted(SETS.glob(f"heard_{shop.name}_*.tsv")):
        for line in path.read_text(encoding="utf-8").splitlines():
            place, voice, noise, heard, certainties = line.split("\t")
            engine = path.stem.rpartition("_")[2]
            found.append(Hearing(shop.name, engine, int(place), voice, noise, as_sentence(heard, certainties)))
    return found


def films(shop: Shop) -> list[list[Hearing]]:
    """What was heard of a shop's sentences as films: one for each engine and noise, in the order of the sentences."""
    found: dict[tuple[str, str, int], list[Hearing]] = {}
    for one in hearings(shop):
        again = sum(one.place == other.place for other in found.get((one.engine, one.noise, 0), ()))
        found.setdefault((one.engine, one.noise, again), []).append(one)
    return [sorted(film, key=lambda one: one.place) for film in found.values()]


def as_sentence(heard: str, certainties: str = "") -> Sentence:
    """A sentence of these words; certainties in hundredths, none where the engine gives none."""
    sure: list[float | None] = [int(one) / 100 for one in certainties.split()]
    sure = sure or [None] * len(heard.split())
    words = tuple(Word(word, 0.0, 0.0, one) for word, one in zip(heard.split(), sure, strict=True))
    return Sentence(0.0, 0.0, heard, heard, words)


def larger_book(builds: tuple[Build, ...], size: int, seed: int = 7) -> tuple[Build, ...]:
    """A job book of this size: the shop's builds, and invented ones (names put together from syllables)."""
    chance = random.Random(seed)
    first = [
        "Alan",
        "Ben",
        "Carol",
        "Derek",
        "Emma",
        "Frank",
        "Grace",
        "Harry",
        "Irene",
        "Jack",
        "Karen",
        "Lewis",
        "Mary",
        "Neil",
        "Olive",
        "Peter",
        "Rachel",
        "Steve",
    ]
    heads = [
        "Ash",
        "Bar",
        "Brad",
        "Cal",
        "Crow",
        "Dal",
        "Elm",
        "Far",
        "Gar",
        "Hal",
        "Hart",
        "Kel",
        "Lang",
        "Mar",
        "Nor",
        "Old",
        "Pen",
        "Rad",
        "Sel",
        "Thor",
        "Wad",
        "Wen",
        "Whit",
    ]
    tails = [
        "by",
        "croft",
        "den",
        "don",
        "field",
        "ford",
        "ham",
        "hurst",
        "ington",
        "land",
        "ley",
        "low",
        "man",
        "mere",
        "more",
        "ridge",
        "son",
        "stead",
        "ton",
        "way",
        "wick",
    ]
    birds = [
        "Bittern",
        "Chough",
        "Dipper",
        "Fulmar",
        "Godwit",
        "Hobby",
        "Jackdaw",
        "Knot",
        "Linnet",
        "Martin",
        "Ouzel",
        "Quail",
        "Redstart",
        "Siskin",
    ]
    things = [
        "Anvil",
        "Badger",
        "Comet",
        "Duchess",
        "Ember",
        "Falcon",
        "Ginger",
        "Hammer",
        "Imp",
        "Jester",
        "King",
        "Lantern",
        "Monk",
        "Nettle",
        "Otter",
    ]
    surnames = [head + tail for head in heads for tail in tails]
    makes = [chance.choice(heads) + chance.choice(("ex", "o", "ane", "is", "and")) for _ in range(20)]
    extra = [
        Build(
            job_number=f"x{number}",
            customer=f"{chance.choice(first)} {chance.choice(surnames)}",
            make=chance.choice(makes),
            model=f"{chance.choice(birds)} {chance.choice((350, 500, 650, 900))}",
            nickname=f"the {chance.choice(('Black', 'Red', 'Little', 'Old', 'Wild'))} {chance.choice(things)}"
            if chance.random() < 0.4
            else None,
        )
        for number in range(size - len(builds))
    ]
    return (*builds, *extra)


def matters(term: Term) -> bool:
    """Whether a term counts for the bench: a name of the shop, or a trade term of several words or many sounds."""
    if term.label in _NAMES:
        return term.origin != "shipped"
    return term.label in ("PART", "TASK", "FINISH")


def terms_in(vocabulary: Vocabulary, text: str) -> Counter[str]:
    """The terms that count in a text, by their canonical names."""
    found: Counter[str] = Counter()
    for start, end, term in find_terms(vocabulary, text):
        said = text[start:end].lower().replace("-", " ")
        long = len(said.split()) > 1 or len(ways_to_say(said, {})[0]) >= SHORTEST_TRADE
        if matters(term) and (long or term.origin != "shipped"):
            found[term.canonical] += 1
    return found


def as_heard(text: str) -> str:
    """A text as an engine gives it: lower case, no marks; hyphens between words are spaces."""
    return " ".join(re.findall(r"[a-z]+(?:'[a-z]+)?", text.lower().replace("’", "'")))


def general_talk(half: str) -> Iterator[str]:
    """Everyday English, as an engine would give it; a quarter of the files for working on, the others for the report.

    Raises FileNotFoundError, with the name of the package, where it is not installed.
    """
    files = sorted(path for path in FORTUNES.glob("*") if path.is_file() and "." not in path.name)
    files = [path for path in files if path.name not in NOT_TALK]
    if not files:
        raise FileNotFoundError("general talk: install the Debian packages fortunes and fortunes-min")
    for place, path in enumerate(files):
        if (place % 4 == 0) != (half == "working"):
            continue
        for piece in re.split(r"\n%\n|(?<=[.!?;:])\s", path.read_text(encoding="utf-8", errors="replace")):
            words = as_heard(piece).split()
            for at in range(0, len(words), 25):
                if len(words[at : at + 25]) > 2:
                    yield " ".join(words[at : at + 25])


def workshop_talk(vocabulary: Vocabulary, seed: int, sentences: int) -> Iterator[str]:
    """Made-up workshop sentences of shipped trade words, all heard right."""
    chance = random.Random(seed)
    by_label = {
        label: [term for term in vocabulary.terms if term.label == label and term.origin == "shipped"]
        for label in ("PART", "TASK", "FINISH")
    }
    done = [
        phrase
        for term in by_label["TASK"]
        for phrase in term.variants
        if vocabulary.forms.get(phrase) == "ed" and phrase.isascii()
    ]
    frames = (
        "we {task} the {part} and the {part} yesterday", "the {part} needs to be {task} before the {part} goes on",
        "i have {task} the {part} in {finish} and it looks lovely",
        "so this one came in with a worn {part} and no {part}",
        "you want to take the {part} off first and then you can get at the {part}",
        "the customer asked us for a {finish} {part} and a different {part}",
        "have a look at the {part} there that has been {task} by somebody before us",
        "next month we hope to have the {part} {task} and the {part} back from the painter",
        "if the {part} is loose then check the {part} as well because they wear together",
    )  # fmt: skip
    for _ in range(sentences):
        text = chance.choice(frames)
        for slot, choice in (("{part}", by_label["PART"]), ("{finish}", by_label["FINISH"])):
            while slot in text:
                text = text.replace(slot, chance.choice(chance.choice(choice).variants), 1)
        yield as_heard(text.replace("{task}", chance.choice(done)))
