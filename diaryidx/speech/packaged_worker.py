"""The process in which the packaged engine listens: samples in, text out, over pipes.

Run as a program by ``packaged_engine``; it imports nothing of this package. A request is four bytes of length (little
endian) and that many bytes of 16 kHz mono int16 samples; a reply is one line of JSON with "text" or "error". It ends
when its input does, without freeing the recogniser: that ends the process in a crash (moonshine-voice 0.0.49).
"""

from __future__ import annotations

import json
import os
import sys
from typing import Any, BinaryIO

SAMPLE_RATE = 16_000  # hertz
MODEL = "tiny-en"

# Its own cutting is off: it cuts every ten seconds, also within words, and its detector of speech and its speaker
# numbers depend on what was heard before.
OPTIONS = {"vad_threshold": 0, "identify_speakers": "false", "return_audio_data": "false"}


def load() -> Any:
    """Return the recogniser."""
    from moonshine_voice import ModelArch, Transcriber, get_model_path  # type: ignore[import-untyped, import-not-found, unused-ignore]

    return Transcriber(str(get_model_path(MODEL)), ModelArch.TINY, options=OPTIONS)


def serve(requests: BinaryIO, replies: BinaryIO) -> None:
    """Answer requests until there are no more."""
    import numpy as np

    recogniser = load()
    reply(replies, text="")  # ready
    while header := requests.read(4):
        samples = np.frombuffer(requests.read(int.from_bytes(header, "little")), np.int16)
        lines = recogniser.transcribe_without_streaming((samples / np.float32(32768)).tolist(), SAMPLE_RATE).lines
        reply(replies, text=" ".join(line.text for line in lines))


def reply(replies: BinaryIO, **content: str) -> None:
    """Write one line of JSON."""
    replies.write(json.dumps(content).encode() + b"\n")
    replies.flush()


def main() -> None:
    """Serve the pipes that this process was given; whatever libraries print goes to the error output."""
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    try:
        serve(sys.stdin.buffer, replies)
    except Exception as error:  # whatever it is, the other end tells it
        reply(replies, error=f"{type(error).__name__}: {error}")
    os._exit(0)


if __name__ == "__main__":
    main()
