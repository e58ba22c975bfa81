from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.errors import WrongUse
from diaryidx.shop import KNOWN_SETTINGS, REPEATED, Settings, load_shop, read_settings, starter_settings


@given(st.text())
def test_the_starter_settings_are_valid_and_keep_any_name(name: str) -> None:
    assert read_settings(tomllib.loads(starter_settings(name)), Path("shop.toml")) == Settings(name=name)


def test_the_starter_settings_show_and_explain_every_setting() -> None:
    text = starter_settings("x")
    for table, keys in KNOWN_SETTINGS.items():
        for key, (_type, purpose) in keys.items():
            shown = f'# {key} = ""  # {purpose}' if table in REPEATED else f"# {purpose}\n{key} = "
            assert shown in text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('nam = "x"', 'unknown setting "nam"; did you mean "name"'),
        ('[speach]\nengine = "vosk"', 'unknown setting "speach"; did you mean "speech"'),
        ('[speech]\nmodle = "x"', 'unknown setting "speech.modle"; did you mean "model"'),
        ("name = 3", '"name" must be a text in quotes'),
        ('speech = "vosk"', '"speech" must be a table'),
        ('timezone = "Mars/Olympus"', "Europe/London"),
        ('timezone = "../../etc/passwd"', "Europe/London"),
        ('currency = "pounds"', "three letters"),
        ('spelling = "cornish"', "british, american"),
        ('[speech]\nengine = "other"', "auto, vosk, packaged"),
        ('staff = "Tove"', "[[staff]]"),
        ('[staff]\nname = "Tove"', "[[staff]]"),
        ('[[staff]]\nname = "Tove"\nrole = "owner"', "diaryidx staff add"),
        ('[[staff]]\nname = "Tove"\nrole = "boss"\npassword_hash = "x"', "owner, staff, marketing"),
        ('[[staff]]\nname = "Tove"\nrole = "staff"\npassword_hash = "x"', 'the role "owner"'),
        ('[[staff]]\nname = "Tove"\nrole = "owner"\npassword_hash = 3', "text in quotes"),
        (2 * '[[staff]]\nname = "Tove"\nrole = "owner"\npassword_hash = "x"\n', "twice"),
        ("name = ", "not valid TOML"),
    ],
)
def test_a_wrong_setting_is_named_with_what_it_may_be(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "shop.toml").write_text(text)
    with pytest.raises(WrongUse) as caught:
        load_shop(tmp_path)
    assert said in str(caught.value)
    assert "shop.toml" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_folder_that_is_no_shop_is_refused_with_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(WrongUse, match="diaryidx init"):
        load_shop(tmp_path)


def test_a_model_is_looked_for_from_the_shop_folder(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('[speech]\nmodel = "models/big"\n')
    assert load_shop(tmp_path).model == tmp_path.resolve() / "models" / "big"


def test_no_model_is_named_unless_the_settings_name_one(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('[speech]\nmodel = ""\n')
    shop = load_shop(tmp_path)
    assert shop.model is None
    assert not shop.listens_with_mini_model
