"""The shop's own terms: its words.yaml, and the makes, models, nicknames and customers of its job book."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diaryidx.records import Build, Label
from diaryidx.vocabulary import loader, yaml_files
from diaryidx.vocabulary.inflections import plain, plural_and_singular
from diaryidx.vocabulary.loader import Term
from diaryidx.vocabulary.spoken_words import heard_key, spoken_key

if TYPE_CHECKING:
    from diaryidx.vocabulary.loader import _Gathering

_MAPS = ("pronounce", "heard")
_SMALL = "Dtuyr&hbqngkd"  # classes of words that a sentence is held together by
_LABELS: dict[str, Label] = {
    "suppliers": "SUPPLIER", "products": "PRODUCT", "developments": "PRODUCT", "people": "PERSON",
    "nicknames": "NICKNAME",
}  # fmt: skip
_PUNCTUATION = re.compile(r"[^\w\s'&]+")

#: Titles as people say them before a surname.
SPOKEN_TITLES = ("mr", "mister", "mrs", "missus", "miss", "ms", "doctor")


# --- words.yaml ------------------------------------------------------------------------------------------------------


def add_words(gathering: _Gathering, path: Path, text: str) -> None:
    """Add everything in the shop's words.yaml.

    Arguments:
        gathering: the vocabulary being put together.
        path: named in errors.
        text: the file's content.
    Raises: VocabularyError, one line naming file and line.
    """
    checked = yaml_files.read_checked(path, text, "words.yaml")
    _check_names(checked)
    for kind, said in checked.data.items():
        if kind not in _MAPS:
            for entry in _entries(said):
                _add_entry(gathering, kind, entry)
        elif said:
            table, key = (gathering.heard, heard_key) if kind == "heard" else (gathering.pronounce, plain)
            table |= {key(word): meant for word, meant in said.items() if key(word)}


def _entries(said: Sequence[Any]) -> list[dict[str, Any]]:
    """The items of a list, each as a mapping: a name alone stands for one. What was left empty was not said."""
    items = [{"name": one} if isinstance(one, str) else one for one in said]
    return [{key: value for key, value in one.items() if value != ""} for one in items]


def _check_names(checked: yaml_files.Checked) -> None:
    lists = {kind: _entries(said) for kind, said in checked.data.items() if kind not in _MAPS}
    parts = {entry["name"] for entry in lists.get("parts", ())} | loader.part_names()
    for kind, entries in lists.items():
        yaml_files.check_names(checked, [((kind, place), entry) for place, entry in enumerate(entries)], parts)
    wholes = {entry["name"]: entry.get("part_of") for entry in lists.get("parts", ())}
    for kind in ("parts", "tasks", "finishes"):
        for place, entry in enumerate(lists.get(kind, ())):
            at = (kind, place)
            said = [entry["name"], *entry.get("say", ())]
            if small := next((word for word in said if plain(word) in _small_words()), None):
                raise checked.wrong(at, f"'{small}' is in every other sentence and can be no name of a thing")
            if (system := entry.get("system")) and system not in _systems():
                raise checked.wrong(
                    (*at, "system"), f"system '{system}' is not known; use one of {_listed(_systems())}"
                )
            if kind == "parts" and _is_in_itself(entry["name"], wholes):
                raise checked.wrong((*at, "part_of"), f"'{entry['name']}' would be a part of itself")


def _is_in_itself(name: str, wholes: dict[str, str | None]) -> bool:
    seen, whole = {name}, wholes.get(name)
    while whole is not None and whole not in seen:
        seen.add(whole)
        whole = wholes.get(whole)
    return whole == name


def _listed(names: Iterable[str]) -> str:
    return ", ".join(sorted(names))


def _systems() -> frozenset[str]:
    return frozenset(term.system for term in loader.shipped_terms() if term.label == "PART" and term.system)


def _small_words() -> frozenset[str]:
    """Articles, pronouns, forms of be, have and do, joining words and "not", by the letters of the grammar."""
    classes = loader.shipped_data("grammar.yaml")["classes"]
    return frozenset({"not", "never", *(word for letter in _SMALL for word in classes[letter])})


def _add_entry(gathering: _Gathering, kind: str, entry: dict[str, Any]) -> None:
    if kind == "tasks":
        forms: dict[str, str] = {}
        term = loader.task_term(_over_shipped(entry, "TASK"), forms, gathering.apart, "words.yaml")
        gathering.add(term, forms)
        return
    if kind in ("parts", "finishes"):
        label: Label = "PART" if kind == "parts" else "FINISH"
        gathering.add(loader.noun_term(kind, _over_shipped(entry, label), origin="words.yaml"))
        return
    sort = None
    if kind == "developments":
        _add_development(gathering, entry)
        return
    if kind == "people":
        sort = entry.get("role", "staff")
    gathering.add(
        Term(
            canonical=entry["name"],
            label=_LABELS[kind],
            variants=_name_variants([entry["name"], *entry.get("say", ())], nickname=kind == "nicknames"),
            sort=sort,
            jobs=(entry["job"],) if entry.get("job") else (),
            supplier=entry.get("supplier"),
            fits=entry.get("fits"),
            origin="words.yaml",
        )
    )


def _add_development(gathering: _Gathering, entry: dict[str, Any]) -> None:
    """Add what the shop develops itself, in singular and plural; it outranks a product of the same name."""
    said = _name_variants([entry["name"], *entry.get("say", ())])
    both = tuple(dict.fromkeys(form for phrase in said for form in plural_and_singular(phrase)))
    term = Term(entry["name"], "PRODUCT", both, sort="development", origin="words.yaml")
    same = [one for one in gathering.terms if (one.canonical, one.label) == (term.canonical, term.label)]
    if same:
        term = replace(same[0], variants=tuple(dict.fromkeys((*same[0].variants, *both))), sort="development")
        gathering.terms.remove(same[0])
    for phrase in term.variants:
        if gathering.phrases.get(phrase) in same:
            del gathering.phrases[phrase]
    gathering.add(term)
    gathering.developments.add(entry["name"])


def _over_shipped(entry: dict[str, Any], label: Label) -> dict[str, Any]:
    """A shop's entry for a term that is also shipped keeps what the shop did not say: system, safety class, ..."""
    for term in loader.shipped_terms():
        if term.label == label and term.canonical == entry["name"]:
            known = {name: getattr(term, name) for name in ("system", "safety", "leaves", "part_of", "sort")}
            return {**{name: value for name, value in known.items() if value}, **entry}
    return entry


# --- the job book ----------------------------------------------------------------------------------------------------


def add_builds(gathering: _Gathering, builds: Sequence[Build]) -> None:
    """Add makes, models, nicknames and customers of the job book; they never take a phrase that is already a term."""
    fields: tuple[tuple[Label, Callable[[Build], str | None]], ...] = (
        ("NICKNAME", lambda build: build.nickname),
        ("MODEL", lambda build: build.model),
        ("MAKE", lambda build: build.make),
        ("PERSON", lambda build: build.customer),
    )
    for label, field in fields:
        jobs: dict[str, list[str]] = {}
        for build in builds:
            if name := (field(build) or "").strip():
                jobs.setdefault(name, []).append(build.job_number)
        shared = _shared_words(jobs) if label == "MODEL" else {}
        for name, numbers in jobs.items():
            _add_name(gathering, label, name, tuple(numbers), alone=_first_word(name) not in shared)
        for word, name in shared.items():
            if name not in jobs:
                numbers = [number for model in jobs if _first_word(model) == word for number in jobs[model]]
                _add_name(gathering, label, name, tuple(numbers))


def _first_word(model: str) -> str:
    return (_spoken(model).split() or [""])[0]


def _shared_words(models: Iterable[str]) -> dict[str, str]:
    """First words that several models share ("Curlew 700", "Curlew 850"), as spoken and as typed: either is meant."""
    typed: dict[str, list[str]] = {}
    for model in models:
        typed.setdefault(_first_word(model), []).append(model.split()[0])
    return {word: names[0] for word, names in typed.items() if len(names) > 1 and word.isalpha() and len(word) > 3}


def _add_name(gathering: _Gathering, label: Label, name: str, jobs: tuple[str, ...], alone: bool = True) -> None:
    """Add one name; ``alone``: a model's first word stands for it."""
    said = _name_variants([name], nickname=label == "NICKNAME")
    if label == "PERSON":
        said = (*said, *_short_names(name))
    elif label == "MODEL" and len(_spoken(name).split()) == 1:
        said = (*said, *(form for word in said for form in plural_and_singular(word)))
    elif label == "MODEL" and alone:
        said = (*said, *_model_alone(said))
    free = tuple(phrase for phrase in dict.fromkeys(said) if phrase not in gathering.phrases)
    free = tuple(phrase for phrase in free if phrase not in _everyday())
    same = next((term for term in gathering.terms if term.canonical == name and term.label == label), None)
    if same is not None:  # also in words.yaml: one term, with the job numbers
        gathering.terms[gathering.terms.index(same)] = merged = replace(
            same, jobs=(*same.jobs, *jobs), variants=tuple(dict.fromkeys((*same.variants, *free)))
        )
        for phrase in merged.variants:
            if gathering.phrases.get(phrase) in (None, same):
                gathering.phrases[phrase] = merged
    elif free:
        sort = "customer" if label == "PERSON" else None
        gathering.add(Term(name, label, free, jobs=jobs, sort=sort, origin="job book"))


def _everyday() -> frozenset[str]:
    return loader.everyday_words()


def _short_names(name: str) -> tuple[str, ...]:
    """First name, surname with a title: how a customer is spoken of. Initials and titles alone are not names."""
    words = [word for word in _spoken(name).split() if len(word) > 1 and word not in ("mr", "mrs", "ms", "miss", "dr")]
    if not words:
        return ()
    titled = tuple(f"{title} {words[-1]}" for title in SPOKEN_TITLES)
    return (words[0], *titled) if len(words) > 1 else titled


def _model_alone(said: Iterable[str]) -> tuple[str, ...]:
    """The model's word without its number: "raven 900" is also "the raven"."""
    words = [phrase.split() for phrase in said]
    first = [phrase[0] for phrase in words if len(phrase) > 1 and phrase[0].isalpha() and len(phrase[0]) > 3]
    return tuple(form for word in dict.fromkeys(first) for form in plural_and_singular(word))


def _name_variants(names: Iterable[str], nickname: bool = False) -> tuple[str, ...]:
    """A name as typed, with "and" for "&", without punctuation, without a leading article, numbers as said."""
    said: list[str] = []
    for name in names:
        spoken = _spoken(name)
        if not spoken:
            continue
        bare = re.sub(r"^(the|a|an) (?=\w)", "", spoken) if nickname else spoken
        for phrase in (bare, bare.replace("&", "and")):
            said += [phrase, *_numbers_spoken(phrase)]
    return tuple(dict.fromkeys(spoken_key(phrase) for phrase in said if phrase.strip()))


def _spoken(name: str) -> str:
    return " ".join(_PUNCTUATION.sub(" ", plain(name)).replace("_", " ").split())


_ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def _numbers_spoken(phrase: str) -> list[str]:
    """The phrase with its number as people say it: 650 is "six fifty" and "six hundred and fifty"."""
    match = re.search(r"(?<![\d])(\d{1,4})(?!\d)", phrase)
    if not match:
        return []
    head, tail = phrase[: match.start()].strip(), phrase[match.end() :].strip()
    return [" ".join(f"{head} {words} {tail}".split()) for words in say_number(int(match.group(1)))]


def say_number(number: int) -> list[str]:
    """Ways in which a model number below 10,000 is said: as pairs of digits, in hundreds, in thousands."""
    if number < 100:
        return [_below_hundred(number)]
    said: list[str] = []
    hundreds, rest = divmod(number, 100)
    if rest == 0:
        if hundreds % 10:
            said.append(f"{_below_hundred(hundreds)} hundred")
    else:
        pair = f"oh {_ONES[rest]}" if rest < 10 else _below_hundred(rest)
        said += [f"{_below_hundred(hundreds)} {pair}", f"{_below_hundred(hundreds)} hundred and {_below_hundred(rest)}"]
    thousands, rest = divmod(number, 1000)
    if thousands:
        below = "" if not rest else (say_number(rest)[-1] if rest >= 100 else f"and {_below_hundred(rest)}")
        said += [f"{_ONES[thousands]} thousand {below}".strip()]
        if thousands == 1:
            said.append(f"a thousand {below}".strip())
    return said


def _below_hundred(number: int) -> str:
    if number < 20:
        return _ONES[number]
    tens, ones = divmod(number, 10)
    return _TENS[tens] + (f" {_ONES[ones]}" if ones else "")
