from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from diaryidx.errors import VocabularyError
from diaryidx.records import Build, Repair, Sentence, Word
from diaryidx.transcript.repair import Repairer, build_repairer, repair
from diaryidx.transcript.repair.confusions import confusions, hearing_costs
from diaryidx.transcript.repair.pronouncing import by_letters, phonemes, ways_to_say
from diaryidx.vocabulary.loader import load_vocabulary

BUILDS = (
    Build(job_number="31", customer="Ottilie Brackwater", make="Fennister", model="Kittiwake"),
    Build(job_number="32", customer="Barnaby Quince", make="Fennister", model="Dunlin 500"),
)
AROUND = (
    "we stripped the forks and the wheels went off for powder coating",
    "the tank is at the painter and the seat is done in brown leather",
    "new head bearings and the swingarm has been blasted",
)


def sentence(text: str, certainty: float | None = None) -> Sentence:
    words = tuple(Word(word, place / 2, place / 2 + 0.4, certainty) for place, word in enumerate(text.split()))
    return Sentence(0.0, len(words) / 2, text, text, words)


def shop(tmp_path: Path, **words: object) -> Repairer:
    path = tmp_path / "words.yaml"
    path.write_text(yaml.safe_dump({"suppliers": ["Haversett Plating", "Tindrake Rubber"], **words}), encoding="utf-8")
    return build_repairer(load_vocabulary(path, BUILDS))


def in_workshop(repairer: Repairer, text: str, certainty: float | None = None) -> Sentence:
    film = [*map(sentence, AROUND), sentence(text, certainty), *map(sentence, AROUND)]
    return repair(repairer, film)[len(AROUND)]


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("the front wheel of the kitty wake is back from the powder coater", "Kittiwake"),
        ("we got the hubs back from have a set plating on friday", "Haversett Plating"),
        ("tin drake rubber sent us new tank mounts for it", "Tindrake Rubber"),
        ("mr bracket water wants a brown seat on his", "Brackwater"),
    ],
)
def test_a_misheard_name_is_repaired_and_what_was_heard_stays_beside_it(tmp_path: Path, heard: str, meant: str) -> None:
    repaired = in_workshop(shop(tmp_path), heard, 0.6)
    assert meant in repaired.text
    assert repaired.heard == heard
    assert " ".join(word.word for word in repaired.words) == heard
    [made] = repaired.repairs
    assert made.heard in heard and 0.5 < made.certainty < 1


@pytest.mark.parametrize(
    "text",
    [
        "the Kittiwake has new fork seals",
        "well we will see about that tomorrow",
        "the mudguard and the handlebars need to come off first",
        "take the socket off the bolt and mind the sprocket",
        "he wanted a kettle in the kitchen and a bracket for the water heater",
    ],
)
def test_what_was_heard_right_stays(tmp_path: Path, text: str) -> None:
    assert in_workshop(shop(tmp_path), text).text == text


@pytest.mark.parametrize("text", ["when he says it is ready we will fit the seat", "as good as new with these forks"])
def test_two_words_that_everybody_says_side_by_side_are_no_name(tmp_path: Path, text: str) -> None:
    assert in_workshop(shop(tmp_path, people=["Quenby", "Osgood"]), text, 0.6).text == text


def test_the_same_sounds_far_from_any_workshop_stay(tmp_path: Path) -> None:
    text = "the kid to wake has new fork seals and the wheels are off for paint"
    assert "Kittiwake" in in_workshop(shop(tmp_path), text).text
    talk = "she had a walk by the sea and then they all went home for tea with the children"
    text = "the kid to wake was a very sad affair for everybody"
    film = [*[sentence(talk)] * 10, sentence(text), *[sentence(talk)] * 10]
    assert repair(shop(tmp_path), film)[10].text == text


def test_marks_around_a_repaired_stretch_stay(tmp_path: Path) -> None:
    repaired = in_workshop(shop(tmp_path), "Hubs came from Tin Drake Rubber, the tank from the painter.", 0.6)
    assert "Tindrake Rubber, the tank from the painter." in repaired.text


def test_a_persons_correction_is_left_alone(tmp_path: Path) -> None:
    corrected = Sentence(
        0.0, 4.0, "the kitty wake is here", "the Harbour Cat is here",
        tuple(Word(word, 0, 1) for word in ["the", "kitty", "wake", "is", "here"]),
        (Repair("kitty wake", "Harbour Cat", 1.0),),
    )  # fmt: skip
    assert repair(shop(tmp_path), [*map(sentence, AROUND), corrected])[-1] == corrected


def test_what_a_person_says_was_heard_right_is_not_repaired(tmp_path: Path) -> None:
    text = "the front wheel of the kitty wake is back from the powder coater"
    assert in_workshop(shop(tmp_path), text).text != text
    assert in_workshop(shop(tmp_path, heard={"kitty wake": "kitty wake"}), text).text == text


def test_a_name_is_found_by_the_shops_own_pronunciation(tmp_path: Path) -> None:
    heard = "the front wheel of the shah say is back from the powder coater"
    assert in_workshop(shop(tmp_path, nicknames=["Xaceuil"]), heard).text == heard
    taught = shop(tmp_path, nicknames=["Xaceuil"], pronounce={"xaceuil": "SH AA1 S EY2"})
    assert "Xaceuil" in in_workshop(taught, heard).text


def test_a_pronunciation_that_is_none_is_said_so_in_one_line(tmp_path: Path) -> None:
    with pytest.raises(VocabularyError, match="pronounce 'kittiwake': 'QQ' is no phoneme"):
        shop(tmp_path, pronounce={"kittiwake": "K IH QQ"})


def test_only_the_sentences_asked_for_are_repaired_as_in_the_whole_film(tmp_path: Path) -> None:
    repairer = shop(tmp_path)
    film = [*map(sentence, AROUND), sentence("the kitty wake has new fork seals"), *map(sentence, AROUND)] * 2
    whole = repair(repairer, film)
    some = repair(repairer, film, only=[3])
    assert some[3] == whole[3] != film[3]
    assert some[10] == film[10]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.text(max_size=60), max_size=4))
def test_any_text_at_all_is_survived(texts: list[str]) -> None:
    film = [sentence(text) for text in texts]
    for before, after in zip(film, repair(_plain_repairer(), film), strict=True):
        assert after.heard == before.heard


_made: list[Repairer] = []


def _plain_repairer() -> Repairer:
    if not _made:
        _made.append(build_repairer(load_vocabulary(None, BUILDS)))
    return _made[0]


def test_known_words_sound_as_the_dictionary_says_and_others_as_they_are_spelt() -> None:
    # CMU Pronouncing Dictionary, entries "carburetor" and "bracket".
    assert ways_to_say("bracket", {})[0] == ("B", "R", "AE", "K", "IH", "T")
    assert ("B", "R", "AE", "K", "W", "AO", "T", "ER") in ways_to_say("brackwater", {}) or by_letters("brackwater")
    assert by_letters("fennister")[:3] == ("F", "EH", "N")


def test_sounds_made_alike_are_confused_more_easily_than_others() -> None:
    number = {sound: place for place, sound in enumerate(phonemes())}
    swap = confusions().swap
    assert swap[number["P"], number["B"]] < swap[number["P"], number["Z"]]
    assert swap[number["IH"], number["EH"]] < swap[number["IH"], number["K"]]
    assert (swap.diagonal() == 0).all()


def test_the_cost_of_hearing_is_an_edit_distance() -> None:
    import numpy as np

    number = {sound: place for place, sound in enumerate(phonemes())}
    costs = confusions()

    def cost(meant: str, heard: str) -> float:
        rows = [np.array([[number[one] for one in text.split()]], np.uint8) for text in (meant, heard)]
        lengths = [np.array([row.shape[1]]) for row in rows]
        return float(hearing_costs(rows[0], lengths[0], rows[1], lengths[1], np.array([50.0]))[0])

    assert cost("K IH T", "K IH T") == 0
    assert cost("K IH T", "K IH") == pytest.approx(float(costs.lost[number["T"]]))
    assert cost("K IH T", "G IH T") == pytest.approx(float(costs.swap[number["K"], number["G"]]), abs=1e-4)
