"""Films over a real connection: whole, in parts, and under abuse."""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest

from diaryidx.errors import NotFound
from diaryidx.shop import Shop
from diaryidx.site.media import find_film, open_film
from diaryidx.store import writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from tests.site.running import running
from tests.site.seeded_shop import DIARY, NOTE, empty_shop

BIG = 64 * 1024 * 1024


def test_a_film_is_sent_whole_and_in_parts_and_the_parts_are_the_film(site: httpx.Client, seeded: Shop) -> None:
    content = (seeded.recordings / "diary" / "february.webm").read_bytes()
    whole = site.get(f"/media/{DIARY}")
    assert (whole.status_code, whole.content) == (200, content)
    assert (whole.headers["content-type"], whole.headers["accept-ranges"]) == ("video/webm", "bytes")
    middle = len(content) // 2
    first = site.get(f"/media/{DIARY}", headers={"range": f"bytes=0-{middle}", "if-range": whole.headers["etag"]})
    rest = site.get(f"/media/{DIARY}", headers={"range": f"bytes={middle + 1}-"})
    assert (first.status_code, rest.status_code) == (206, 206)
    assert first.content + rest.content == content
    assert rest.headers["content-range"] == f"bytes {middle + 1}-{len(content) - 1}/{len(content)}"


def test_head_tells_of_a_film_without_sending_it(site: httpx.Client, seeded: Shop) -> None:
    reply = site.head(f"/media/{NOTE}")
    size = (seeded.recordings / "note.ogg").stat().st_size
    assert (reply.status_code, reply.headers["content-length"], reply.content) == (200, str(size), b"")
    assert reply.headers["content-type"] == "audio/ogg"


def test_a_film_seen_before_is_not_sent_again(site: httpx.Client) -> None:
    tag = site.head(f"/media/{DIARY}").headers["etag"]
    reply = site.get(f"/media/{DIARY}", headers={"if-none-match": tag})
    assert (reply.status_code, reply.content) == (304, b"")


@pytest.mark.parametrize(
    "path",
    ["../shop.db", "..%2fshop.db", "..~2Fshop~2Edb", "%2e%2e/shop.db", "....//shop.db", "diary/february.webm",
     "~2Fetc~2Fpasswd", "%00", "nothing", "~"],
)  # fmt: skip
def test_no_address_reaches_a_file_that_is_no_known_film(site: httpx.Client, path: str) -> None:
    parts = urlsplit(str(site.base_url))
    with socket.create_connection((parts.hostname or "", parts.port or 0), timeout=10) as raw:  # httpx tidies paths
        raw.sendall(f"GET /media/{path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n".encode())
        reply = b"".join(iter(lambda: raw.recv(65536), b""))
    assert reply.split(b" ", 2)[1] in (b"404", b"302"), reply[:200]
    assert b"SQLite format 3" not in reply
    assert b"root:" not in reply


@pytest.fixture
def open_shop(tmp_path: Path) -> Shop:
    return empty_shop(tmp_path / "shop")


def add_film(shop: Shop, path: str, film: str = "film") -> None:
    db = open_store(shop.database)
    row = RecordingRow(film, path, 1, 1, f"hash of {path}", "A film", "other", None, None, None, 5.0, True)
    writing.save_recording(db, row)
    db.close()


def test_links_out_of_the_recordings_folder_are_refused(open_shop: Shop, tmp_path: Path) -> None:
    secret = tmp_path / "secret.webm"
    secret.write_bytes(b"secret")
    (open_shop.recordings / "link.webm").symlink_to(secret)
    (open_shop.recordings / "folder").symlink_to(tmp_path, target_is_directory=True)
    (open_shop.recordings / "inside.webm").write_bytes(b"film")
    (open_shop.recordings / "fine.webm").symlink_to(open_shop.recordings / "inside.webm")
    for stored in ("link.webm", "folder/secret.webm", "../../secret.webm", str(open_shop.recordings / "link.webm")):
        with pytest.raises(NotFound):
            find_film(open_shop.recordings, stored)
    assert find_film(open_shop.recordings, "fine.webm").name == "inside.webm"
    add_film(open_shop, "link.webm")
    with running(open_shop) as address:
        reply = httpx.get(f"{address}/media/film", trust_env=False)
    assert reply.status_code == 404
    assert "secret" not in reply.text.replace("secret.webm", "")


def test_a_film_that_a_person_indexed_from_elsewhere_is_served(open_shop: Shop, tmp_path: Path) -> None:
    elsewhere = tmp_path / "card" / "clip.mp4"
    elsewhere.parent.mkdir()
    elsewhere.write_bytes(b"clip")
    assert find_film(open_shop.recordings, str(elsewhere)) == elsewhere


def test_a_pipe_or_folder_in_a_films_place_neither_hangs_nor_breaks(open_shop: Shop) -> None:
    pipe = open_shop.recordings / "pipe.webm"
    os.mkfifo(pipe)
    (open_shop.recordings / "folder.webm").mkdir()
    started = time.monotonic()
    for name in ("pipe.webm", "folder.webm", "gone.webm"):
        with pytest.raises(NotFound):
            open_film(open_shop.recordings / name)
    assert time.monotonic() - started < 2


@pytest.fixture
def big_film(open_shop: Shop) -> Iterator[tuple[Path, str]]:
    """A film far larger than what a connection buffers, and the address of its site."""
    path = open_shop.recordings / "big.webm"
    with path.open("wb") as file:
        file.truncate(BIG)
    add_film(open_shop, "big.webm")
    with running(open_shop) as address:
        yield path, address


def test_a_film_deleted_while_it_plays_plays_to_its_end(big_film: tuple[Path, str]) -> None:
    path, address = big_film
    received = 0
    with httpx.stream("GET", f"{address}/media/film", trust_env=False) as reply:
        for number, piece in enumerate(reply.iter_bytes(1024 * 1024)):
            received += len(piece)
            if number == 2:
                path.unlink()
    assert received == BIG
    assert httpx.get(f"{address}/media/film", trust_env=False).status_code == 404


def test_a_film_cut_short_while_it_plays_ends_the_connection_and_the_site_goes_on(big_film: tuple[Path, str]) -> None:
    path, address = big_film
    received = 0
    with (
        pytest.raises(httpx.RemoteProtocolError),
        httpx.stream("GET", f"{address}/media/film", trust_env=False) as reply,
    ):
        for number, piece in enumerate(reply.iter_bytes(1024 * 1024)):
            received += len(piece)
            if number == 2:
                os.truncate(path, 1024)
    assert 0 < received < BIG, "what is not in the file is never made up"
    assert httpx.get(f"{address}/media/film", trust_env=False).headers["content-length"] == "1024"


def test_players_that_go_away_stop_the_reading(big_film: tuple[Path, str], monkeypatch: pytest.MonkeyPatch) -> None:
    import diaryidx.site.media as media

    _, address = big_film
    read: list[int] = []
    real = media._read_at

    def counting(file, place, length):  # type: ignore[no-untyped-def]
        read.append(length)
        return real(file, place, length)

    monkeypatch.setattr(media, "_read_at", counting)
    for _ in range(3):
        with httpx.stream("GET", f"{address}/media/film", trust_env=False) as reply:
            next(reply.iter_bytes(1024))
    time.sleep(0.5)
    assert sum(read) < BIG, "three players that left read less than one whole film"


def test_thousands_of_ranges_over_the_wire_are_refused_and_the_site_goes_on(big_film: tuple[Path, str]) -> None:
    _, address = big_film
    many = "bytes=" + ",".join(f"{n}-{n}" for n in range(0, 16_000, 2))
    started = time.monotonic()
    replies = [httpx.get(f"{address}/media/film", headers={"range": many}, trust_env=False) for _ in range(20)]
    assert {reply.status_code for reply in replies} <= {416, 400}
    assert time.monotonic() - started < 10
    assert httpx.head(f"{address}/media/film", trust_env=False).status_code == 200


def test_stills_are_pictures_and_sound_has_none(site: httpx.Client) -> None:
    picture = site.get(f"/stills/{DIARY}/7.jpg")
    assert (picture.status_code, picture.headers["content-type"]) == (200, "image/jpeg")
    assert picture.content[:3] == b"\xff\xd8\xff"
    assert site.get(f"/stills/{NOTE}/1.jpg").status_code == 404
    assert site.get("/stills/nothing/1.jpg").status_code == 404
    assert site.get(f"/stills/{DIARY}/9999999.jpg").status_code == 404
