"""Questions answered on film, and one of them: the answer, the film from there, its cautions, a reply to paste."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from diaryidx.faq.reply import reply as reply_to_customer
from diaryidx.records import Answer, Entry, Passage, Recording, Sentence
from diaryidx.shapes import entry_json
from diaryidx.shop import Shop
from diaryidx.site.addresses import captions_address, film_address, media_address
from diaryidx.site.context import vocabulary_of
from diaryidx.site.films import FilmCard, spoken_lines
from diaryidx.site.other_films import other_film
from diaryidx.site.overview import film_titles
from diaryidx.site.page import Asked, BadAddress, Page
from diaryidx.site.safety import cautions_of
from diaryidx.site.wording import day_words, sentence_words
from diaryidx.store import reading
from diaryidx.wording import clock, doubt

#: More than this nobody reads through; the rest is found by searching.
QUESTIONS_SHOWN = 200


def questions_page(db: sqlite3.Connection, _shop: Shop, _asked: Asked) -> Page:
    """Every question that a film answers, latest film first."""
    entries = reading.entries(db)
    shown = entries[:QUESTIONS_SHOWN]
    titles = film_titles(db, [entry.recording for entry in shown])
    rows = [
        {
            "entry": entry,
            "question": sentence_words(entry.question),
            "film": titles[entry.recording or ""][0],
            "day": day_words(titles[entry.recording or ""][1]),
            "length": clock(entry.end - entry.start),
            "doubt": doubt(entry.certainty),
        }
        for entry in shown
    ]
    data = {"questions": [entry_json(entry) for entry in entries]}
    return Page("questions.html", "Questions", {"rows": rows, "more": len(entries) - len(shown)}, data, "questions")


def question_page(db: sqlite3.Connection, shop: Shop, asked: Asked) -> Page:
    """One question with its answer.

    :raises BadAddress: the address does not name it by its number.
    """
    number = asked.names["entry"]
    if not (number.isascii() and number.isdigit() and len(number) < 15):
        raise BadAddress(f"questions go by number, such as /questions/1, not “{number[:40]}”")
    entry = reading.entry(db, int(number))
    film = reading.recording(db, entry.recording or "")
    cautions = cautions_of(vocabulary_of(db, shop), entry.terms, (entry.question, entry.answer))
    answer = Answer(True, (passage_of(entry, film),), tuple(cautions))
    reply = reply_to_customer(sentence_words(entry.question), answer, shop.settings.name, reading.builds(db))
    values = {
        "entry": entry,
        "question": sentence_words(entry.question),
        "answer": sentence_words(entry.answer),
        "lines": spoken_lines(film, answering(reading.sentences(db, film.id), entry)),
        "others": [other_film(link) for link in reading.film_links(db, film.id, entry.start, entry.end)],
        "doubt": doubt(entry.certainty),
        "film": film,
        "card": FilmCard(film),
        "media": media_address(film.id),
        "captions": captions_address(film.id),
        "film_from_here": film_address(film.id, entry.start),
        "at": clock(entry.start),
        "until": clock(entry.end),
        "cautions": cautions,
        "reply": reply,
    }
    data = {**entry_json(entry), "cautions": cautions, "reply": reply}
    return Page("question.html", sentence_words(entry.question), values, data, "questions")


def answering(sentences: Sequence[Sentence], entry: Entry) -> list[Sentence]:
    """The sentences of a film that an entry is made of: those that lie in its stretch for the greater part."""
    return [one for one in sentences if entry.start <= (one.start + one.end) / 2 <= entry.end]


def passage_of(entry: Entry, film: Recording) -> Passage:
    """An entry as the passage that answers its own question."""
    why = f"answers “{entry.question}”"
    return Passage(film.id, film.title, entry.start, entry.end, entry.answer, film.date, entry.certainty, why, entry.id)
