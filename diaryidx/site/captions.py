"""A film's sentences as captions for its player, in WebVTT (https://www.w3.org/TR/webvtt1/)."""

from __future__ import annotations

from collections.abc import Iterable

from diaryidx.records import Sentence

#: A cue must last at least this long to be read at all, in seconds (common practice, no source).
SHORTEST_CUE = 0.5


def as_webvtt(sentences: Iterable[Sentence]) -> str:
    """One cue a sentence, with the words as they are meant."""
    cues = [
        f"{_timestamp(sentence.start)} --> {_timestamp(max(sentence.end, sentence.start + SHORTEST_CUE))}\n"
        f"{_cue_text(sentence.text)}\n"
        for sentence in sentences
        if sentence.text.strip()
    ]
    return "\n".join(["WEBVTT\n", *cues])


def _timestamp(seconds: float) -> str:
    """``hh:mm:ss.ttt`` (WebVTT, 4.3)."""
    thousandths = round(max(0.0, seconds) * 1000)
    hours, rest = divmod(thousandths, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"


def _cue_text(text: str) -> str:
    """A cue's text on one line, with the characters escaped that WebVTT reads as markup (4.2.2)."""
    one_line = " ".join(text.split())
    return one_line.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
