"""Our ranking against rank-bm25's BM25Okapi, an independent implementation of Okapi BM25 (Robertson et al., TREC-3)."""

from __future__ import annotations

import random

import pytest
from film_store import line, save_film, topic
from rank_bm25 import BM25Okapi
from sqlite_utils import Database

from diaryidx.faq.matching import match_any
from diaryidx.faq.search import search_films
from diaryidx.store import reading
from diaryidx.vocabulary.loader import Vocabulary

# Words that the Porter stemmer leaves alone and that are no trade terms, so that both see the same tokens.
WORDS = [
    "kettl",
    "moor",
    "lamp",
    "fern",
    "hill",
    "cloud",
    "barn",
    "pond",
    "crow",
    "moss",
    "lark",
    "wren",
    "elm",
    "oak",
    "ash",
    "stone",
    "path",
    "gate",
    "wall",
    "burn",
]
QUERIES = [["moor", "lamp"], ["crow"], ["elm", "oak", "ash"], ["pond", "wall"], ["fern", "gate", "burn"], ["lark"]]


@pytest.fixture
def corpus(store: Database) -> list[list[str]]:
    chance = random.Random(11)
    weights = [1 / (place + 1) for place in range(len(WORDS))]
    texts = [chance.choices(WORDS, weights, k=chance.randint(4, 25)) for _ in range(120)]
    save_film(store, "film", "2025-01-05", [topic(*(line(" ".join(text)) for text in texts))])
    return texts


@pytest.mark.parametrize("query", QUERIES)
def test_full_text_search_ranks_as_okapi_does(store: Database, corpus: list[list[str]], query: list[str]) -> None:
    # SQLite documents k1 = 1.2 and b = 0.75 (https://www.sqlite.org/fts5.html, section 5.1.1).
    okapi = BM25Okapi(corpus, k1=1.2, b=0.75).get_scores(query)
    hits = reading.search_sentences(store.conn, match_any(query), 200)
    assert hits
    ours = {hit.place: -hit.rank for hit in hits}
    assert set(ours) == {place for place, text in enumerate(corpus) if set(query) & set(text)}
    # Text and heard words are both indexed with weights, which stretches term frequencies: the order may differ in
    # near-ties, so pairs are counted. Of those that Okapi tells apart clearly, nine in ten must be in the same order.
    clear = [(a, b) for a in ours for b in ours if okapi[a] > okapi[b] * 1.1 + 1e-9]
    same = sum(ours[a] > ours[b] for a, b in clear)
    assert same >= 0.9 * len(clear)
    # The best of one ranking is among the best of the other.
    best = max(ours, key=lambda place: ours[place])
    assert sum(okapi[place] > okapi[best] for place in ours) <= 2


def test_the_search_box_keeps_that_order_among_sentences_with_all_words(
    store: Database, corpus: list[list[str]], vocabulary: Vocabulary
) -> None:
    query = ["moor", "lamp"]
    okapi = BM25Okapi(corpus, k1=1.2, b=0.75).get_scores(query)
    places = [hit.place for hit in search_films(store.conn, "moor lamp", vocabulary, 50)]
    both = [place for place in places if set(query) <= set(corpus[place])]
    assert places[: len(both)] == both
    clear = [(a, b) for a in both for b in both if okapi[a] > okapi[b] * 1.1]
    assert sum(both.index(a) < both.index(b) for a, b in clear) >= 0.85 * len(clear)
