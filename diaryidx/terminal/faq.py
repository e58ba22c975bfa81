"""Answers."""

from __future__ import annotations

from diaryidx.faq.reply import shortened
from diaryidx.records import Answer
from diaryidx.remark_wording import link_words
from diaryidx.terminal.lines import print_line
from diaryidx.wording import clock, how_sure


def show_answer(answer: Answer, most: int, *, has_films: bool) -> None:
    """The best passages with the moment they play from, then the cautions."""
    if not has_films:
        print_line("Nothing is indexed yet; run `diaryidx index` first.")
    elif not answer.answered:
        print_line("No film answers this yet.")
    for number, passage in enumerate(answer.answers[:most], start=1):
        print_line(f"{number}. {passage.title}, {passage.said_on or 'no date'}, from {clock(passage.start)}")
        print_line(f"   “{shortened(passage.text)}”")
        print_line(f"   {how_sure(passage.certainty)}; {passage.why}")
        for link in passage.films:
            print_line(f"   see also {link_words(link)}")
        print_line(f"   plays at /films/{passage.recording}?t={passage.start:.1f} on the site")
    if answer.cautions:
        print_line("Take care:")
        for caution in answer.cautions:
            print_line(f"  - {caution}")
