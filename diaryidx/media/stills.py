"""Take one picture out of a film."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.codec import CodecContext
from av.container import InputContainer
from av.video.frame import VideoFrame

from diaryidx.errors import MediaError
from diaryidx.media.files import shown
from diaryidx.media.opening import LARGEST_PICTURE, LIBAV_ERRORS, film_origin, open_recording, picture_stream, read_only

# Own choices: how far a still is decoded from the picture it is built on before the best so far is taken.
MOST_FRAMES = 3_000
MOST_SECONDS = 20.0
SEEKS = (0.0, 5.0, 20.0)  # seconds before the wanted time to seek to: some formats land behind where they should
CLOSE = 1e-4  # seconds that two times may differ by rounding
QUALITY = 4  # of the JPEG encoder's scale, 2 (best) to 31: common practice, no source


def still(path: Path, seconds: float, width: int = 640) -> bytes:
    """Return the picture that the film shows at a time, as a JPEG.

    Args:
        path: a video file.
        seconds: from the start of the film; before its first picture the first is taken, after its end the last.
        width: of the JPEG in pixels; its height follows the film's own shape, turned upright as a player shows it. A
            film that is narrower is not enlarged.

    Raises MediaError: the file cannot be opened, has no pictures, or none can be decoded.
    """
    with open_recording(path) as container:
        stream = picture_stream(container)
        if stream is None:
            raise MediaError(f"{shown(path)}: has no picture, only sound")
        frame = _frame_at(container, stream, max(seconds, 0.0))
        if frame is None:
            raise MediaError(
                f"{shown(path)}: no picture can be decoded at {seconds:.1f} seconds; the film may be damaged"
            )
        try:
            return _jpeg(frame, width, stream.sample_aspect_ratio)
        except LIBAV_ERRORS as error:
            raise MediaError(f"{shown(path)}: its picture cannot be converted ({error})") from None


def _frame_at(container: InputContainer, stream: Any, seconds: float) -> VideoFrame | None:
    """Return the last frame that begins at or before ``seconds``, or the first there is."""
    read_only(container, stream)
    stream.thread_type = "AUTO"
    stream.codec_context.options = {"max_pixels": str(LARGEST_PICTURE)}
    wanted = film_origin(container) + seconds
    for back in SEEKS:
        found = _search(container, stream, wanted, wanted - back)
        if found is not None and (found.time is None or found.time <= wanted + CLOSE):
            return found
    return _search(container, stream, wanted, None)


def _search(container: InputContainer, stream: Any, wanted: float, seek: float | None) -> VideoFrame | None:
    """Decode forward, from the key frame before ``seek`` or from the beginning, until the frame shown at ``wanted``."""
    try:
        if seek is None:
            container.seek(0)
        else:
            container.seek(math.floor(seek / stream.time_base), stream=stream)
    except LIBAV_ERRORS:
        if seek is not None:
            return None  # the caller tries again from the beginning
    best: VideoFrame | None = None
    give_up = time.monotonic() + MOST_SECONDS
    for number, frame in enumerate(_decoded(container, stream)):
        if best is not None and frame.time is not None and frame.time > wanted + CLOSE:
            break
        best = frame
        if number >= MOST_FRAMES or time.monotonic() > give_up:
            break
    return best


def _decoded(container: InputContainer, stream: Any) -> Iterator[VideoFrame]:
    """Yield the frames that decode; damaged ones are left out, and a read error ends it."""
    try:
        for packet in container.demux(stream):
            try:
                frames = packet.decode()
            except LIBAV_ERRORS:
                continue
            yield from (frame for frame in frames if isinstance(frame, VideoFrame))
    except LIBAV_ERRORS:
        return


def _jpeg(frame: VideoFrame, width: int, aspect: Fraction | None) -> bytes:
    """Scale, turn upright and encode one frame. ``aspect`` is the shape of a pixel, width by height."""
    shape = float(aspect) if aspect else 1.0
    shown_width, shown_height = frame.width * (shape if 0.1 < shape < 10 else 1.0), float(frame.height)
    turns = round((getattr(frame, "rotation", 0) or 0) / 90) % 4
    across = shown_height if turns % 2 else shown_width
    scale = min(width / across, 1.0)
    size = (max(round(shown_width * scale), 2), max(round(shown_height * scale), 2))
    pixels = frame.to_ndarray(format="rgb24", width=size[0], height=size[1])
    upright = VideoFrame.from_ndarray(np.ascontiguousarray(np.rot90(pixels, turns), np.uint8), format="rgb24")
    encoder: Any = CodecContext.create("mjpeg", "w")
    encoder.width, encoder.height, encoder.pix_fmt = upright.width, upright.height, "yuvj420p"
    encoder.time_base = Fraction(1, 25)
    encoder.options = {"qmin": str(QUALITY), "qmax": str(QUALITY)}
    picture = upright.reformat(format="yuvj420p", dst_color_range=av.video.reformatter.ColorRange.JPEG)
    picture.pts = 0
    return b"".join(bytes(packet) for packet in (*encoder.encode(picture), *encoder.encode(None)))
