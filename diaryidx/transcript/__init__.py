"""Words into sentences, spoken numbers, and the shop's own corrections of what was misheard. No spaCy here."""

from __future__ import annotations

from diaryidx.transcript.corrections import apply_corrections
from diaryidx.transcript.sentences import sentences

__all__ = ["apply_corrections", "sentences"]
