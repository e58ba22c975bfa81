"""Open a recording safely: only media formats, only this very file, never the network; one clear line on failure."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import av
from av.container import InputContainer
from av.error import FFmpegError
from av.stream import Discard

from diaryidx.errors import MediaError
from diaryidx.media.files import reason, require_file, shown

# Container formats of libavformat that hold real films and sound recordings. Playlists (hls, concat, dash, sdp) and
# devices are left out on purpose: they would open other files, or the network, in the name of this one.
FORMATS = (
    "3dostr,aac,ac3,aiff,amr,amrnb,amrwb,ape,asf,asf_o,au,avi,avr,caf,daud,dhav,dss,dsf,dts,dtshd,dv,eac3,flac,flv,gsm,"
    "gxf,h263,h264,hevc,iff,ircam,ivf,kux,live_flv,loas,m4v,matroska,webm,mjpeg,mov,mp4,m4a,3gp,3g2,mj2,mp3,mpc,mpc8,"
    "mpeg,mpegts,mpegvideo,mtv,mxf,nistsphere,nsv,nut,nuv,obu,ogg,oma,pva,qcp,rl2,rm,sln,sox,tak,tta,ty,voc,vivo,w64,"
    "wav,wtv,wv,xwma"
)

# Larger pictures than 8K (33 megapixels) are taken for damage; this bounds the memory of a decoder. Own choice.
LARGEST_PICTURE = 40_000_000

# Seconds after which a disk that doesn't answer is given up (a network drive that has gone). Own choice.
READ_TIMEOUT = 60.0

# What PyAV raises over damaged files: libav's own errors, and others where a file breaks PyAV's assumptions (a track
# that appears in mid-film is an IndexError in 18.1, a length that overflows a ValueError).
LIBAV_ERRORS = (FFmpegError, ValueError, LookupError, ArithmeticError, MemoryError, RuntimeError, TypeError)

ATTACHED_PICTURE = 1 << 10  # AV_DISPOSITION_ATTACHED_PIC: cover art of a sound file, not a film


@contextmanager
def open_recording(path: Path) -> Iterator[InputContainer]:
    """Open a video or audio file for reading and close it afterwards.

    Whatever the file claims to be, libav may read only this file, and only as one of ``FORMATS``.

    Raises MediaError: missing, empty, unreadable, not a video or audio file.
    """
    require_file(path)
    try:
        container = av.open(
            "file:" + str(path.absolute()),  # "file:" keeps a name such as "http:x.mp4" from being taken for an address
            options={"max_pixels": str(LARGEST_PICTURE)},
            container_options={"format_whitelist": FORMATS, "protocol_whitelist": "file"},
            metadata_errors="replace",
            timeout=(READ_TIMEOUT, READ_TIMEOUT),
        )
    except (*LIBAV_ERRORS, OSError) as error:
        hint = "play it to see whether it is whole, and copy it again if not"
        raise MediaError(f"{shown(path)}: is not a video or audio file ({reason(error)}); {hint}") from None
    try:
        yield container
    finally:
        container.close()


def film_origin(container: InputContainer) -> float:
    """Return the container's time, in seconds, at which a player shows 0:00.

    Browsers and players subtract the container's start time when it is positive (a transport stream begins anywhere)
    and leave negative times, the run-in of a codec, before zero. Source: ffmpeg's own -copyts documentation and
    Chromium's FFmpegDemuxer, both from memory.
    """
    return max((container.start_time or 0) / av.time_base, 0.0)


def sound_stream(container: InputContainer) -> Any | None:
    """Return the sound track that a player would choose and that can be decoded, or None."""
    decodable = [stream for stream in container.streams.audio if stream.codec_context is not None]
    best = container.streams.best("audio")
    return best if best in decodable else next(iter(decodable), None)


def picture_stream(container: InputContainer) -> Any | None:
    """Return the film's picture track that can be decoded, or None; the cover art of a sound file doesn't count."""
    for stream in container.streams.video:
        if stream.codec_context is not None and not int(stream.disposition) & ATTACHED_PICTURE:
            return stream
    return None


def read_only(container: InputContainer, wanted: Any) -> None:
    """Tell libav to skip all tracks but ``wanted``: the pictures of a film are then not even read from disk."""
    for stream in container.streams:
        if stream is not wanted:
            stream.discard = Discard.all
