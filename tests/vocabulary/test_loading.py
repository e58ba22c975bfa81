"""The vocabulary: what ships, what a shop adds, what a job book adds, and what is said when a file is wrong."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
import yaml

from diaryidx.errors import VocabularyError
from diaryidx.records import Build
from diaryidx.vocabulary import STARTER_WORDS, Vocabulary, find_terms, load_vocabulary
from diaryidx.vocabulary.loader import SAFETY_CLASSES
from diaryidx.vocabulary.shop_terms import say_number

BUILDS = (
    Build("2001", customer="Ann Alder", make="Orrin", model="Lapwing 650", nickname="the green one"),
    Build("2002", customer="Will Black", make="Orrin", model="Dipper"),
    Build("2003", make="Halden & Rowe", model="Tank"),
)


@pytest.fixture(scope="module")
def shipped() -> Vocabulary:
    return load_vocabulary()


def words_file(folder: Path, text: str) -> Path:
    path = folder / "words.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def found(vocabulary: Vocabulary, text: str) -> list[tuple[str, str, str]]:
    return [(text[start:end], term.canonical, term.label) for start, end, term in find_terms(vocabulary, text)]


# --- what ships ------------------------------------------------------------------------------------------------------


def test_the_shipped_words_are_enough_for_the_trade(shipped: Vocabulary) -> None:
    count = Counter(term.label for term in shipped.terms)
    assert count["PART"] >= 400
    assert count["TASK"] >= 90
    assert count["FINISH"] >= 80


def test_no_canonical_name_is_given_twice_under_one_label(shipped: Vocabulary) -> None:
    names = Counter((term.canonical, term.label) for term in shipped.terms if term.label != "SIDE")
    assert [name for name, times in names.items() if times > 1] == []


def test_every_part_has_a_system_and_belongs_to_something_known(shipped: Vocabulary) -> None:
    systems = {term.system for term in shipped.terms if term.label == "PART"} | {"workshop", "bodywork"}
    for term in shipped.terms:
        if term.label == "PART":
            assert term.system, term.canonical
            if term.part_of:
                assert shipped.term(term.part_of, "PART") or term.part_of in systems, term.canonical


def test_safety_classes_are_known_and_all_used(shipped: Vocabulary) -> None:
    used = {term.safety for term in shipped.terms if term.safety}
    assert used == set(SAFETY_CLASSES)


def test_tasks_that_finish_a_surface_say_what_they_leave(shipped: Vocabulary) -> None:
    for term in shipped.terms:
        if term.label == "TASK" and term.sort == "finishing":
            assert term.leaves, term.canonical


@pytest.mark.parametrize(
    ("said", "canonical"),
    [
        ("front tires", "tyre"), ("gas tank", "fuel tank"), ("petcock", "fuel tap"), ("fender", "mudguard"),
        ("mud guards", "mudguard"), ("turn signals", "indicators"), ("blinkers", "indicators"), ("muffler", "silencer"),
        ("triple clamps", "yokes"), ("rotors", "brake disc"), ("license plate", "number plate"),
        ("kickstand", "side stand"),
        ("handle bars", "handlebars"), ("clip-ons", "clip-ons"), ("carbs", "carburettor"),
        ("wiring harness", "wiring loom"),
        ("windshield", "screen"), ("saddle", "seat"), ("calliper", "caliper"), ("rear sets", "rearsets"),
    ],
)  # fmt: skip
def test_everyday_british_and_american_names_mean_the_same_part(shipped: Vocabulary, said: str, canonical: str) -> None:
    """Common practice of the trade; no source."""
    assert canonical in [name for _, name, label in found(shipped, f"the {said} there") if label == "PART"]


@pytest.mark.parametrize(
    ("said", "canonical"),
    [
        ("powder-coated", "powder coat"), ("anodizing", "anodise"), ("rebuilt", "rebuild"), ("stripped", "strip"),
        ("welding", "weld"), ("took off", "remove"), ("fitted", "fit"), ("cutting", "cut"),
        ("sandblasted", "bead blast"),
        ("re-upholstered", "upholster"), ("rewired", "wire"), ("torquing", "tighten"),
    ],
)  # fmt: skip
def test_verbs_are_known_in_all_their_forms(shipped: Vocabulary, said: str, canonical: str) -> None:
    assert [name for _, name, label in found(shipped, said) if label == "TASK"] == [canonical]


def test_the_longest_term_wins_and_places_are_those_of_the_text(shipped: Vocabulary) -> None:
    text = "New front brake-pads, and a brake master cylinder."
    assert [(said, name) for said, name, _ in found(shipped, text)] == [
        ("front", "front"),
        ("brake-pads", "brake pads"),
        ("brake master cylinder", "brake master cylinder"),
    ]


def test_everyday_phrases_hide_the_terms_inside_them(shipped: Vocabulary) -> None:
    assert found(shipped, "sort of in order to get back to it in the end") == []


def test_everyday_verbs_are_tasks_only_beside_a_part(shipped: Vocabulary) -> None:
    assert found(shipped, "we found it and ran with it, this build") == []
    assert [name for _, name, _ in found(shipped, "we moved the battery")] == ["relocate", "battery"]


def test_loading_does_not_import_spacy_or_vosk() -> None:
    code = (
        "import sys; import diaryidx.vocabulary as v; import diaryidx.language, diaryidx.transcript; "
        "v.find_terms(v.load_vocabulary(), 'the tank'); print('spacy' in sys.modules, 'vosk' in sys.modules)"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.split() == ["False", "False"]


# --- words.yaml ------------------------------------------------------------------------------------------------------


def test_the_starter_words_are_valid_and_change_nothing(tmp_path: Path, shipped: Vocabulary) -> None:
    loaded = load_vocabulary(words_file(tmp_path, STARTER_WORDS))
    assert loaded.phrases.keys() == shipped.phrases.keys()


def test_the_examples_in_the_starter_words_are_valid_once_uncommented(tmp_path: Path) -> None:
    lines = [
        line[1:] if line.startswith("#-") or line.startswith("#  ") else line for line in STARTER_WORDS.splitlines()
    ]
    loaded = load_vocabulary(words_file(tmp_path, "\n".join(lines)))
    assert loaded.heard == {"cellar bars": "clip-ons"}
    assert loaded.term("Short Tail Kit", "PRODUCT")


def test_a_shop_adds_its_own_words_of_every_kind(tmp_path: Path) -> None:
    path = words_file(
        tmp_path,
        """
suppliers: [Fell Castings, {name: Brook & Daughter, say: [the brooks]}]
products: [{name: Hill Tail Kit 2, supplier: Fell Castings, fits: Dipper}]
people: [{name: Imogen, role: upholsterer}]
parts: [{name: ratchet hanger, safety: brakes, say: [hanger thing]}]
tasks: [{name: flock, say: [flock up], leaves: flocked}]
finishes: [{name: workshop green, sort: colour}]
nicknames: [{name: The Heron, job: "2002"}]
pronounce: {dipper: D IH P ER}
heard: {cellar bars: clip-ons}
""",
    )
    loaded = load_vocabulary(path)
    text = (
        "brook and daughter sent the hill tail kit two imogen flocked the hanger thing in workshop green on the heron"
    )
    assert [(name, label) for _, name, label in found(loaded, text)] == [
        ("Brook & Daughter", "SUPPLIER"), ("Hill Tail Kit 2", "PRODUCT"), ("Imogen", "PERSON"), ("flock", "TASK"),
        ("ratchet hanger", "PART"), ("workshop green", "FINISH"), ("The Heron", "NICKNAME"),
    ]  # fmt: skip
    product = loaded.term("Hill Tail Kit 2", "PRODUCT")
    assert product is not None and (product.supplier, product.fits) == ("Fell Castings", "Dipper")
    assert (loaded.heard, loaded.pronounce) == ({"cellar bars": "clip-ons"}, {"dipper": "D IH P ER"})


def test_a_shop_that_names_a_shipped_part_keeps_its_system_and_safety_class(tmp_path: Path) -> None:
    loaded = load_vocabulary(words_file(tmp_path, "parts: [{name: brake pads, say: [stoppers]}]"))
    term = loaded.phrases["stoppers"]
    assert (term.system, term.safety, term.origin) == ("wheels and brakes", "brakes", "words.yaml")


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("parts:\n  - seat\n - tank\n", None, "not valid YAML"),
        ("suppliers: []\nsupliers: [Fell]\n", 2, "did you mean 'suppliers'?"),
        ("parts:\n- {name: hanger, safty: brakes}\n", 2, "did you mean 'safety'?"),
        ("parts:\n- {name: hanger, safety: brake}\n", 2, "use one of brakes"),
        ("parts:\n- seat\n- {say: [thing]}\n", 3, "has no 'name'"),
        ("parts: seat\n", 1, "must be a list"),
        ("heard: [a, b]\n", 1, "'name: value' lines"),
        ("heard:\n  cellar bars:\n", 2, "must be plain text"),
        ("- seat\n", 1, "expected lists under names"),
        ("parts:\n- '...'\n", 2, "no letters or digits"),
        ("parts: [\n", None, "not valid YAML"),
    ],
)
def test_a_wrong_words_file_is_told_in_one_line_with_its_line(
    tmp_path: Path, text: str, line: int | None, words: str
) -> None:
    path = words_file(tmp_path, text)
    with pytest.raises(VocabularyError) as raised:
        load_vocabulary(path)
    message = str(raised.value)
    assert words in message and str(path) in message and "\n" not in message
    assert "line " in message
    if line is not None:
        assert f"line {line}:" in message


def test_a_words_file_that_is_no_text_is_told_so(tmp_path: Path) -> None:
    path = tmp_path / "words.yaml"
    path.write_bytes(b"parts: [caf\xe9]\n")
    with pytest.raises(VocabularyError, match="not UTF-8"):
        load_vocabulary(path)


# --- the job book ----------------------------------------------------------------------------------------------------


def test_makes_models_nicknames_and_customers_of_the_job_book_are_found() -> None:
    loaded = load_vocabulary(None, BUILDS)
    text = "ann's lapwing six fifty the dipper and the green one by halden and rowe"
    assert [(name, label) for _, name, label in found(loaded, text)] == [
        ("Ann Alder", "PERSON"), ("Lapwing 650", "MODEL"), ("Dipper", "MODEL"), ("the green one", "NICKNAME"),
        ("Halden & Rowe", "MAKE"),
    ]  # fmt: skip
    assert loaded.phrases["lapwing 650"].jobs == ("2001",)
    assert loaded.phrases["orrin"].jobs == ("2001", "2002")


def test_names_of_the_job_book_never_take_an_everyday_or_a_trade_word() -> None:
    loaded = load_vocabulary(None, BUILDS)
    assert found(loaded, "that will be black") == [("black", "black", "FINISH")]
    assert loaded.phrases["tank"].canonical == "fuel tank"
    assert loaded.phrases["mr black"].canonical == "Will Black"


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (650, "six fifty"), (900, "nine hundred"), (1200, "twelve hundred"), (1000, "one thousand"),
        (105, "one oh five"),
        (1250, "twelve fifty"), (1250, "one thousand two hundred and fifty"), (75, "seventy five"), (7, "seven"),
    ],
)  # fmt: skip
def test_model_numbers_are_known_as_people_say_them(number: int, said: str) -> None:
    assert said in say_number(number)


# --- fingerprint -----------------------------------------------------------------------------------------------------


def test_the_fingerprint_changes_with_anything_loaded_and_only_then(tmp_path: Path) -> None:
    path = words_file(tmp_path, "parts: [hanger thing]")
    first = load_vocabulary(path, BUILDS).fingerprint
    assert load_vocabulary(path, BUILDS).fingerprint == first
    assert load_vocabulary(path, BUILDS[:2]).fingerprint != first
    assert load_vocabulary(path, BUILDS, currency="EUR").fingerprint != first
    words_file(tmp_path, "parts: [hanger things]")
    assert load_vocabulary(path, BUILDS).fingerprint != first


def test_shipped_files_are_yaml_that_any_reader_reads() -> None:
    """Outside check: PyYAML's own safe loader reads every shipped file without a doubled key getting lost."""
    folder = Path(load_vocabulary.__code__.co_filename).parent
    for path in folder.rglob("*.yaml"):
        node = yaml.compose(path.read_text(encoding="utf-8"))
        assert node is not None
        keys = Counter(key.value for key, _ in node.value)
        assert [key for key, times in keys.items() if times > 1] == [], path.name
