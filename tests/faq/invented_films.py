"""A few invented films that the tests of questions and answers share."""

from __future__ import annotations

from film_store import line, save_film, topic
from sqlite_utils import Database

from diaryidx.records import Entry, ProductLine

PADS = "undo the two caliper bolts then push the pistons back and slide the new pads in"


def save_films(store: Database) -> None:
    """A tutorial with its entry, questions and answers, a diary, and product news, from January to April."""
    save_film(
        store, "pads", "2025-01-10",
        [topic(line("today we change the front brake pads"), line(PADS), line("pump the lever before you ride off"),
               line("that is the brake pads changed"), kind="tutorial", title="Changing front brake pads")],
        kind="tutorial", title="Changing pads",
        entries=[Entry("How to change the front brake pads", PADS, 0.0, 20.0, ("brake pads", "replace"), 0.8)],
    )  # fmt: skip
    save_film(
        store, "questions", "2025-02-10",
        [topic(line("why do my pads squeal"), line("usually it is dust so take them out and give them a clean"),
               line("how often should the chain be adjusted"), line("check it every five hundred miles"),
               kind="tutorial")],
        kind="questions", title="Your questions",
        entries=[
            Entry("Why do my pads squeal", "usually it is dust so take them out and give them a clean", 0.0, 10.0,
                  ("brake pads", "clean"), 0.7),
            Entry("How often should the chain be adjusted", "check it every five hundred miles", 10.0, 20.0,
                  ("chain", "adjust"), 0.7),
        ],
    )  # fmt: skip
    save_film(
        store, "diary", "2025-03-10",
        [topic(line("this one has had its brake pads changed"), line("and the wiring loom is in"),
               line("the cam chain was noisy"), line("there is a drop of oil under it")),
         topic(line("the open day is on the fourth of may"), kind="shop")],
        title="March diary",
    )  # fmt: skip
    save_film(
        store, "news", "2025-04-10",
        [topic(line("the tail tidy is back in stock at thirty nine pounds"), line("and we have new gloves"),
               kind="product")],
        kind="product news", title="Spring news",
        products=[ProductLine("tail tidy", 0.0, 5.0, "the tail tidy is back in stock at thirty nine pounds", price=39.0,
                              currency="GBP", certainty=0.8)],
    )  # fmt: skip
