from __future__ import annotations

import hashlib
import os
import time

import pytest

from diaryidx.errors import MediaError
from diaryidx.media.identity import content_hash, find_recordings, stat_key


def test_recordings_are_found_in_all_subfolders_sorted(tmp_path):
    names = ["a.mp4", "2026/10/b.MOV", "2026/09/c.webm", "notes/d.m4a", "notes/two\nlines.wav"]
    for name in names:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    assert find_recordings(tmp_path) == sorted(tmp_path / name for name in names)


def test_hidden_unfinished_and_foreign_files_are_left_out(tmp_path):
    (tmp_path / ".trash").mkdir()
    for name in (
        *(".a.mp4", "._a.mp4", "a.mp4.part", "a.part.mp4", "a.mp4.crdownload", "a~.mp4", "a.mp4~", "a.tmp.mov"),
        *("jobs.csv", "cover.jpg", "shop.db", ".trash/a.mp4", "mp4"),
    ):
        (tmp_path / name).touch()
    (tmp_path / "folder.mp4").mkdir()
    assert find_recordings(tmp_path) == []


def test_links_do_not_lead_out_of_the_folder_but_the_folder_may_be_a_link(tmp_path):
    outside = tmp_path / "outside"
    inside = tmp_path / "inside"
    outside.mkdir()
    inside.mkdir()
    (outside / "private.mp4").touch()
    (inside / "own.mp4").touch()
    (inside / "link.mp4").symlink_to(outside / "private.mp4")
    (inside / "folder").symlink_to(outside)
    (inside / "round").symlink_to(inside)
    (tmp_path / "recordings").symlink_to(inside)
    assert find_recordings(tmp_path / "recordings") == [tmp_path / "recordings" / "own.mp4"]


def test_a_subfolder_that_cannot_be_read_is_named_and_the_rest_is_found(tmp_path, monkeypatch):
    (tmp_path / "closed").mkdir()
    (tmp_path / "a.mp4").touch()
    scandir = os.scandir

    def refuse(folder):  # a superuser may read every folder, so the refusal is played
        if str(folder).endswith("closed"):
            raise PermissionError(13, "Permission denied", str(folder))
        return scandir(folder)

    monkeypatch.setattr(os, "scandir", refuse)
    problems: list[str] = []
    assert find_recordings(tmp_path, problems.append) == [tmp_path / "a.mp4"]
    assert len(problems) == 1
    assert "closed" in problems[0]
    assert "Permission denied" in problems[0]


def test_a_missing_folder_is_one_clear_line(tmp_path):
    with pytest.raises(MediaError, match="cannot be read as a folder"):
        find_recordings(tmp_path / "nowhere")


def test_two_thousand_films_of_250_megabytes_are_listed_in_no_time(tmp_path):
    for number in range(2_000):
        with (tmp_path / f"{number:04}.mp4").open("wb") as file:
            file.truncate(250_000_000)
    began = time.perf_counter()
    found = find_recordings(tmp_path)
    keys = {stat_key(path) for path in found}
    assert time.perf_counter() - began < 0.5
    assert len(found) == 2_000
    assert {size for size, _time in keys} == {250_000_000}


def test_a_hash_follows_the_bytes_and_not_the_name(tmp_path):
    content = os.urandom(3_000_000)
    (tmp_path / "a.mp4").write_bytes(content)
    (tmp_path / "b.mp4").write_bytes(content)
    (tmp_path / "c.mp4").write_bytes(content[:-1] + b"?")
    assert content_hash(tmp_path / "a.mp4") == content_hash(tmp_path / "b.mp4") == hashlib.sha256(content).hexdigest()
    assert content_hash(tmp_path / "c.mp4") != content_hash(tmp_path / "a.mp4")
    assert stat_key(tmp_path / "a.mp4")[0] == 3_000_000
    for call in (content_hash, stat_key):
        with pytest.raises(MediaError, match=r"gone\.mp4"):
            call(tmp_path / "gone.mp4")
