from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

import numpy as np
import pytest
from media_films import tone

from diaryidx.errors import MediaError
from diaryidx.media.probe import probe


def test_a_film_tells_its_length_tracks_date_and_title(film):
    tags = {"title": "October diary", "creation_time": "2026-10-03T14:22:33.000000Z"}
    found = probe(film("a.mp4", sound=tone(3.5), codec="aac", picture_seconds=4, tags=tags))
    assert found.duration == pytest.approx(4.0, abs=0.05)
    assert (found.has_picture, found.has_sound, found.title) == (True, True, "October diary")
    assert (found.sample_rate, found.channels) == (48_000, 1)
    assert found.container_date == "2026-10-03T14:22:33+00:00"


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("a.aac", {"codec": "aac", "format": "adts"}),  # states no length at all
        ("a.mp3", {"codec": "mp3", "options": {"write_xing": "0"}}),  # libav guesses from the first packet's bit rate
        ("a.ts", {"codec": "aac", "format": "mpegts"}),
        ("a.mka", {"codec": "flac", "options": {"live": "1"}}),  # as a browser records: no length in the header
        ("a.webm", {"codec": "libopus", "options": {"live": "1"}, "picture_seconds": 7, "picture_codec": "libvpx"}),
        ("a.flac", {"codec": "flac"}),
        ("a.wav", {}),
    ],
)
def test_the_length_is_right_whether_or_not_the_container_states_it(film, name, how):
    quiet_then_noisy = np.concatenate([tone(5, level=0.0), np.random.default_rng(1).integers(-9000, 9000, 2 * 48_000)])
    found = probe(film(name, sound=quiet_then_noisy.astype(np.int16), **how))
    assert found.duration == pytest.approx(7.0, abs=0.1)


def test_a_transport_stream_that_begins_late_is_as_long_as_it_plays(film):
    late = film("a.ts", sound=tone(2), codec="aac", format="mpegts", starts=[(3600.0, 0, 96_000)])
    assert probe(late).duration == pytest.approx(2.0, abs=0.1)


def test_a_film_without_sound_is_no_error(film):
    found = probe(film("a.mp4", picture_seconds=2))
    assert (found.has_picture, found.has_sound, found.sample_rate) == (True, False, None)


def test_a_wrong_suffix_does_not_matter(film, tmp_path):
    wav = film("a.wav", sound=tone(1)).rename(tmp_path / "a.mp4")
    assert probe(wav).container == "wav"


def test_cover_art_is_not_a_picture_track(tmp_path):
    import av

    path = tmp_path / "a.m4a"
    with av.open(str(path), "w", format="mp4") as output:
        sound = output.add_stream("aac", rate=48_000, layout="mono")
        cover = output.add_stream("mjpeg", rate=1)
        cover.width, cover.height, cover.pix_fmt = 64, 64, "yuvj420p"
        cover.disposition = 1 << 10
        picture = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
        for packet in cover.encode(picture) + cover.encode(None):
            output.mux(packet)
        frame = av.AudioFrame.from_ndarray(tone(1).reshape(1, -1)[:, :1024], format="s16", layout="mono")
        frame.sample_rate = 48_000
        for packet in sound.encode(frame) + sound.encode(None):
            output.mux(packet)
    assert not probe(path).has_picture


def test_each_unusable_file_gets_one_line_that_names_it_and_says_what_to_do(tmp_path):
    (tmp_path / "empty.mp4").touch()
    (tmp_path / "text.mp4").write_text("only words\n" * 500)
    (tmp_path / "zeros.mp4").write_bytes(bytes(1_000_000))
    (tmp_path / "folder.mp4").mkdir()
    os.mkfifo(tmp_path / "pipe.mp4")
    for name in ("missing.mp4", "empty.mp4", "text.mp4", "zeros.mp4", "folder.mp4", "pipe.mp4", "nul\0.mp4"):
        with pytest.raises(MediaError) as error:
            probe(tmp_path / name)
        assert name.split(".")[0].split("\0")[0] in str(error.value)
        assert "\n" not in str(error.value)
        assert ";" in str(error.value) or "cannot be read" in str(error.value)


def test_an_unreadable_file_is_named(film):
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        path = Path(shutil.copy(film("a.wav", sound=tone(1)), folder))
        path.chmod(0)
        superuser = os.geteuid() == 0  # who may read everything: become nobody for a moment
        try:
            if superuser:
                os.seteuid(65534)
            with pytest.raises(MediaError, match="may not be read"):
                probe(path)
        finally:
            if superuser:
                os.seteuid(0)


def test_odd_names_open_and_are_shown_in_one_line(film, tmp_path):
    for name in (
        'it\'s "new".wav',
        "two\nlines.wav",
        "🏍️ diary.wav",
        "http:example.wav",
        "-i.wav",
        "a%03d.wav",
        "a?b#c.wav",
    ):
        assert probe(film("x.wav", sound=tone(0.5)).rename(tmp_path / name)).duration == pytest.approx(0.5)
    undecodable = os.fsdecode(b"caf\xe9.wav")
    assert probe(film("x.wav", sound=tone(0.5)).rename(tmp_path / undecodable)).has_sound
    with pytest.raises(MediaError) as error:
        probe(tmp_path / "two\nlines.mp4")
    assert "two\\nlines.mp4" in str(error.value)
    with pytest.raises(MediaError) as error:
        probe(tmp_path / os.fsdecode(b"caf\xe8.wav"))
    str(error.value).encode("utf-8")


def test_a_playlist_cannot_make_another_file_or_the_network_be_opened(film, tmp_path):
    film("private.wav", sound=tone(1))
    (tmp_path / "list.mp4").write_text("ffconcat version 1.0\nfile private.wav\n")
    (tmp_path / "list.m3u8").write_text("#EXTM3U\n#EXTINF:1,\nhttp://127.0.0.1:9/a.ts\n#EXT-X-ENDLIST\n")
    for name in ("list.mp4", "list.m3u8"):
        with pytest.raises(MediaError, match="not a video or audio file"):
            probe(Path(tmp_path / name))
