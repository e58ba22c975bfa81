"""How words are kept: one compact JSON array a sentence, since there are millions of them."""

from __future__ import annotations

import json
from collections.abc import Iterable

from diaryidx.records import Word


def pack_words(words: Iterable[Word]) -> str:
    """Words as JSON: ``[[word, start, end, certainty, estimated, speaker], …]``, times in seconds, to milliseconds."""
    return json.dumps(
        [
            [
                word.word,
                round(word.start, 3),
                round(word.end, 3),
                None if word.certainty is None else round(word.certainty, 4),
                int(word.estimated),
                word.speaker,
            ]
            for word in words
        ],
        ensure_ascii=False,
        separators=(",", ":"),
    )


def unpack_words(packed: str) -> tuple[Word, ...]:
    """The words that `pack_words` packed."""
    return tuple(
        Word(word, start, end, certainty, bool(estimated), speaker)
        for word, start, end, certainty, estimated, speaker in json.loads(packed)
    )
