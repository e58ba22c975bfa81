"""The product's words as data: the plain, frozen records that pass from one step to the next.

Times are seconds from the start of the film (float), dates are ISO 8601 strings, certainty is a number from 0 to 1.
``None`` means unknown. Every step takes some of these and returns others, so each can be tested alone; ``store`` keeps
them and gives them back unchanged.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, get_args

if TYPE_CHECKING:
    from diaryidx.vocabulary.loader import Vocabulary

from diaryidx.film_records import CustomerPart, FilmLink, Remarks

RecordingKind = Literal["diary", "tutorial", "questions", "product news", "bench note", "other"]
Status = Literal[
    "asked for", "planned", "in progress", "waiting", "done", "ruled out", "earlier work", "usual practice"
]
SubjectKind = Literal["build", "development", "product", "tutorial", "shop"]
Label = Literal[
    "PART", "TASK", "FINISH", "SIDE", "QUANTITY", "SUPPLIER", "PRODUCT", "PERSON", "PRICE", "DATE", "MEASURE",
    "TIME", "NUMBER", "MAKE", "MODEL", "NICKNAME", "JOB", "CAUTION",
]  # fmt: skip
Source = Literal["film", "note", "book"]
SaidBy = Literal["shop", "customer"]
ChangeKind = Literal["change of mind", "change of plan", "not as asked"]
DecisionKind = Literal["link", "not a build", "word", "split", "join"]

RECORDING_KINDS: tuple[RecordingKind, ...] = get_args(RecordingKind)
STATUSES: tuple[Status, ...] = get_args(Status)
OPEN_STATUSES: tuple[Status, ...] = ("asked for", "planned", "in progress", "waiting")
LABELS: tuple[Label, ...] = get_args(Label)


# --- heard -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Word:
    """One heard word. ``certainty`` is None and ``estimated`` True where the engine gives no word times."""

    word: str
    start: float
    end: float
    certainty: float | None = None
    estimated: bool = False
    speaker: str | None = None


@dataclass(frozen=True, slots=True)
class Repair:
    """A misheard stretch and what is meant by it; what was heard is always kept beside it."""

    heard: str
    meant: str
    certainty: float


@dataclass(frozen=True, slots=True)
class Sentence:
    """A stretch of speech: ``heard`` as the engine gave it, ``text`` as repaired. ``id`` is None until stored."""

    start: float
    end: float
    heard: str
    text: str
    words: tuple[Word, ...] = ()
    repairs: tuple[Repair, ...] = ()
    certainty: float | None = None
    speaker: str | None = None
    id: int | None = None
    recording: str | None = None


# --- recordings ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Recording:
    """One video or audio file, as guessed by the tool and corrected by a person (corrections already applied).

    ``date_from`` says where the date came from: "file name", "container tag", "file time" or "a person".
    ``path`` is relative to the shop's recordings folder when inside it. ``state`` is "indexed", "hearing" or "failed".
    """

    id: str
    path: str
    title: str
    kind: RecordingKind
    date: str | None
    date_from: str | None
    month: str | None
    duration: float
    has_picture: bool
    engine: str | None
    state: str
    error: str | None = None
    address: str | None = None
    sentences: int = 0


# --- understood ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Mention:
    """A term found in a sentence: its exact words, its canonical term, and a value where it has one.

    ``sentence`` is the sentence's place in its recording (0 for the first); ``start`` and ``end`` are characters of the
    sentence's text. ``value`` is plain data, e.g. ``{"amount": 39.99, "currency": "GBP", "approximate": False}``.
    """

    label: Label
    text: str
    canonical: str
    sentence: int
    start: int
    end: int
    certainty: float = 1.0
    value: dict[str, Any] | None = None

    @property
    def amount(self) -> float | None:
        """The number of a price, measure or count."""
        return (self.value or {}).get("amount")

    @property
    def unit(self) -> str | None:
        """The unit of a measure by its name, or the currency of a price as ISO 4217 code."""
        value = self.value or {}
        return value.get("unit") or value.get("currency")


@dataclass(frozen=True, slots=True)
class Subject:
    """What a segment or statement is about. ``id`` is the job number of a build, the name of a product, and so on."""

    kind: SubjectKind
    id: str | None = None


@dataclass(frozen=True, slots=True)
class Statement:
    """What is said of one part of one bike, with its status. ``sentence`` is the sentence's place in its recording.

    ``start`` and ``end`` are seconds in the film; ``text`` is the sentence as repaired. ``rule`` names the rule that
    fired, for ``explain``. What a note states has the note's number in ``note``. Read from the store it also has
    ``said_on``, the day of its film or note, and ``decided``, whether a person tied its stretch to its build. ``also``
    are the recordings and seconds where the same words are heard too, as in raw footage and the cut made of it.
    """

    status: Status
    text: str
    part: str | None = None
    side: str | None = None
    task: str | None = None
    finish: str | None = None
    product: str | None = None
    supplier: str | None = None
    quantity: str | None = None
    said_by: SaidBy = "shop"
    who: str | None = None
    when: str | None = None
    certainty: float = 0.5
    subject: Subject | None = None
    build: str | None = None
    source: Source = "film"
    sentence: int = 0
    segment: int | None = None
    start: float | None = None
    end: float | None = None
    rule: str | None = None
    id: int | None = None
    recording: str | None = None
    note: int | None = None
    said_on: str | None = None
    decided: bool = False
    also: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Candidate:
    """A build that a person's words or a stretch of film may mean, and why; ``certainty`` where it was weighed."""

    job_number: str
    why: str
    certainty: float | None = None


@dataclass(frozen=True, slots=True)
class Segment:
    """A topic stretch of a recording: sentences ``first`` to ``last`` inclusive, by their place in the recording.

    ``evidence`` lists plain sentences that say why it is tied to its build ("said 'Curlew'", "asked for: tan seat").
    ``candidates`` are the builds it may be about, likeliest first; ``decision`` is the number of the decision of a
    person that it obeys.
    """

    start: float
    end: float
    first: int
    last: int
    title: str
    subject: Subject
    build: str | None = None
    certainty: float = 0.0
    evidence: tuple[str, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    decision: int | None = None
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """A FAQ entry drafted from film: a question and the stretch that answers it. ``terms`` are canonical terms."""

    question: str
    answer: str
    start: float
    end: float
    terms: tuple[str, ...] = ()
    certainty: float = 0.5
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Promise:
    """Something said on film that the shop will do. ``due`` is a month or date as ISO 8601, or None.

    ``doer`` is who will do it, by name, where that was said; ``hedge`` the words that leave it open ("hopefully").
    ``said_on`` is the day of its film, where it was read from the store.
    """

    text: str
    start: float
    end: float
    due: str | None = None
    certainty: float = 0.5
    doer: str | None = None
    hedge: str | None = None
    said_on: str | None = None
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """A date for the calendar: a show, an open day, the next film. ``tentative`` when hedged on film.

    ``hedge`` are the words that leave it open ("pencilled in"); ``said_on`` as in `Promise`.
    """

    name: str
    start: float
    end: float
    date: str | None = None
    place: str | None = None
    tentative: bool = False
    text: str = ""
    hedge: str | None = None
    said_on: str | None = None
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class ProductLine:
    """A product spoken of with its price. ``price`` in units of ``currency`` (ISO 4217), None when not said.

    ``hedge`` are the words that make a price approximate ("just under"); ``said_on`` as in `Promise`.
    """

    product: str
    start: float
    end: float
    text: str
    supplier: str | None = None
    fits: str | None = None
    price: float | None = None
    currency: str | None = None
    approximate: bool = False
    availability: Literal["available", "coming", "sold out"] | None = None
    certainty: float = 0.5
    hedge: str | None = None
    said_on: str | None = None
    id: int | None = None
    recording: str | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """All that the language step makes of one recording: plain data, ready to be linked and stored.

    ``talk`` are the topics as the language step cut them, before the job book cut them again to ``segments``; none
    where that was not done.
    """

    kind: RecordingKind
    mentions: tuple[Mention, ...] = ()
    segments: tuple[Segment, ...] = ()
    statements: tuple[Statement, ...] = ()
    entries: tuple[Entry, ...] = ()
    promises: tuple[Promise, ...] = ()
    events: tuple[Event, ...] = ()
    products: tuple[ProductLine, ...] = ()
    remarks: Remarks = field(default_factory=Remarks)
    talk: tuple[Segment, ...] = ()


# --- the job book ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Build:
    """One row of the job book. ``public`` says whether the build may be shown to the public; the customer never is."""

    job_number: str
    customer: str | None = None
    make: str | None = None
    model: str | None = None
    year: str | None = None
    registration: str | None = None
    vin: str | None = None
    colour: str | None = None
    nickname: str | None = None
    date_in: str | None = None
    promised: str | None = None
    date_out: str | None = None
    state: str | None = None
    asked_for: str | None = None
    public: bool = False

    @property
    def name(self) -> str:
        """How people speak of it: nickname, else make and model, else the job number."""
        spoken = " ".join(word for word in (self.make, self.model) if word)
        return self.nickname or spoken or f"job {self.job_number}"


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo of a note. ``file`` is its name in the shop's photos folder, ``name`` what it was called; pixels."""

    file: str
    name: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Note:
    """What a person wrote about a build. ``date`` is the day it is of; an undone note is kept and counts no more.

    ``visit`` marks the day on which the customer saw the bike. ``reading_key`` tells with which rules and words it was
    read last.
    """

    id: int
    build: str
    text: str
    date: str
    author: str
    written_at: str
    photos: tuple[Photo, ...] = ()
    undone_at: str | None = None
    undone_by: str | None = None
    reading_key: str | None = None
    visit: bool = False


@dataclass(frozen=True, slots=True)
class Change:
    """Two statements of one thing of which the later one replaces the earlier: no conflict, but worth knowing.

    ``kind``: the customer changed their mind, the plan changed without a word of the customer, or what was done is not
    what the customer asked for.
    """

    kind: ChangeKind
    earlier: Statement
    later: Statement


@dataclass(frozen=True, slots=True)
class History:
    """What is known of one build: every statement in the order of days, what is open, and what disagrees.

    ``notes`` are those in force, oldest first, also where nothing in them could be read as a statement. ``promises``
    were made on film while this build was spoken of; ``customer_parts`` are what the customer supplied or wants copied.
    ``last_visit`` is the day on which the customer saw it last. ``words`` are the shop's, by which parts have their
    systems and finishes are the same; None for the trade's alone.
    """

    build: Build
    statements: tuple[Statement, ...]
    open: tuple[Statement, ...]
    conflicts: tuple[tuple[Statement, Statement], ...]
    notes: tuple[Note, ...] = ()
    changes: tuple[Change, ...] = ()
    promises: tuple[Promise, ...] = ()
    customer_parts: tuple[CustomerPart, ...] = ()
    words: Vocabulary | None = field(default=None, compare=False, repr=False)

    @property
    def last_visit(self) -> str | None:
        """The latest day of a note that says that the customer came by."""
        return max((note.date for note in self.notes if note.visit), default=None)


@dataclass(frozen=True, slots=True)
class Decision:
    """A person's word on a stretch of film. It outranks the machine, is kept for good, and can be undone.

    ``film`` is the content hash of the film it was made on, ``start`` and ``end`` seconds of that film: a film is known
    again by its sound, so that neither names nor row numbers matter. ``what`` is plain data: ``{"build": job}`` or
    ``{"not": job}`` for a link, ``{"heard", "meant"}`` for a word. ``evidence`` is what the person saw. Days and times
    are ISO 8601 in UTC.
    """

    id: int
    made_at: str
    actor: str
    kind: DecisionKind
    film: str
    start: float
    end: float
    what: dict[str, Any]
    evidence: dict[str, Any]
    undone_at: str | None = None
    undone_by: str | None = None


@dataclass(frozen=True, slots=True)
class DevelopmentMoment:
    """A stretch of film about a development: from ``start`` to ``end`` seconds, with its words.

    ``state`` says how far it was then, None where nothing told; ``build`` is the bike it was said of, if any.
    """

    recording: str
    title: str
    date: str | None
    start: float
    end: float
    text: str
    state: str | None = None
    build: str | None = None


@dataclass(frozen=True, slots=True)
class Development:
    """A thing that the shop develops over months, with its thread through the films, oldest first.

    ``state`` is the last one told. ``by_name``: the name is the shop's own, so that every sentence naming it counts.
    """

    name: str
    state: str | None
    thread: tuple[DevelopmentMoment, ...] = ()
    by_name: bool = False


# --- answers and the month -------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch of film that answers a question. ``entry`` is the FAQ entry it comes from, if any.

    ``films`` are other films that it refers to.
    """

    recording: str
    title: str
    start: float
    end: float
    text: str
    said_on: str | None
    certainty: float
    why: str
    entry: int | None = None
    films: tuple[FilmLink, ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """The best passages for a question, with the cautions that go with them."""

    answered: bool
    answers: tuple[Passage, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class BuildMoved:
    """One build in a month's round-up: what was said of it, and what changed since the month before."""

    build: Build
    finished: bool
    done: tuple[Statement, ...]
    open: tuple[Statement, ...]
    since_last: str


@dataclass(frozen=True, slots=True)
class RoundUp:
    """A month, as marketing needs it. ``clips`` are stretches worth cutting, with in and out points in seconds."""

    month: str
    builds: tuple[BuildMoved, ...] = ()
    products: tuple[ProductLine, ...] = ()
    tutorials: tuple[Recording, ...] = ()
    dates: tuple[Event, ...] = ()
    promises: tuple[Promise, ...] = ()
    clips: tuple[Segment, ...] = ()
    recordings: tuple[Recording, ...] = field(default=())
