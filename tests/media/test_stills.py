from __future__ import annotations

import io

import av
import numpy as np
import pytest
from media_films import tone

from diaryidx.errors import MediaError
from diaryidx.media.stills import still


def picture(jpeg: bytes) -> np.ndarray:
    """Decode a JPEG; its bytes must be a whole one (ITU-T T.81: begins with SOI FFD8, ends with EOI FFD9)."""
    assert (jpeg[:2], jpeg[-2:]) == (b"\xff\xd8", b"\xff\xd9")
    with av.open(io.BytesIO(jpeg)) as container:
        return next(container.decode(video=0)).to_ndarray(format="rgb24")


@pytest.mark.parametrize(
    ("name", "codec"), [("a.mp4", "libx264"), ("a.webm", "libvpx"), ("a.avi", "mpeg4"), ("a.ts", "mpeg2video")]
)
def test_the_picture_is_the_one_shown_at_that_time(film, name, codec):
    fps = 25 if codec == "mpeg2video" else 10
    path = film(name, picture_seconds=9, picture_codec=codec, fps=fps)
    for seconds, shown in ((0.0, 0), (0.95, 0), (1.0, 1), (4.5, 4), (7.99, 7), (8.5, 8), (500.0, 8), (-3.0, 0)):
        # the film's grey of each second (see media_films), within what a lossy codec may change
        assert picture(still(path, seconds)).mean() == pytest.approx(20 + 20 * shown, abs=5), seconds


def test_a_wide_film_is_scaled_down_and_keeps_its_shape(tmp_path):
    path = tmp_path / "wide.mp4"
    with av.open(str(path), "w") as output:
        track = output.add_stream("mpeg4", rate=10)
        track.width, track.height, track.pix_fmt = 1280, 720, "yuv420p"
        frame = av.VideoFrame.from_ndarray(np.full((720, 1280, 3), 90, np.uint8), format="rgb24")
        for packet in track.encode(frame) + track.encode(None):
            output.mux(packet)
    assert picture(still(path, 0, width=320)).shape == (180, 320, 3)


def test_a_phone_film_held_upright_is_turned_upright(film, tmp_path):
    """The rotation lies in the track header's matrix (ISO/IEC 14496-12, tkhd); here it is set as a phone would."""
    path = film("a.mp4", picture_seconds=1, picture_codec="libx264")
    data = bytearray(path.read_bytes())
    matrix = data.index(b"tkhd") + 4 + 40
    quarter_turn = [0, 0x10000, 0, -0x10000, 0, 0, 0, 0, 0x40000000]  # 90 degrees clockwise
    data[matrix : matrix + 36] = b"".join(value.to_bytes(4, "big", signed=True) for value in quarter_turn)
    path.write_bytes(data)
    assert picture(still(path, 0)).shape == (64, 48, 3)


def test_which_way_up_a_turned_film_is(tmp_path):
    path = tmp_path / "a.mp4"
    with av.open(str(path), "w") as output:
        track = output.add_stream("libx264", rate=10)
        track.width, track.height, track.pix_fmt = 64, 48, "yuv420p"
        half = np.zeros((48, 64, 3), np.uint8)
        half[:, :32] = 255  # white on the left: on the top, once turned clockwise
        for packet in track.encode(av.VideoFrame.from_ndarray(half, format="rgb24")) + track.encode(None):
            output.mux(packet)
    data = bytearray(path.read_bytes())
    matrix = data.index(b"tkhd") + 4 + 40
    quarter_turn = [0, 0x10000, 0, -0x10000, 0, 0, 0, 0, 0x40000000]
    data[matrix : matrix + 36] = b"".join(value.to_bytes(4, "big", signed=True) for value in quarter_turn)
    path.write_bytes(data)
    upright = picture(still(path, 0))
    assert upright[:28].mean() > 200
    assert upright[-28:].mean() < 55


def test_sound_alone_has_no_picture(film):
    with pytest.raises(MediaError, match="has no picture"):
        still(film("a.wav", sound=tone(1)), 0)


def test_a_damaged_film_gives_the_best_picture_there_is_or_one_clear_line(film):
    path = film("a.mkv", picture_seconds=9, picture_codec="mpeg4")
    data = bytearray(path.read_bytes())
    data[len(data) // 2 :] = bytes(len(data) - len(data) // 2)
    path.write_bytes(data)
    assert picture(still(path, 8.5)).shape == (48, 64, 3)
