"""Topic stretches of a film: one bike of a walk-round, one step of a tutorial, one question, one product.

A stretch begins where its speaker opens it ("next up", "over here we've got") or where another bike is named; phrases
are data in ``cues/discourse.yaml``.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Container, Sequence
from dataclasses import dataclass

from diaryidx.film_records import Aside
from diaryidx.language.discourse import after_fillers, opens_with, phrases, words_of
from diaryidx.language.events import announces_event, tells_event
from diaryidx.language.found import Found
from diaryidx.language.patterns import Row, patterns
from diaryidx.language.told import BIKE_LABELS, Told, capital
from diaryidx.records import RecordingKind, Subject

TITLE_WORDS = 8
CLOSING = "Closing"
_EARLY = 4  # a development is turned to where its name is among the first words; own choice
_POINTING = ("this", "that", "these")  # "next up we've got the dipper | this one came in for a seat": one topic


@dataclass(slots=True)
class Stretch:
    """Sentences ``first`` to ``last`` inclusive about one subject. ``asks`` marks a question with its answer."""

    first: int
    last: int
    title: str
    subject: Subject
    certainty: float
    asks: bool = False
    step: bool = False


def cut_into_stretches(
    told: Sequence[Told], kind: RecordingKind, title: str | None, asides: Sequence[Aside] = ()
) -> list[Stretch]:
    """Cut a film into topic stretches.

    Arguments:
        told: all its sentences, in order.
        kind: the kind of film; it decides what opens a stretch.
        title: what a tutorial teaches, if known.
        asides: its digressions, which end no topic.
    Returns: stretches that cover every sentence once, in order.
    """
    if not told:
        return []
    away = {place for aside in asides for place in range(aside.first, aside.last + 1)}
    starts = _starts(told, kind, away)
    ends = [start - 1 for start in starts[1:]] + [len(told) - 1]
    stretches = [_stretch(told[first : last + 1], kind, title) for first, last in zip(starts, ends, strict=True)]
    _number_steps(stretches)
    return stretches


def _starts(told: Sequence[Told], kind: RecordingKind, away: Container[int]) -> list[int]:
    starts = [0]
    bikes: set[str] = _bikes(told[0])
    numbered = sum(opens_with("numbered steps", one.words) for one in told) > 1
    for one in told[1:]:
        if one.place in away:
            continue
        current = told[starts[-1] : one.place]
        named = _bikes(one)
        if _opens(one, kind, current, bikes, _unlike(named, bikes), numbered):
            starts.append(one.place)
            bikes = named
        else:
            bikes |= named
    return starts


def _bikes(one: Told) -> set[str]:
    return {found.canonical for found in one.labelled("MODEL", "NICKNAME", "JOB")}


def _unlike(named: set[str], bikes: set[str]) -> set[str]:
    """Those named that are none of the bikes spoken of: "the lapwing" is the Lapwing 650 just spoken of."""
    return {
        name
        for name in named
        if not any(name == bike or name.startswith(f"{bike} ") or bike.startswith(f"{name} ") for bike in bikes)
    }


def _opens(
    one: Told, kind: RecordingKind, current: Sequence[Told], bikes: set[str], named: set[str], numbered: bool
) -> bool:
    """Whether a stretch begins with this sentence."""
    words = one.words
    if not words or _only_opened(current):
        return False
    if is_closing(one):
        return not is_closing(current[0])
    if is_closing(current[0]) and len(current) < 3 and not opens_with("strong openings", words):
        return False
    if asks_on_film(one, kind):
        return True
    if kind == "tutorial":
        return opens_with("numbered steps", words) if numbered else _opens_step(one) or _acts_anew(one, current)
    if kind == "questions":
        return False
    if kind == "bench note":
        return bool(named - bikes) and bool(bikes)
    if opens_with("goes on", words) or introduces_people(one):
        return False
    if opens_with("strong openings", words):
        return not (len(current) == 1 and words[min(after_fillers(words), len(words) - 1)] in _POINTING)
    if kind == "diary" and _turns_to_shop(one, current):
        return True
    if kind == "product news":
        return _introduces_product(one, current)
    return _opens_bike(one, current, bikes, named)


def _only_opened(current: Sequence[Told]) -> bool:
    """Whether the stretch so far holds an opening and nothing else ("right", "next up"): what follows belongs to it."""
    return len(current) == 1 and not current[0].terms and len(current[0].words) <= 4 and not is_closing(current[0])


def _opens_bike(one: Told, current: Sequence[Told], bikes: set[str], named: set[str]) -> bool:
    """In a walk-round: a weak opening, or another bike named near the start of a sentence."""
    place = after_fillers(one.words)
    new_bike = bool(named - bikes)
    if new_bike and not bikes and len(current) >= 2 and not is_greeting(current[0]):
        return any(found.start - place <= 1 for found in one.labelled(*BIKE_LABELS))  # "the dipper's frame is back"
    early = any(found.start - place <= 6 for found in one.labelled(*BIKE_LABELS))
    if new_bike and early and not one.has_kind("earlier"):
        return opens_with("weak openings", one.words) or bool(bikes) or is_greeting(current[0])
    if len(current) >= 3 and _names_by_colour(one):
        return True
    if opens_with("weak openings", one.words):
        pointed = phrases("weak openings").at(one.words, min(place, len(one.words) - 1))
        demonstrative = pointed and one.words[place] in ("this", "that", "these", "here")
        if is_greeting(current[0]) and len(current) <= 4 and demonstrative:
            return True
        return bool(demonstrative) and _new_bike_words(one, place) and len(current) >= 2
    return is_greeting(current[0]) and not bikes and bool(one.labelled("PART")) and not is_greeting(one)


def _names_by_colour(one: Told) -> bool:
    """ "the blue one's still waiting": a bike told by its colour, at the start of a sentence."""
    row = "".join(item.letter for item in one.doc._.items[:6])
    return bool(re.match(r"[r&,]*DF+O[sbhHwqmW]", row))


def _new_bike_words(one: Told, place: int) -> bool:
    """ "this one is", "this is the", "here we have": said of a bike, not of a part ("this is the tank")."""
    head = one.words[place : place + 6]
    first_part = next((found.start for found in one.labelled("PART")), 99)
    if head[:2] == ["this", "one"] or head[:2] == ["these", "two"] or head[:1] == ["here"]:
        return first_part - place > 2
    return first_part - place > 4 and (
        bool(one.labelled(*BIKE_LABELS, "PERSON")) or bool({"bike", "build", "project", "customer"} & set(head))
    )


def _turns_to_shop(one: Told, current: Sequence[Told]) -> bool:
    """In a walk-round: from a bike to what the shop sells, or to the calendar."""
    if one.labelled(*BIKE_LABELS):
        return False
    if tells_event(one) or announces_event(one):
        return not any(tells_event(told) or announces_event(told) for told in current)
    priced = bool(one.labelled("PRICE")) and phrases("product cues").within(one.words)
    if not one.labelled("PART", "PRODUCT"):
        return False  # "those will be forty pounds" speaks on
    if phrases("product openings").within(one.words) or priced:
        return not any(_sells(told) for told in current[-3:])
    opens = phrases("development openings").within(one.words) or _names_development(one)
    return opens and not any(_develops(told) for told in current)


def _develops(one: Told) -> bool:
    cued = phrases("development").within(one.words) or phrases("development openings").within(one.words)
    return cued or _names_development(one)


def _names_development(one: Told) -> bool:
    """Whether a sentence turns to a thing that the shop's words call a development: "now, the battery tray"."""
    last = after_fillers(one.words) + _EARLY
    return any(_is_development(found) and found.start <= last for found in one.labelled("PRODUCT"))


def _is_development(found: Found) -> bool:
    return found.term is not None and found.term.sort == "development"


def _sells(one: Told) -> bool:
    return phrases("product openings").within(one.words) or phrases("product cues").within(one.words)


def _introduces_product(one: Told, current: Sequence[Told]) -> bool:
    """In product news: a sentence that names a product first and does not only speak on ("they fit ...")."""
    named = one.labelled("PRODUCT") or one.labelled("PART")[:1]
    if not named:
        return False
    subject = next((item for item in one.doc._.items if item.letter in "tPB"), None)
    if subject is not None and subject.letter == "t" and subject.word not in ("here", "there", "this", "these"):
        return False
    before = {found.canonical for told in current for found in told.labelled("PRODUCT", "PART")}
    if named[0].canonical in before:
        return False
    selling = (
        phrases("product cues").within(one.words) or "new" in one.words or phrases("stock words").within(one.words)
    )
    return bool(one.labelled("PRODUCT", "PRICE")) or selling or opens_with("weak openings", one.words)


def _opens_step(one: Told) -> bool:
    if not opens_with("steps", one.words):
        return False
    return bool(one.labelled("TASK", "PART")) or phrases("steps").within(one.words[:3])


def _acts_anew(one: Told, current: Sequence[Told]) -> bool:
    """Whether a sentence tells to do something to another part ("slacken the spindle nut"), or something else to it."""
    place = after_fillers(one.words)
    if place >= len(one.words):
        return False
    task = next(
        (found for found in one.labelled("TASK") if found.start == place and found.form in ("base", "both")), None
    )
    if task is None and one.words[place] not in words_of("work actions"):
        return False
    parts = {found.canonical for found in one.labelled("PART") if found.term is None or found.term.system != "tools"}
    spoken = {found.canonical for told in current for found in told.labelled("PART")}
    if parts:
        return parts.isdisjoint(spoken) or is_greeting(current[0])
    done = {found.canonical for told in current for found in told.labelled("TASK")}
    return task is not None and task.canonical not in done and len(current) >= 2


def introduces_people(one: Told) -> bool:
    """Whether a sentence says who is in the film: "I'm Moss and with me is Tilly, who does the wheels"."""
    if phrases("introductions").within(one.words[:12]):
        return True
    place = after_fillers(one.words)
    if one.words[place : place + 2] != ["i", "'m"]:
        return False
    return any(found.start == place + 2 for found in one.labelled("PERSON"))


def is_greeting(one: Told) -> bool:
    """Whether a sentence greets the viewers or says what film this is."""
    return opens_with("greetings", one.words) or (one.place == 0 and introduces_people(one))


def is_closing(one: Told) -> bool:
    """Whether a sentence says goodbye."""
    return phrases("closings").within(one.words[:14])


def asks_on_film(one: Told, kind: RecordingKind) -> bool:
    """Whether a sentence tells a question: announced ("somebody asked ..."), or asked outright."""
    if one.has_kind("joke") or not one.words or _goes_on_after_question(one.text):
        return False
    if announces_question(one):
        told = phrases("question starts").within(one.words) or not {"question", "questions"}.isdisjoint(one.words)
        return told or kind in ("tutorial", "questions")
    words = one.words[_prefix(one.words) :]
    if len(words) < 4 or not opens_with("question starts", words):
        return False
    answering = kind in ("tutorial", "questions")
    if one.text.rstrip().endswith("?"):
        return answering or bool(one.labelled("PART", "TASK"))
    return answering and _asks_outright(words)


def _goes_on_after_question(text: str) -> bool:
    """Whether more is told after a question mark: the question and its answer in one."""
    return "?" in text.rstrip().rstrip("?")


def announces_question(one: Told) -> bool:
    """Whether a question is announced near the start of a sentence: "jen asks how ...", "the next question is"."""
    place = after_fillers(one.words)
    last = min(place + 6, len(one.words) - 1)
    match = patterns("questions.yaml", "announced").first(Row.of(one.words))
    if match is not None and match.start <= place + 6:
        return True
    return any(phrases("question announced").at(one.words, at) for at in range(last + 1))


def _prefix(words: Sequence[str]) -> int:
    """The place behind "and finally", "last one": a question may follow."""
    place = after_fillers(words)
    if place >= len(words):
        return 0
    length = phrases("question prefixes").at(words, place)
    return place + length if length else 0


def _asks_outright(words: Sequence[str]) -> bool:
    place = min(after_fillers(words), len(words) - 1)
    first = words[place]
    if words[place : place + 2] == ["how", "to"]:
        return False  # "how to check one": what is told, not asked
    return first not in ("when", "where", "whether", "if") or "i" in words[:4]


# --- what a stretch is about -----------------------------------------------------------------------------------------


def _stretch(told: Sequence[Told], kind: RecordingKind, title: str | None) -> Stretch:
    first, last = told[0].place, told[-1].place
    if asks_on_film(told[0], kind):
        return Stretch(first, last, capital(_short(told[0])), Subject("shop"), 0.7, asks=True)
    if is_closing(told[0]):
        return Stretch(first, last, CLOSING, Subject("shop"), 0.8)
    if is_greeting(told[0]) and not (_any(told, *BIKE_LABELS) and kind in ("diary", "other")):
        return Stretch(
            first, last, "Opening", Subject("tutorial", title) if kind == "tutorial" and title else Subject("shop"), 0.8
        )
    if tells_event(told[0]) or announces_event(told[0]):
        return Stretch(first, last, "Dates", Subject("shop"), 0.6)
    if kind == "tutorial":
        return Stretch(first, last, capital(_step_title(told)), Subject("tutorial", title), 0.7, step=True)
    if kind != "product news" and _tells_development(told) and not _has_price_now(told):
        return _development(told)
    if kind == "product news" or _tells_product(told):
        name = _product_name(told)
        return Stretch(first, last, capital(name or _short(told[0])), Subject("product", name), 0.6)
    if kind == "questions" or not _any(told, "PART", "TASK", "FINISH", *BIKE_LABELS):
        return Stretch(first, last, capital(_short(told[0])), Subject("shop"), 0.5)
    return Stretch(first, last, _bike_title(told), Subject("build"), 0.6)


def _development(told: Sequence[Told]) -> Stretch:
    own = next((found.canonical for one in told for found in one.labelled("PRODUCT") if _is_development(found)), None)
    name = own or _most_said(told, "PRODUCT") or _most_said(told, "PART")
    title = capital(f"Our own {name}" if name else _short(told[0]))
    return Stretch(told[0].place, told[-1].place, title, Subject("development", name), 0.5)


def _has_price_now(told: Sequence[Told]) -> bool:
    there = patterns("availability.yaml", "available")
    return any(one.labelled("PRICE") and there.first(Row.of(one.words)) for one in told)


def _any(told: Sequence[Told], *labels: str) -> bool:
    return any(one.labelled(*labels) for one in told)


def _tells_product(told: Sequence[Told]) -> bool:
    if _any(told, "NICKNAME", "JOB"):
        return False
    priced = _any(told, "PRICE")
    cued = sum(phrases("product cues").within(one.words) for one in told)
    named = _any(told, "PRODUCT")
    return (priced and (cued > 0 or named)) or (named and cued > 0 and not _any(told, "MODEL"))


def _tells_development(told: Sequence[Told]) -> bool:
    if _names_development(told[0]):
        return not _any(told[:1], "NICKNAME", "JOB", "MODEL")
    cued = any(phrases("development").within(one.words) for one in told[:3])
    return cued and not _any(told, "NICKNAME", "JOB", "MODEL")


def _most_said(told: Sequence[Told], label: str) -> str | None:
    said = Counter(found.canonical for one in told for found in one.labelled(label))
    return said.most_common(1)[0][0] if said else None


def _product_name(told: Sequence[Told]) -> str | None:
    return _most_said(told, "PRODUCT") or next(
        (found.canonical for one in told for found in one.labelled("PART")), None
    )


def _bike_title(told: Sequence[Told]) -> str:
    for label in ("NICKNAME", "MODEL", "MAKE"):
        name = _most_said(told, label)
        if name:
            return capital(_in_full(name, told))
    parts = list(dict.fromkeys(found.canonical for one in told for found in one.labelled("PART")))[:3]
    return f"A build: {', '.join(parts)}" if parts else "A build"


def _in_full(name: str, told: Sequence[Told]) -> str:
    """ "Lapwing" as the one Lapwing that these sentences name in full, where they do."""
    full = {one.canonical for sentence in told for one in sentence.labelled(*BIKE_LABELS)}
    longer = [one for one in full if one.startswith(f"{name} ")]
    return longer[0] if len(longer) == 1 else name


def _step_title(told: Sequence[Told]) -> str:
    for one in told:
        tasks, parts = one.labelled("TASK"), one.labelled("PART")
        if tasks and parts:
            after = [part for part in parts if part.start >= tasks[0].start]
            side = next(
                (found.canonical + " " for found in one.labelled("SIDE") if found.end == (after or parts)[0].start), ""
            )
            return f"{tasks[0].canonical} {side}{(after or parts)[0].canonical}"
    return _short(told[0])


def _short(one: Told) -> str:
    words = one.text.split()
    numbered = phrases("numbered steps").at(one.words, 0) if one.words else 0
    words = words[numbered:] if numbered < len(words) else words
    place = min(after_fillers(one.words), max(len(words) - 1, 0))
    kept = words[place : place + TITLE_WORDS]
    return " ".join(kept).strip(" ,.;:") + (" …" if len(words) > place + TITLE_WORDS else "")


def _number_steps(stretches: list[Stretch]) -> None:
    number = 0
    for stretch in stretches:
        if stretch.step:
            number += 1
            stretch.title = f"Step {number}: {stretch.title}"
