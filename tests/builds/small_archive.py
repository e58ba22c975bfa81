"""A small invented archive with known truth: six months of walk-rounds through a shop of thirty bikes.

Most bikes are of one family. Half of the segments name neither make, model, nickname, owner nor number; two pairs of
bikes are alike; some bikes on film are in no job book; one word in ten is misheard. Everything is invented, and drawn
from a seed.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from diaryidx.builds.wishes import terms_in
from diaryidx.records import Build, Label, Mention, Recording, Segment, Sentence, Statement, Status, Subject
from diaryidx.vocabulary.loader import Vocabulary, find_terms, load_vocabulary

# Makes and models that are nobody's; one family is most of the shop, as in real ones.
FAMILIES = [("Tarnbeck", "Otter 500")] * 7 + [("Tarnbeck", "Otter 650")] * 3 + [("Fell & Moss", "Stoat")] * 2 + [
    ("Orrin", "Heron 900"), ("Orrin", "Marten")]  # fmt: skip
OWNERS = ["Ada Quill", "Bram Thistle", "Cleo Wainfleet", "Dov Larkspur", "Edda Holm", "Finn Garrick", "Greta Sallow",
    "Hugo Penhale", "Iris Mottram", "Jonas Pell", "Kit Ravenel", "Lena Thwaite", "Milo Ostler", "Nora Venn",
    "Otto Brisket", "Pia Hallam", "Quin Loder", "Rhea Stanner", "Silas Cobb", "Tess Oakhanger"]  # fmt: skip
NICKNAMES = ["Bramble", "Old Smoky", "The Duchess", "Pickle", "Nimbus", "Goblin"]
# (wish as the book has it, how it is spoken of, how popular it is)
WISHES = [
    ("tan leather seat", "the seat in tan leather", 5), ("black seat, diamond stitch", "the diamond stitched seat", 4),
    ("quilted brown seat", "the brown quilted seat", 3), ("satin black rims", "the rims in satin black", 5),
    ("gold rims", "the gold rims", 2), ("gloss black tank", "the tank in gloss black", 4),
    ("tank in british racing green", "the tank in racing green", 2),
    ("cream tank with coach lines", "the cream tank", 2),
    ("two into one exhaust", "the two into one exhaust", 2), ("high pipes", "the high pipes", 2),
    ("wrapped headers", "wrapping the headers", 3), ("rear sets", "the rear sets", 2), ("clip ons", "the clip ons", 3),
    ("flat handlebars", "the flat bars", 4), ("bar end mirrors", "the bar end mirrors", 4),
    ("new wiring loom", "the wiring loom", 3), ("lithium battery", "the lithium battery", 2),
    ("led indicators", "the little indicators", 4), ("tail tidy", "the tail tidy", 4),
    ("short mudguard", "the short mudguard", 3), ("braided brake lines", "the braided lines", 3),
    ("new brake pads front", "the front brake pads", 2), ("fork rebuild", "rebuilding the forks", 3),
    ("progressive fork springs", "the fork springs", 2), ("longer rear shocks", "the rear shocks", 3),
    ("powder coat the frame black", "the frame for powder coat", 4), ("chop the subframe and fit a hoop",
    "the loop on the subframe", 3), ("rebuild the carbs", "the carbs", 3), ("pod filters", "the pod filters", 2),
    ("engine covers in wrinkle black", "the engine covers in wrinkle black", 2), ("polish the fork yokes",
    "polishing the yokes", 1), ("small speedo", "the little speedo", 3), ("headlight with brackets in brass",
    "the headlight on brass brackets", 1), ("heated grips", "the heated grips", 1), ("centre stand delete",
    "taking off the centre stand", 1), ("sprockets and chain", "chain and sprockets", 3), ("knobbly tyres",
    "the knobblies", 2), ("valve clearances and full service", "the valve clearances", 2), ("sump guard",
    "the bash plate", 1), ("pannier rack", "the pannier rack", 1),
]  # fmt: skip
SAYINGS: list[tuple[Status, str]] = [
    ("planned", "we are going to do {thing} next"), ("planned", "next job on here is {thing}"),
    ("in progress", "we are working on {thing} this week"), ("in progress", "{thing} is well under way"),
    ("waiting", "still waiting on {thing} i am afraid"), ("waiting", "{thing} is held up with the supplier"),
    ("done", "{thing} came out really nice"), ("done", "so {thing} is all sorted now"), ("done", "we finished {thing}"),
]  # fmt: skip
FILLERS = ["it is coming along nicely", "so yeah really happy with that", "there is a fair bit left to do",
    "you can see how it sits now", "cup of tea and then back to it", "the sun came out for a change",
    "he was in on tuesday having a look"]  # fmt: skip
OPENINGS = ["right next up this one here", "so moving along this one", "and then we have got this", "next bench along",
    "okay this one"]  # fmt: skip
NAMED = ["right this is the {model}", "next up {owner} bike", "then {nickname}", "job {number} next", "the {make} here",
    "this {model} as well"]  # fmt: skip
MISHEARD = ["the", "a", "of", "see", "for", "then", "bar", "tin", "add", "rid", "sat", "fan", "lit", "wear", "moor"]
_DIGITS = ["oh", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]


@dataclass(frozen=True)
class Film:
    """One walk-round, as the language step would give it, and the job number of each of its segments."""

    recording: Recording
    sentences: list[Sentence]
    mentions: list[Mention]
    segments: list[Segment]
    statements: list[Statement]
    truth: list[str | None]
    named: list[bool]


@dataclass
class Archive:
    """The shop's job book and its films, oldest first."""

    builds: list[Build]
    films: list[Film] = field(default_factory=list)


def make_archive(seed: int = 7, builds: int = 30, months: int = 6, misheard: float = 0.1) -> Archive:
    """Draw an archive from a seed."""
    chance = random.Random(seed)
    book = job_book(chance, builds)
    archive = Archive(book)
    vocabulary = load_vocabulary(None, book)
    plans = {build.job_number: plan(build) for build in book}
    for month in range(1, months + 1):
        archive.films.append(_walk_round(chance, month, book, plans, vocabulary, misheard))
    return archive


def job_book(chance: random.Random, count: int) -> list[Build]:
    builds = []
    for place in range(count):
        make, model = chance.choice(FAMILIES)
        wished = chance.sample(WISHES, k=chance.randint(3, 6), counts=[popular for _, _, popular in WISHES])
        came = place % 5
        builds.append(
            Build(
                job_number=str(401 + place),
                customer=chance.choice(OWNERS),
                make=make,
                model=model,
                nickname=NICKNAMES[place // 5] if place % 5 == 0 and place // 5 < len(NICKNAMES) else None,
                date_in=f"2025-0{came + 1}-02",
                date_out=f"2025-0{min(came + 4, 9)}-20" if chance.random() < 0.3 else None,
                asked_for="; ".join(dict.fromkeys(wish for wish, _, _ in wished)),
            )
        )
    for twin in (3, 11):  # bikes that only a number or a name can tell apart
        builds[twin + 1] = replace(
            builds[twin + 1], make=builds[twin].make, model=builds[twin].model, asked_for=builds[twin].asked_for,
            date_in=builds[twin].date_in, date_out=builds[twin].date_out,
        )  # fmt: skip
    return builds


def plan(build: Build) -> list[str]:
    spoken = {wish: said for wish, said, _ in WISHES}
    return [spoken[wish] for wish in (build.asked_for or "").split("; ")]


def _walk_round(
    chance: random.Random, month: int, book: Sequence[Build], plans: dict[str, list[str]], vocabulary: Vocabulary,
    misheard: float,
) -> Film:  # fmt: skip
    day = f"2025-0{month}-25"
    here = [one for one in book if (one.date_in or "") <= day and (one.date_out is None or one.date_out >= day)]
    shown: list[Build | None] = list(chance.sample(here, k=min(10, len(here))))
    if chance.random() < 0.5:
        shown.insert(chance.randrange(len(shown)), None)
    film = Film(recording(month, day), [], [], [], [], [], [])
    for place, build in enumerate(shown):
        _segment(chance, film, place, build, plans, vocabulary, misheard)
    return film


def recording(month: int, day: str) -> Recording:
    return Recording(f"walk-{month}", f"walk-{month}.mp4", f"Walk-round {month}", "diary", day, "file name", day[:7],
                     600.0, True, "invented", "indexed")  # fmt: skip


def _segment(
    chance: random.Random, film: Film, place: int, build: Build | None, plans: dict[str, list[str]],
    vocabulary: Vocabulary, misheard: float,
) -> None:  # fmt: skip
    opening, named = _opening(chance, build)
    things = [said for _, said, _ in WISHES] if build is None else plans[build.job_number]
    lines: list[tuple[Status | None, str]] = [(None, opening)]
    for _ in range(chance.randint(2, 4)):
        own = chance.random() < 0.75
        thing = chance.choice(things if own else [said for _, said, _ in WISHES])
        status, saying = chance.choice(SAYINGS)
        lines.append((status, saying.format(thing=thing)))
    lines.insert(chance.randint(1, len(lines)), (None, chance.choice(FILLERS)))
    first = len(film.sentences)
    for status, line in lines:
        _say(film, status, mishear(chance, line, misheard), place, vocabulary)
    last = len(film.sentences) - 1
    film.segments.append(
        Segment(film.sentences[first].start, film.sentences[last].end, first, last, opening, Subject("build"))
    )
    film.truth.append(build.job_number if build else None)
    film.named.append(named)


def _opening(chance: random.Random, build: Build | None) -> tuple[str, bool]:
    if build is None or chance.random() < 0.5:
        return chance.choice(OPENINGS), False
    kinds = [saying for saying in NAMED if build.nickname or "{nickname}" not in saying]
    names = spoken_names(chance, build)
    return chance.choice(kinds).format(**names), True


def spoken_names(chance: random.Random, build: Build) -> dict[str, str]:
    """A build's names as they are said."""
    model = chance.choice([(build.model or "").lower(), (build.model or "").lower().split()[0]])
    return {
        "model": model.replace("500", "five hundred").replace("650", "six fifty").replace("900", "nine hundred"),
        "owner": (build.customer or "").split()[-1].lower() + "'s",
        "nickname": (build.nickname or "").lower(),
        "number": " ".join(_DIGITS[int(digit)] for digit in build.job_number),
        "make": (build.make or "").lower().replace("&", "and"),
    }


def mishear(chance: random.Random, line: str, rate: float) -> str:
    return " ".join(chance.choice(MISHEARD) if chance.random() < rate else word for word in line.split())


def _say(film: Film, status: Status | None, text: str, segment: int, vocabulary: Vocabulary) -> None:
    """Add a sentence, with the mentions and the statement that a word finder makes of what was heard."""
    place = len(film.sentences)
    start = film.sentences[-1].end if film.sentences else 0.0
    film.sentences.append(Sentence(start, start + 4.0, text, text, certainty=0.9))
    found = find_terms(vocabulary, text)
    film.mentions.extend(Mention(term.label, text[at:to], term.canonical, place, at, to) for at, to, term in found)
    terms = terms_in(text, vocabulary)
    parts = [term.canonical for term in terms if term.label == "PART"]
    if status and parts:
        film.statements.append(
            Statement(
                status=status, text=text, part=parts[0], side=_first(terms, "SIDE"), task=_first(terms, "TASK"),
                finish=" ".join(term.canonical for term in terms if term.label == "FINISH") or None, certainty=0.8,
                subject=Subject("build"), sentence=place, segment=segment, start=start, end=start + 4.0,
                recording=film.recording.id,
            )
        )  # fmt: skip


def _first(terms: Sequence[object], label: Label) -> str | None:
    return next((term.canonical for term in terms if term.label == label), None)  # type: ignore[attr-defined]
