from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from diaryidx.errors import SpeechError, WrongUse
from diaryidx.resources import mini_model_folder
from diaryidx.speech import home as speech_home
from diaryidx.speech.home import home_folder, models_folder, open_engine, remembered, status, use
from diaryidx.speech.model_folder import model_name


@pytest.fixture
def without_packaged(monkeypatch):
    found = importlib.util.find_spec
    monkeypatch.setattr(speech_home, "find_spec", lambda name: None if name == "moonshine_voice" else found(name))


@pytest.fixture
def with_packaged(monkeypatch):
    monkeypatch.setattr(speech_home, "find_spec", lambda name: object())


def test_with_nothing_there_one_line_says_how_to_get_either(home, without_packaged):
    for engine in ("auto", "vosk", "packaged"):
        problem = status(engine).problem
        assert problem and "\n" not in problem and "diaryidx model get" in problem
        with pytest.raises(SpeechError) as error:
            open_engine(engine)
        assert str(error.value) == problem
    assert "packaged" in str(status("auto").problem)
    assert not home.exists()  # looking writes nothing


def test_auto_takes_the_packaged_engine_where_there_is_no_model(home, with_packaged):
    found = status("auto")
    assert (found.engine, found.problem) == ("packaged", None)
    assert "no Vosk model" in found.why


def test_a_chosen_model_goes_before_the_packaged_engine(home, with_packaged):
    assert use(mini_model_folder()) == mini_model_folder()
    found = status("auto")
    assert (found.engine, found.path, found.model) == ("vosk", mini_model_folder(), "vosk-mini-en")
    assert open_engine().name == "vosk"
    assert status("packaged").engine == "packaged"


def test_the_shop_s_own_model_goes_before_all_others(home, model_copy, with_packaged):
    use(mini_model_folder())
    for engine in ("auto", "vosk"):
        found = status(engine, model_copy)
        assert (found.engine, found.path, found.problem) == ("vosk", model_copy, None)
        assert "shop" in found.why


def test_the_mini_model_is_never_picked_by_itself(home, without_packaged):
    assert status("auto").path is None
    assert status("vosk").path is None


def test_a_zip_is_unpacked_into_the_home_and_remembered(home, model_zip, without_packaged):
    folder = use(model_zip)
    assert folder == models_folder() / "vosk-model-test-0.1"
    assert status("auto").path == folder == remembered()
    assert sorted(path.name for path in models_folder().iterdir()) == ["vosk-model-test-0.1"]
    (home / "model.json").unlink()
    assert status("auto").path == folder  # installed, if not chosen
    assert use(model_zip) == folder  # again, in place of itself


def test_a_chosen_model_that_has_gone_is_told_and_not_replaced_in_silence(home, model_copy, with_packaged):
    use(model_copy)
    model_copy.rename(model_copy.with_name("elsewhere"))
    found = status("auto")
    assert found.problem and str(model_copy) in found.problem and "diaryidx model use" in found.problem
    with pytest.raises(SpeechError):
        open_engine()


def test_a_model_in_a_folder_of_its_own_is_found_in_it(home, model_copy, tmp_path):
    outer = tmp_path / "downloads"
    outer.mkdir()
    assert use(outer / model_copy.rename(outer / "vosk-model-x").name).name == "vosk-model-x"
    assert use(outer) == outer / "vosk-model-x"


@pytest.mark.parametrize("name", ["missing", "film.mp4", "empty folder"])
def test_what_is_no_model_is_refused_and_the_choice_stays(home, tmp_path, name):
    use(mini_model_folder())
    (tmp_path / "film.mp4").write_bytes(b"no zip" * 100)
    (tmp_path / "empty folder").mkdir()
    with pytest.raises(SpeechError, match=name):
        use(tmp_path / name)
    assert remembered() == mini_model_folder()


def test_a_damaged_model_is_not_chosen(home, model_copy):
    (model_copy / "am" / "final.mdl").write_bytes(b"\0B" * 1000)
    with pytest.raises(SpeechError, match="damaged"):
        use(model_copy)
    assert remembered() is None


def test_an_unknown_engine_is_wrong_use(home):
    with pytest.raises(WrongUse, match="auto, vosk, packaged"):
        open_engine("whisper-loud")


def test_a_damaged_choice_file_is_as_good_as_none(home, without_packaged):
    home.mkdir()
    for content in ("", "{", "[]", '{"model": 5}', "null"):
        (home / "model.json").write_text(content)
        assert status("auto").problem


def test_an_unwritable_home_is_one_line(tmp_path, monkeypatch):
    (tmp_path / "file").touch()
    monkeypatch.setenv("DIARYIDX_HOME", str(tmp_path / "file" / "home"))
    with pytest.raises(SpeechError, match="cannot be written"):
        use(mini_model_folder())
    assert open_engine("vosk", mini_model_folder()).name == "vosk"  # listening needs no home


def test_the_home_is_the_user_s_data_folder(monkeypatch, tmp_path):
    monkeypatch.delenv("DIARYIDX_HOME")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert home_folder().name == "diaryidx"


def test_models_are_called_by_a_telling_name():
    assert model_name(Path("/a/vosk-mini-en/model")) == "vosk-mini-en"
    assert model_name(Path("/a/vosk-model-small-en-us-0.15")) == "vosk-model-small-en-us-0.15"
