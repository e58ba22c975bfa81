"""The front page: one search box, the bikes in the shop, the newest films, and questions answered on film."""

from __future__ import annotations

import sqlite3

from diaryidx.shapes import entry_json, recording_json
from diaryidx.shop import Shop
from diaryidx.site.context import vocabulary_of
from diaryidx.site.films import film_cards
from diaryidx.site.overview import build_cards, with_open_lines
from diaryidx.site.page import Asked, Page
from diaryidx.store import reading

NEWEST_FILMS, BUILDS_SHOWN, QUESTIONS_SHOWN = 6, 12, 8


def home_page(db: sqlite3.Connection, shop: Shop, _asked: Asked) -> Page:
    """The front page; an empty shop gets told what to do next instead."""
    films = reading.recordings(db)
    cards = [card for card in build_cards(db) if card.in_the_shop]
    shown = with_open_lines(db, cards[:BUILDS_SHOWN], vocabulary_of(db, shop))
    entries = reading.entries(db)
    values = {
        "films": film_cards(db, films[:NEWEST_FILMS]),
        "film_count": len(films),
        "cards": shown,
        "card_count": len(cards),
        "entries": entries[:QUESTIONS_SHOWN],
        "entry_count": len(entries),
        "has_builds": bool(reading.builds(db)),
        "recordings_folder": str(shop.recordings),
        "job_book": str(shop.job_book) if shop.watches_job_book else None,
        "failed": reading.failed_files(db),
    }
    data = {
        "shop": shop.settings.name,
        "films": [recording_json(film) for film in films[:NEWEST_FILMS]],
        "builds": [card.as_json() for card in shown],
        "questions": [entry_json(entry) for entry in entries[:QUESTIONS_SHOWN]],
    }
    return Page("home.html", shop.settings.name, values, data, "home")
