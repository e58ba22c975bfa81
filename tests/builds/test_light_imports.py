from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOMS = (
    "diaryidx.builds.relinking, diaryidx.builds.finding, diaryidx.builds.history, diaryidx.builds.job_book, "
    "diaryidx.builds.job_import, diaryidx.builds.gaps, diaryidx.builds.developments, diaryidx.builds.voice_notes, "
    "diaryidx.builds.review, diaryidx.faq.search, diaryidx.faq.reply, diaryidx.roundup.month, diaryidx.roundup.render"
)


def test_these_rooms_load_neither_spacy_nor_vosk_so_that_the_site_stays_light() -> None:
    code = f"import sys, {ROOMS}\nprint(sorted(name for name in ('spacy', 'vosk', 'av') if name in sys.modules))"
    root = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=root, check=True)
    assert done.stdout.strip() == "[]"
