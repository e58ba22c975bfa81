"""HTTP ranges and conditions, held against RFC 9110 (https://www.rfc-editor.org/rfc/rfc9110), sections beside each."""

from __future__ import annotations

import email
import email.policy
import time
from email.utils import formatdate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.site.media import MOST_RANGES, FilmFile, Reply, Span, content_type_of, decide, parse_ranges

NOW = 1_750_000_000.0
FILM = FilmFile(10_000, int((NOW - 3600) * 1e9), "video/webm")


def header(reply: Reply, name: str) -> str | None:
    return dict(reply.headers).get(name)


def asked(**headers: str) -> Reply:
    return decide("GET", {name.replace("_", "-"): value for name, value in headers.items()}, FILM, NOW)


# 14.1.2 gives these examples for a representation of 10,000 bytes.
@pytest.mark.parametrize(
    ("value", "spans"),
    [
        ("bytes=0-499", [(0, 499)]),
        ("bytes=500-999", [(500, 999)]),
        ("bytes=-500", [(9500, 9999)]),
        ("bytes=9500-", [(9500, 9999)]),
        ("bytes=0-0,-1", [(0, 0), (9999, 9999)]),
        ("bytes= 0-999, 4500-5499, -1000", [(0, 999), (4500, 5499), (9000, 9999)]),
        ("bytes=500-600,601-999", [(500, 999)]),
        ("bytes=500-700,601-999", [(500, 999)]),
    ],
)
def test_the_examples_of_the_standard_give_the_bytes_it_names(value: str, spans: list[tuple[int, int]]) -> None:
    found = parse_ranges(value, 10_000)
    assert found is not None
    assert [(span.start, span.last) for span in found] == spans


@pytest.mark.parametrize("value", ["bytes=0-1", "BYTES=0-1", "bytes=0-1,", "bytes=,0-1", "bytes=\t0-1 "])
def test_units_have_no_case_and_lists_may_have_empty_items(value: str) -> None:
    """14.1: range unit names are case-insensitive; 5.6.1.2: a recipient accepts empty list elements."""
    assert parse_ranges(value, 10) == [Span(0, 2)]


@pytest.mark.parametrize(
    "value",
    ["", "bytes", "bytes=", "bytes=,", "bytes=a-b", "bytes=1", "bytes=-", "bytes=2-1", "bytes=0-1;2-3",
     "items=0-1", "bytes 0-1", "bytes=0-1x", "bytes=--1", "bytes=+1-2", "bytes=0x1-2", "bytes=١-٢", "bytes=1_0-20",
     "bytes=0-4, 2-1"],
)  # fmt: skip
def test_what_is_malformed_or_of_another_unit_is_ignored_and_the_whole_is_sent(value: str) -> None:
    """14.2: a server ignores a Range field with a unit it does not understand, and may ignore an invalid one."""
    assert parse_ranges(value, 10_000) is None
    reply = asked(range=value)
    assert (reply.status, reply.body) == (200, (Span(0, 10_000),))


@pytest.mark.parametrize(
    "value", ["bytes=10000-", "bytes=10000-10001", "bytes=-0", f"bytes={10**300}-", "bytes=20000-,30000-"]
)
def test_ranges_outside_the_film_are_answered_416_with_its_length(value: str) -> None:
    """15.5.17 and the content-range of 14.4."""
    reply = asked(range=value)
    assert (reply.status, header(reply, "content-range"), reply.body) == (416, "bytes */10000", ())


def test_an_empty_film_has_no_satisfiable_range() -> None:
    empty = FilmFile(0, 0, "video/webm")
    assert decide("GET", {"range": "bytes=0-"}, empty, NOW).status == 416
    assert decide("GET", {"range": "bytes=-5"}, empty, NOW).status == 416
    assert decide("GET", {}, empty, NOW).body == ()


def test_a_range_past_the_end_is_cut_to_the_film() -> None:
    """14.1.2: a last position at or past the length stands for the rest."""
    reply = asked(range=f"bytes=9990-{10**40}")
    assert (reply.status, header(reply, "content-range")) == (206, "bytes 9990-9999/10000")
    assert header(asked(range="bytes=-99999"), "content-range") == "bytes 0-9999/10000"


@given(
    st.integers(0, 50), st.lists(st.tuples(st.integers(0, 60), st.none() | st.integers(0, 60)), min_size=1, max_size=6)
)
def test_the_bytes_sent_are_exactly_those_asked_for(size: int, wanted: list[tuple[int, int | None]]) -> None:
    wanted = [(first, last if last is None or last >= first else None) for first, last in wanted]
    value = "bytes=" + ",".join(f"{first}-{'' if last is None else last}" for first, last in wanted)
    expected = {
        place for first, last in wanted for place in range(size) if first <= place <= (size if last is None else last)
    }
    spans = parse_ranges(value, size)
    assert spans is not None
    sent = [place for span in spans for place in range(span.start, span.start + span.length)]
    assert set(sent) == expected
    assert len(sent) == len(expected), "no byte is sent twice"


@given(st.text(max_size=60), st.integers(0, 10**12))
def test_no_range_header_whatever_breaks_the_parser(value: str, size: int) -> None:
    spans = parse_ranges(value, size)
    assert spans is None or all(span.start >= 0 and span.length > 0 and span.last < size for span in spans)


def test_thousands_of_ranges_are_refused_without_work() -> None:
    """14.2 and 17.15: a server may reject many small ranges, the mark of a broken client or an attack."""
    started = time.perf_counter()
    for value in (
        "bytes=" + ",".join(f"{n}-{n}" for n in range(0, 100_000, 2)),
        "bytes=" + "0-," * 300_000,
        "bytes=" + "9" * 10**6 + "-",
    ):
        reply = asked(range=value)
        assert (reply.status, reply.body) == (416, ())
    assert asked(range="bytes=" + ",".join(f"{n * 10}-{n * 10}" for n in range(MOST_RANGES + 1))).status == 416
    assert time.perf_counter() - started < 0.5


def test_several_ranges_come_as_multipart_that_a_mail_parser_reads() -> None:
    """14.6 multipart/byteranges, read by Python's own MIME parser."""
    content = bytes(range(256)) * 40
    film = FilmFile(len(content), 0, "video/webm")
    reply = decide("GET", {"range": "bytes=0-9,100-119,-5"}, film, NOW)
    body = b"".join(
        piece if isinstance(piece, bytes) else content[piece.start : piece.start + piece.length] for piece in reply.body
    )
    assert reply.status == 206
    assert header(reply, "content-length") == str(len(body))
    assert header(reply, "content-range") is None, "15.3.7.2 forbids it beside the parts' own"
    head = f"Content-Type: {header(reply, 'content-type')}\r\n\r\n".encode()
    parts = list(email.message_from_bytes(head + body, policy=email.policy.HTTP).iter_parts())
    size = len(content)
    assert [part["content-range"] for part in parts] == [
        f"bytes 0-9/{size}", f"bytes 100-119/{size}", f"bytes {size - 5}-{size - 1}/{size}"
    ]  # fmt: skip
    assert [part.get_content_type() for part in parts] == ["video/webm"] * 3
    assert [part.get_payload(decode=True) for part in parts] == [content[:10], content[100:120], content[-5:]]


def test_ranges_that_merge_into_one_are_no_multipart() -> None:
    """15.3.7.2: a single part is not sent as multipart."""
    reply = asked(range="bytes=0-9,5-20")
    assert (header(reply, "content-range"), header(reply, "content-type")) == ("bytes 0-20/10000", "video/webm")


def test_head_ignores_ranges_and_tells_the_whole_length() -> None:
    """14.2: ranges are defined for GET alone; 9.3.2: HEAD sends the header fields that GET would."""
    reply = decide("HEAD", {"range": "bytes=0-1"}, FILM, NOW)
    assert (reply.status, header(reply, "content-length"), header(reply, "accept-ranges")) == (200, "10000", "bytes")


def test_if_range_with_the_same_strong_tag_applies_and_another_sends_the_whole() -> None:
    """13.1.5."""
    assert asked(range="bytes=0-1", if_range=FILM.etag).status == 206
    assert asked(range="bytes=0-1", if_range='"other"').status == 200
    assert asked(range="bytes=0-1", if_range="W/" + FILM.etag).status == 200, "a weak tag never matches strongly"


def test_if_range_with_a_date_applies_only_when_it_is_exactly_the_films_and_strong() -> None:
    """13.1.5 and 8.8.2.2."""
    seconds = FILM.modified_ns // 10**9
    assert asked(range="bytes=0-1", if_range=FILM.last_modified).status == 206
    assert asked(range="bytes=0-1", if_range=formatdate(seconds + 1, usegmt=True)).status == 200
    assert asked(range="bytes=0-1", if_range="yesterday or so").status == 200
    just_written = FilmFile(10_000, int((NOW - 0.2) * 1e9), "video/webm")
    reply = decide("GET", {"range": "bytes=0-1", "if-range": just_written.last_modified}, just_written, NOW)
    assert reply.status == 200


def test_conditions_come_before_ranges() -> None:
    """13.2.2, in its order of precedence."""
    seconds = FILM.modified_ns // 10**9
    earlier, same = formatdate(seconds - 60, usegmt=True), FILM.last_modified
    assert asked(if_none_match=FILM.etag, range="bytes=0-1").status == 304
    assert asked(if_none_match=f'"a", W/{FILM.etag}').status == 304, "If-None-Match compares weakly (13.1.2)"
    assert asked(if_none_match="*").status == 304
    assert asked(if_none_match='"a"', if_modified_since=same).status == 200, "a tag outranks a date (13.1.3)"
    assert asked(if_modified_since=same).status == 304
    assert asked(if_modified_since=earlier).status == 200
    assert asked(if_modified_since="nonsense").status == 200
    assert asked(if_match='"a"', range="bytes=0-1").status == 412
    assert asked(if_match=f"W/{FILM.etag}").status == 412, "If-Match compares strongly (13.1.1)"
    assert asked(if_match=FILM.etag, if_unmodified_since=earlier).status == 200
    assert asked(if_unmodified_since=earlier).status == 412
    assert asked(if_unmodified_since=same).status == 200


def test_a_rewritten_film_has_another_tag() -> None:
    assert (
        len({FILM.etag, FilmFile(10_001, FILM.modified_ns, "").etag, FilmFile(10_000, FILM.modified_ns + 1, "").etag})
        == 3
    )


@pytest.mark.parametrize(
    ("name", "content_type"),
    [
        ("a.webm", "video/webm"),  # IANA
        ("a.MP4", "video/mp4"),  # RFC 4337
        ("a.m4a", "audio/mp4"),  # RFC 4337
        ("a.mov", "video/quicktime"),  # IANA
        ("a.mkv", "video/matroska"),  # RFC 9559
        ("a.ogg", "audio/ogg"),  # RFC 5334
        ("a.mp3", "audio/mpeg"),  # RFC 3003
        ("a.wav", "audio/wav"),  # as browsers name it; RFC 2361's audio/vnd.wave is known to few
        ("a.html", "application/octet-stream"),
        ("a", "application/octet-stream"),
    ],
)
def test_films_are_served_as_what_they_are_and_never_as_a_page(name: str, content_type: str) -> None:
    assert content_type_of(name) == content_type
