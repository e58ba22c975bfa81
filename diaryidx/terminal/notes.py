"""Notes, and what was understood in one."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.builds.wording import STATUS_WORDS, describe
from diaryidx.records import Build, Note, Statement
from diaryidx.terminal.lines import print_line


def show_notes(notes: Sequence[Note]) -> None:
    """Notes with their numbers, the undone ones marked."""
    if not notes:
        print_line('No notes yet; write one with `diaryidx note BUILD "what was done"`.')
    for note in notes:
        undone = f"  (undone by {note.undone_by})" if note.undone_at else ""
        print_line(f"{note.id:>5}  {note.date}  job {note.build}, {note.author}{undone}: {note.text}")
        for photo in note.photos:
            print_line(f"{'':>5}  photo: {photo.name}, kept as photos/{photo.file}")


def show_added_note(note: Note, build: Build, stated: Sequence[Statement]) -> None:
    """What was kept, and what was understood in it."""
    print_line(f"Note {note.id} is kept with job {build.job_number}, {build.name}, {note.date}.")
    for one in stated:
        print_line(f"  {STATUS_WORDS[one.status]}: {describe(one)}")
    for photo in note.photos:
        print_line(f"  photo: {photo.name}, kept as photos/{photo.file}")
