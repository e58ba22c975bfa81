"""Review in a real database: what is asked, what decisions do, and that they hold."""

from __future__ import annotations

from dataclasses import replace

import pytest
from film_store import fact, line, save_film, topic
from sqlite_utils import Database

from diaryidx.builds import review
from diaryidx.builds.known import shop_on_the_day
from diaryidx.builds.relinking import relink
from diaryidx.errors import DecidedBefore, NotFound, WrongUse
from diaryidx.records import Build, Reading, Segment, Sentence, Subject
from diaryidx.store import decisions, reading, writing

BOOK = [
    Build("201", "Ada Quill", "Tarnbeck", "Otter 500", asked_for="tan seat, satin black rims"),
    Build("202", "Bram Thistle", "Orrin", "Heron 900", nickname="Bramble", asked_for="red tank"),
    Build("203", "Cleo Wainfleet", "Fell & Moss", "Stoat", asked_for="service"),
]
YOKES = line("the yokes are polished", fact("done", "yokes", task="polish"))
CARBS = line("carbs are rebuilt", fact("in progress", "carburettor", task="rebuild"))
HABIT = line("we always grease them", fact("usual practice", "wheel bearings"))
TALK = line("it was a wet month")


@pytest.fixture
def shop(store: Database) -> Database:
    """A walk-round: one bike that is named, one that is not, and talk."""
    writing.save_builds(store, BOOK)
    save_film(
        store,
        "nov",
        "2025-11-03",
        [topic(line("bramble next"), YOKES), topic(line("this one here"), CARBS, HABIT), topic(TALK, kind="shop")],
    )
    relink(store)
    return store


def links(db: Database, film: str = "nov") -> list[tuple[int, int, str | None]]:
    return [
        (one.first, one.last, one.build if one.subject.kind == "build" else one.subject.kind)
        for one in reading.segments(db.conn, recording_id=film)
    ]


def build_of(db: Database, part: str) -> str | None:
    return next(one.build for one in reading.statements(db.conn) if one.part == part)


def test_what_is_in_doubt_is_asked_and_what_is_sure_or_no_bike_is_not(shop: Database) -> None:
    (item,) = review.items(shop.conn)
    assert (item.id, item.build, item.statements, item.file) == ("nov@10.0", None, 1, "nov.mp4")
    assert item.text == "this one here carbs are rebuilt we always grease them"


def test_more_doubt_times_more_statements_comes_first(store: Database) -> None:
    writing.save_builds(store, BOOK)
    facts = [line(f"the {part} is polished", fact("done", part, task="polish")) for part in ("frame", "horn", "stand")]
    save_film(store, "a", "2025-11-03", [topic(line("here")), topic(line("this one"), CARBS), topic(*facts)])
    relink(store)
    assert [item.start for item in review.items(store.conn)] == [15.0, 5.0, 0.0]
    assert [item.start for item in review.items(store.conn, limit=1)] == [15.0]


def test_an_assigned_build_holds_for_the_stretch_and_its_statements_but_no_habit(shop: Database) -> None:
    made = review.decide(shop, "nov@10.0", "assign", "Ada", "203")
    assert (made.kind, made.start, made.end, made.actor, made.what) == ("link", 10.0, 25.0, "Ada", {"build": "203"})
    assert made.evidence["text"].startswith("this one here")
    relink(shop)
    assert links(shop) == [(0, 1, "202"), (2, 4, "203"), (5, 5, "shop")]
    assert (build_of(shop, "carburettor"), build_of(shop, "wheel bearings")) == ("203", None)
    decided = reading.segments(shop.conn, recording_id="nov")[1]
    assert (decided.certainty, decided.evidence) == (1.0, (f"decided by Ada on {made.made_at[:10]}",))
    assert review.items(shop.conn) == []


def test_undone_it_is_as_it_was_and_both_are_kept(shop: Database) -> None:
    before = reading.segments(shop.conn), reading.statements(shop.conn)
    for action, value in (("assign", "203"), ("not-a-build", None), ("split", "14"), ("join", None)):
        made = review.decide(shop, "nov@10.0", action, "Ada", value)  # type: ignore[arg-type]
        relink(shop)
        assert reading.segments(shop.conn) != before[0], action
        undone = review.undo(shop, "Bram", made.id)
        relink(shop)
        after = reading.segments(shop.conn), reading.statements(shop.conn)
        assert [_plain(one) for one in after[0]] == [_plain(one) for one in before[0]], action
        assert [(one.part, one.build, one.subject) for one in after[1]] == [
            (one.part, one.build, one.subject) for one in before[1]
        ]
        assert (undone.undone_by, undone.actor) == ("Bram", "Ada")
    assert len(decisions.decisions(shop.conn)) == 4


def _plain(segment: object) -> object:
    return replace(segment, id=None)  # type: ignore[type-var]


def test_what_it_may_be_about_is_still_told_once_it_is_decided_and_when_that_is_undone(shop: Database) -> None:
    before = review.item(shop.conn, "nov@10.0").candidates
    assert before
    made = review.decide(shop, "nov@10.0", "not-a-build", "Ada")
    relink(shop)
    assert review.item(shop.conn, "nov@10.0").candidates == before
    review.undo(shop, "Ada", made.id)
    assert review.item(shop.conn, "nov@10.0").candidates == before


def test_a_refused_link_stays_refused_and_a_refused_candidate_is_not_offered_again(shop: Database) -> None:
    review.decide(shop, "nov@0.0", "refuse", "Ada")
    assert links(shop)[0] == (0, 1, None)
    relink(shop)
    relink(shop)
    assert links(shop)[0] == (0, 1, None)
    item = review.item(shop.conn, "nov@0.0")
    assert "202" not in {one.job_number for one in item.candidates}
    assert item.id in {one.id for one in review.items(shop.conn)}


def test_accepting_makes_a_link_of_the_machine_a_fact(shop: Database) -> None:
    assert review.decide(shop, "nov@0.0", "accept", "Ada").what == {"build": "202"}
    writing.save_builds(shop, [Build("202", "Bram Thistle", "Orrin", "Heron 900")])  # "Bramble" is no name any more
    relink(shop)
    assert links(shop)[0] == (0, 1, "202")


def test_not_about_a_build_takes_the_statements_from_every_build(shop: Database) -> None:
    review.decide(shop, "nov@0.0", "not-a-build", "Ada")
    relink(shop)
    assert links(shop)[0] == (0, 1, "shop")
    assert build_of(shop, "yokes") is None


def test_talk_can_be_tied_to_a_build(shop: Database) -> None:
    review.decide(shop, "nov@25.0", "assign", "Ada", "201")
    relink(shop)
    assert links(shop)[2] == (5, 5, "201")


def test_split_and_join_move_statements_with_their_sentences(shop: Database) -> None:
    review.decide(shop, "nov@0.0", "split", "Ada", "0:05")
    review.decide(shop, "nov@5.0", "assign", "Ada", "201")
    relink(shop)
    assert links(shop) == [(0, 0, "202"), (1, 1, "201"), (2, 4, None), (5, 5, "shop")]
    assert build_of(shop, "yokes") == "201"
    review.decide(shop, "nov@5.0", "join", "Ada")
    relink(shop)
    assert links(shop) == [(0, 0, "202"), (1, 4, "201"), (5, 5, "shop")]
    assert build_of(shop, "carburettor") == "201"


def test_a_decided_link_is_a_fact_for_films_that_come_later(store: Database) -> None:
    writing.save_builds(store, BOOK)
    save_film(store, "a", "2025-11-03", [topic(line("this one here"), YOKES, CARBS)])
    save_film(store, "b", "2025-12-03", [topic(line("and this one"), YOKES, CARBS)])
    relink(store)
    assert links(store, "b") == [(0, 2, None)]
    review.decide(store, "a@0.0", "assign", "Ada", "203")
    relink(store)
    assert links(store, "b") == [(0, 2, "203")]


def test_a_decided_bike_is_not_shown_twice_in_one_walk_round(store: Database) -> None:
    """The pairwise model of `linking`: what is decided for one stretch makes the same bike less likely in another."""
    writing.save_builds(store, [Build("301", model="Otter"), Build("302", model="Otter")])
    save_film(
        store, "a", "2025-11-03", [topic(line("an otter")), topic(TALK, kind="shop"), topic(line("another otter"))]
    )
    relink(store)
    assert links(store, "a") == [(0, 0, None), (1, 1, "shop"), (2, 2, None)]
    review.decide(store, "a@0.0", "assign", "Ada", "301")
    relink(store)
    other = review.item(store.conn, "a@10.0")
    assert other.candidates[0].job_number == "302" or other.build == "302"


def test_a_film_that_is_read_again_with_other_cuts_obeys_in_the_same_transaction(shop: Database) -> None:
    review.decide(shop, "nov@10.0", "assign", "Ada", "203")
    save_film(
        shop, "nov", "2025-11-03", [topic(line("bramble next"), YOKES, line("this one here"), CARBS, HABIT, TALK)]
    )
    assert links(shop) == [(0, 1, None), (2, 4, "203"), (5, 5, None)]
    assert build_of(shop, "carburettor") == "203"


@pytest.mark.parametrize(
    ("item_id", "action", "value", "error", "says"),
    [
        ("nov@10.0", "assign", "999", NotFound, "no job"),
        ("nov@10.0", "assign", None, NotFound, "no job"),
        ("nov@10.0", "split", "99:99:99", WrongUse, "cannot be cut"),
        ("nov@10.0", "split", "soon", WrongUse, "no moment"),
        ("nov@25.0", "accept", None, WrongUse, "no build is proposed"),
        ("nov@25.0", "join", None, WrongUse, "nothing follows"),
        ("nov@25.0", "split", "26", WrongUse, "cannot be cut"),
        ("nov@900", "accept", None, NotFound, "nothing is said"),
        ("nope@10", "accept", None, NotFound, "no recording"),
        ("nov", "accept", None, WrongUse, "FILM@SECONDS"),
        ("nov@10.0", "explode", None, WrongUse, "may be accept"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line_and_nothing_is_kept(
    shop: Database, item_id: str, action: str, value: str | None, error: type[Exception], says: str
) -> None:
    with pytest.raises(error, match=says) as raised:
        review.decide(shop, item_id, action, "Ada", value)  # type: ignore[arg-type]
    assert "\n" not in str(raised.value)
    assert decisions.decisions(shop.conn) == []


def test_somebody_must_decide(shop: Database) -> None:
    for name in ("", "  ", "a\x00b", "x" * 81):
        with pytest.raises(WrongUse, match="say who"):
            review.decide(shop, "nov@10.0", "assign", name, "203")


def test_undo_without_a_number_takes_back_the_persons_own_last_decision(shop: Database) -> None:
    review.decide(shop, "nov@10.0", "assign", "Ada", "203")
    review.decide(shop, "nov@0.0", "not-a-build", "Bram")
    assert review.undo(shop, "Ada").start == 10.0
    with pytest.raises(NotFound, match="nothing that could be undone"):
        review.undo(shop, "Ada")
    with pytest.raises(WrongUse, match="undone by Ada"):
        review.undo(shop, "Bram", 1)


def test_an_item_keeps_its_id_when_the_film_is_read_again(shop: Database) -> None:
    before = [item.id for item in review.items(shop.conn)]
    save_film(
        shop, "nov", "2025-11-03", [topic(line("bramble next"), YOKES), topic(line("this one here"), CARBS, HABIT)]
    )
    relink(shop)
    assert [item.id for item in review.items(shop.conn)] == before


def test_a_whole_second_names_the_stretch_that_begins_in_it(store: Database) -> None:
    writing.save_builds(store, BOOK)
    writing.save_recording(
        store,
        writing.RecordingRow(
            "dec", "dec.mp4", 1, 1, "h", "dec", "diary", "2025-12-01", "file name", "2025-12", 20.0, True
        ),
    )
    bike = Subject("build")
    cuts = (Segment(0.0, 8.2, 0, 0, "A build", bike), Segment(8.4, 16.0, 1, 1, "A build", bike))
    said = [Sentence(0.0, 8.2, "this one", "this one"), Sentence(8.4, 16.0, "and this one", "and this one")]
    writing.save_reading(store, "dec", said, Reading("diary", (), cuts, ()), reading_key="k")
    assert review.item(store.conn, "dec@8").start == 8.4  # shown as 0:08
    assert review.item(store.conn, "dec@8.1").start == 0.0
    assert review.item(store.conn, "dec@7").start == 0.0


def test_what_a_person_tied_to_a_bike_counts_like_what_was_asked_for(shop: Database) -> None:
    decided = review.decide(shop, "nov@10.0", "assign", "Ada", "203")
    relink(shop)
    by_part = {one.part: one for one in reading.statements(shop.conn)}
    assert [by_part[part].decided for part in ("carburettor", "yokes", "wheel bearings")] == [True, False, False]
    weights = {one.job_number: 1.0 for one in BOOK}
    known = shop_on_the_day(BOOK, weights, list(by_part.values())).items
    sure = {told: one for told, one in zip(known.told, known.from_book.tolist(), strict=True) if "before" in told}
    assert sorted(sure.values()) == [False, True]
    review.undo(shop, "Ada", decided.id)
    assert not any(one.decided for one in reading.statements(shop.conn))


def test_deciding_otherwise_than_somebody_else_is_asked_about_and_keeps_both(shop: Database) -> None:
    first = review.decide(shop, "nov@10.0", "assign", "Ada", "203")
    for action, value in (("assign", "201"), ("not-a-build", None), ("refuse", "203")):
        with pytest.raises(DecidedBefore, match=r"Ada decided on .*: job 203 \(number 1\).*--over"):
            review.decide(shop, "nov@10.0", action, "Bram", value)  # type: ignore[arg-type]
    assert [one.id for one in decisions.decisions(shop.conn)] == [first.id], "nothing is kept until it is said"
    second = review.decide(shop, "nov@10.0", "assign", "Bram", "201", over=True)
    assert (second.evidence["over"], build_of(shop, "carburettor")) == ([first.id], "201")
    assert [one.undone_at for one in decisions.decisions(shop.conn)] == [None, None]
    review.undo(shop, "Bram")
    assert build_of(shop, "carburettor") == "203", "undoing it brings the earlier one back"


def test_agreeing_with_somebody_changing_ones_own_mind_and_adding_to_a_refusal_is_not_asked_about(
    shop: Database,
) -> None:
    review.decide(shop, "nov@10.0", "refuse", "Ada", "202")
    review.decide(shop, "nov@10.0", "refuse", "Bram", "203")
    review.decide(shop, "nov@10.0", "assign", "Bram", "201")
    review.decide(shop, "nov@10.0", "accept", "Ada")
    review.decide(shop, "nov@10.0", "assign", "Ada", "203", over=True)
    assert review.decide(shop, "nov@10.0", "not-a-build", "Ada").evidence.get("over") is None


def test_cutting_what_somebody_joined_is_asked_about(shop: Database) -> None:
    review.decide(shop, "nov@0.0", "join", "Ada")
    with pytest.raises(DecidedBefore, match=r"Ada decided on .*: one stretch"):
        review.decide(shop, "nov@0.0", "split", "Bram", "0:10")
    review.decide(shop, "nov@0.0", "split", "Ada", "0:10")
