"""What the talk so far leaves for the next sentence: the parts spoken of, the last statements, the last verb."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from diaryidx.language.clause_reader import ReadClause
from diaryidx.language.found import Clause, Drafted
from diaryidx.records import RecordingKind

REMEMBERED = 4  # texts for which a part stays in mind; common practice, no source


@dataclass(frozen=True, slots=True)
class Topic:
    """A part that was spoken of, with its side."""

    part: str
    side: str | None = None

    @property
    def plural(self) -> bool:
        """Whether "they" fits it better than "it"."""
        return self.part.endswith("s") and not self.part.endswith("ss")


@dataclass(slots=True)
class Discourse:
    """The state of one topic stretch; a new stretch begins with a blank one. ``film`` is the kind of recording."""

    film: RecordingKind = "other"
    topics: list[Topic] = field(default_factory=list)
    last: list[Drafted] = field(default_factory=list)
    task: str | None = None
    clause: Clause | None = None  # the last clause with a verb
    heard: bool = False  # a statement was made of this very text
    fragment: bool = False  # the clause before only named parts
    person: str | None = None  # who was last spoken of
    agent: str | None = None  # who did something in the last clause
    asked: str | None = None  # the task that was last asked about
    supplier: tuple[str, str] | None = None  # a part and the firm that it is said to be from
    whole_task: str | None = None  # what is being done to the bike as a whole, part by part
    whole: Topic | None = None  # the thing with a side that was spoken of last; its own parts take the side
    silent: int = 0  # texts since a part was named or meant

    def hear(self) -> None:
        """Another text begins; a part that was not spoken of for long is not what "it" means any more."""
        self.silent += 1
        self.heard = False
        if self.silent > REMEMBERED:
            self.topics, self.last, self.whole = [], [], None

    def forget(self) -> None:
        """What was said before was of something else."""
        self.topics, self.last, self.task, self.clause, self.whole = [], [], None, None, None
        self.asked, self.supplier = None, None

    def keep(self, made: list[Drafted]) -> None:
        """Remember statements just made; their parts are what "it" and "they" mean next."""
        self.last = made
        if self.supplier is not None:
            self._from_supplier(*self.supplier)
        self.heard = True
        self.silent = 0 if any(one.part for one in made) else self.silent
        own = [one for one in made if one.part and not one.beside] or made  # not the seals that it was rebuilt with
        named = [Topic(one.part, one.side) for one in own if one.part]
        self.topics = named or self.topics
        self._see_whole(named)
        whole = [one.task for one in made if one.part is None and one.task and one.status == "in progress"]
        goes_on = all(one.task == self.whole_task for one in made)
        self.whole_task = whole[-1] if whole else self.whole_task if goes_on else None
        self.task = next((one.task for one in reversed(made) if one.task), self.task)

    def _from_supplier(self, part: str, supplier: str) -> None:
        for one in self.last:
            if one.part == part and one.status in ("done", "waiting", "planned"):
                one.supplier = one.supplier or supplier
                self.supplier = None

    def comes_from(self, supplier: str) -> None:
        """ "it's from rowan's": told of the thing spoken of, and of what is said of it next."""
        topic = self.newest()
        if topic is not None:
            self.supplier = (topic.part, supplier)
            self._from_supplier(topic.part, supplier)

    def _see_whole(self, topics: Sequence[Topic]) -> None:
        """A thing with a side is the whole of what is said next; one without ends that."""
        if topics:
            one_place = len({one.side for one in topics}) == 1 and topics[-1].side != "both"
            self.whole = topics[-1] if one_place and topics[-1].side is not None else None

    def name(self, read: ReadClause) -> None:
        """Remember parts that were only named."""
        things = [one for one in read.things if one.kind == "part" and one.found]
        things = [one for one in things if not one.preposition] or things  # not what it is under, behind or for
        parts = [(one.found.canonical, one.sides) for one in things if one.found]
        named = [Topic(part, side) for part, sides in parts for side in sides or (None,)]
        if not named and self.topics:  # "and the right one was fine": it is what "it" means next
            ones = [one for one in read.things if one.kind == "one" and one.sides and not one.preposition]
            named = [Topic(self.topics[-1].part, one.sides[0]) for one in ones[-1:]]
        self.topics = named or self.topics
        self.silent = 0 if named else self.silent
        self._see_whole(named)

    def single(self) -> Topic | None:
        """What "it" means: the part spoken of last, one that is single rather than several."""
        return next((topic for topic in reversed(self.topics) if not topic.plural), None) or self.newest()

    def newest(self) -> Topic | None:
        """The part spoken of last."""
        return self.topics[-1] if self.topics else None

    def task_done_to(self, part: str | None) -> str | None:
        """The task that was last said of this part: what "doing again" means."""
        last = next((one for one in reversed(self.last) if one.task), None)
        return self.task if last is not None and last.part == part else None


def without_repeats(made: Sequence[Drafted]) -> list[Drafted]:
    """Statements without those that say the same of the same thing."""
    kept: dict[tuple[str | None, ...], Drafted] = {}
    for one in made:
        kept.setdefault((one.part, one.side, one.task, one.finish, one.product, one.status), one)
    return list(kept.values())
