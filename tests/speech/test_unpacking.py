from __future__ import annotations

import os
import random
import stat
import zipfile
from pathlib import Path

import pytest

from diaryidx.errors import SpeechError
from diaryidx.resources import mini_model_folder
from diaryidx.speech import unpacking
from diaryidx.speech.unpacking import unpack, unpack_model


def zip_of(path: Path, entries: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w") as zipped:
        for name, content in entries.items():
            zipped.writestr(name, content)
    return path


def everything_in(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def test_a_zip_with_the_model_at_its_top_is_named_after_the_zip(tmp_path):
    file = tmp_path / "my-model.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as zipped:
        for path in mini_model_folder().rglob("*"):
            zipped.write(path, path.relative_to(mini_model_folder()))
    models = tmp_path / "models"
    assert unpack_model(file, models, tmp_path / "proofs.json") == models / "my-model"
    for path in mini_model_folder().rglob("*.mdl"):
        assert (models / "my-model" / path.relative_to(mini_model_folder())).read_bytes() == path.read_bytes()
    assert [path.name for path in models.iterdir()] == ["my-model"]


@pytest.mark.parametrize(
    "name", ["../evil", "a/../../evil", "/tmp/evil", "C:/evil", "..\\evil", "a\\..\\..\\evil", ".."]
)
def test_names_that_lead_out_of_the_folder_are_refused(tmp_path, name):
    before = everything_in(tmp_path)
    file = zip_of(tmp_path / "slip.zip", {"model/am/final.mdl": b"x", name: b"evil"})
    with pytest.raises(SpeechError, match="outside"):
        unpack_model(file, tmp_path / "home" / "models", tmp_path / "home" / "proofs.json")
    assert everything_in(tmp_path) - before <= {"slip.zip", "home", "home/models"}


def test_links_are_refused(tmp_path):
    entry = zipfile.ZipInfo("model/link")
    entry.external_attr = (stat.S_IFLNK | 0o777) << 16
    with zipfile.ZipFile(tmp_path / "link.zip", "w") as zipped:
        zipped.writestr(entry, "/etc")
    with pytest.raises(SpeechError, match="link"):
        unpack(tmp_path / "link.zip", tmp_path / "out")


def test_a_zip_that_would_fill_the_disk_is_refused(tmp_path, monkeypatch):
    file = tmp_path / "bomb.zip"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as zipped:
        zipped.writestr("model/am/final.mdl", bytes(3_000_000))
    monkeypatch.setattr(unpacking, "MOST_BYTES", 2_000_000)
    with pytest.raises(SpeechError, match="too large"):
        unpack(file, tmp_path / "out")
    monkeypatch.undo()
    # a size that lies: the entry says 10 bytes and holds three million
    lying = file.read_bytes().replace((3_000_000).to_bytes(4, "little"), (10).to_bytes(4, "little"))
    file.write_bytes(lying)
    with pytest.raises(SpeechError, match="not a whole zip"):
        unpack(file, tmp_path / "lied")
    assert sum(path.stat().st_size for path in (tmp_path / "lied").rglob("*") if path.is_file()) <= 10


def test_a_zip_without_a_model_says_what_is_missing_and_leaves_nothing(tmp_path):
    file = zip_of(tmp_path / "holiday.zip", {"a.txt": b"x", "b/c.txt": b"y"})
    with pytest.raises(SpeechError, match=r"holiday\.zip.*acoustic model"):
        unpack_model(file, tmp_path / "models", tmp_path / "proofs.json")
    assert everything_in(tmp_path) == {"holiday.zip", "models"}


def test_a_model_that_does_not_load_does_not_replace_the_one_that_does(tmp_path, model_zip):
    models, proofs = tmp_path / "models", tmp_path / "proofs.json"
    folder = unpack_model(model_zip, models, proofs)
    broken = tmp_path / "broken.zip"
    with zipfile.ZipFile(model_zip) as source, zipfile.ZipFile(broken, "w") as target:
        for entry in source.infolist():
            content = source.read(entry)
            target.writestr(entry, content[:5000] if entry.filename.endswith("final.mdl") else content)
    with pytest.raises(SpeechError, match="damaged"):
        unpack_model(broken, models, proofs)
    assert [path.name for path in models.iterdir()] == [folder.name]
    assert (folder / "am" / "final.mdl").stat().st_size > 5000


def test_any_damage_to_a_zip_is_one_clear_line(tmp_path):
    whole = zip_of(tmp_path / "whole.zip", {f"model/{n}.txt": os.urandom(300) for n in range(5)}).read_bytes()
    dice = random.Random(7)
    for number in range(150):
        damaged = bytearray(whole)
        for _flip in range(dice.randint(1, 4)):
            damaged[dice.randrange(len(damaged))] ^= 1 << dice.randrange(8)
        file = tmp_path / f"{number}.zip"
        file.write_bytes(damaged[: dice.randrange(len(damaged))] if number % 3 == 0 else damaged)
        try:
            unpack(file, tmp_path / f"out{number}")
        except SpeechError as error:
            assert "\n" not in str(error)


def test_ctrl_c_leaves_nothing_behind(tmp_path, model_zip, monkeypatch):
    def interrupt(*_arguments):
        raise KeyboardInterrupt

    monkeypatch.setattr(unpacking, "find_in_zip", interrupt)
    with pytest.raises(KeyboardInterrupt):
        unpack_model(model_zip, tmp_path / "models", tmp_path / "proofs.json")
    assert everything_in(tmp_path) == {"models"}


def test_what_a_killed_run_left_is_cleared_away_after_a_day(tmp_path, model_zip):
    old, new = tmp_path / "models" / ".unfinished-old", tmp_path / "models" / ".unfinished-new"
    old.mkdir(parents=True)
    new.mkdir()
    os.utime(old, (1, 1))
    unpack_model(model_zip, tmp_path / "models", tmp_path / "proofs.json")
    assert not old.exists()
    assert new.exists()
