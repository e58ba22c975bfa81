"""What is hidden from those who may not know whose bike is whose."""

from __future__ import annotations

import time

import pytest

from diaryidx.builds.private import hidden_words
from diaryidx.records import Build

BOOK = (
    Build("1", "Ada Quill", registration="KL19 XYZ", vin="1M8GDM9AXKP042788"),
    Build("2", "Mr Tom Black", registration="A 1"),
    Build("3", "Jörg O'Dell", registration="TRN 409"),
)
HIDDEN = hidden_words(BOOK, ("Wes Quill",))


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("the otter for Ada Quill is done", "the otter for the customer is done"),
        ("ada's tank, and ADA QUILL'S seat", "the customer's tank, and the customer's seat"),
        ("Wes Quill rang Ada", "Wes Quill rang the customer"),
        ("painted satin black by Tom", "painted satin black by the customer"),
        ("for Mr Black and for Tom Black", "for the customer and for the customer"),
        ("jörg o'dell came by", "the customer came by"),
        ("plate kl19-xyz or KL 19 XYZ, not KL19 XYA", "plate [number] or [number], not KL19 XYA"),
        ("VIN 1M8GDM9AXKP042788.", "VIN [number]."),
        ("nothing of anybody, 12 Nm", "nothing of anybody, 12 Nm"),
    ],
)
def test_names_and_numbers_are_taken_out_and_nothing_else(text: str, left: str) -> None:
    assert HIDDEN.out_of(text) == left


def test_a_page_keeps_its_addresses_and_loses_what_is_read() -> None:
    page = '<a href="/films/ada-quill" title="Ada Quill&#39;s bike">Jörg O&#39;Dell</a> <b>fish &amp; chips</b>'
    assert HIDDEN.out_of_page(page) == (
        '<a href="/films/ada-quill" title="the customer&#x27;s bike">the customer</a> <b>fish &amp; chips</b>'
    )


def test_data_keeps_what_leads_to_films_and_jobs() -> None:
    data = {
        "build": {"job_number": "1", "customer": "Ada Quill", "vin": None},
        "recording": "ada-quill",
        "n": [1, "Ada"],
    }
    assert HIDDEN.out_of_data(data) == {
        "build": {"job_number": "1", "customer": None, "vin": None},
        "recording": "ada-quill",
        "n": [1, "the customer"],
    }


def test_a_large_page_of_a_large_shop_takes_a_moment() -> None:
    book = tuple(Build(str(n), f"Given{n} Family{n}", registration=f"AB{n:04d} X") for n in range(1000))
    hidden = hidden_words(book)
    page = "<p>the seat for given7 is done and AB0033 X too, the rest of it is talk</p>" * 2000
    began = time.process_time()
    hidden.out_of_page(page)
    assert time.process_time() - began < 5


def hidden(text: str, *customers: str, surnames: bool = False) -> str:
    rows = tuple(Build(str(number), customer, "Ostler", "Marten") for number, customer in enumerate(customers))
    return hidden_words(rows, surnames=surnames).out_of(text)


@pytest.mark.parametrize("surnames", [False, True])
@pytest.mark.parametrize(
    "customer", ["Siobhan O’Dorley and Piet van der Wyck", "Our own", "See notes", "Shop", "Tolley & Sons Ltd", "n/a"]
)
def test_small_words_of_a_customers_cell_are_nobodys_name(customer: str, surnames: bool) -> None:
    text = "see the van and our shop notes: top end and engine, not the sons of Ltd der road"
    assert hidden(text, customer, surnames=surnames) == text


@pytest.mark.parametrize(
    ("customer", "text", "left"),
    [
        ("Renée Dvořák", "new seat for renee, and dvorak's tank", "new seat for the customer, and the customer's tank"),
        ("Hans Müller", "mueller, Muller and the Müllers", "the customer, the customer and the the customer"),
        ("Anna Quill-Harbin", "quill and Mrs Harbin", "the customer and the customer"),
        ("Siobhan O’Dorley", "O'Dorley or odorley", "the customer or the customer"),
        ("Black, Mark", "Mark Black has a mark on the black tank", "the customer has a mark on the black tank"),
        ("Ida Tolm and Piet van der Wyck", "Piet van der Wyck and Ida", "the customer and the customer"),
    ],
)
def test_a_name_is_known_however_it_is_spelt(customer: str, text: str, left: str) -> None:
    assert hidden(text, customer) == left


def test_numbers_are_known_with_what_people_take_for_each_other_and_by_their_end() -> None:
    row = Build("1", "Ida Tolm", "Ostler", "Marten", registration="BD51 OOX", vin="1M8GDM9AXKP042788")
    assert hidden_words((row,)).out_of("BD51 00X, frame ends 042788, 1042 miles") == (
        "[number], frame ends [number], 1042 miles"
    )
