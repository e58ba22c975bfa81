"""What no film said, developments, photos of notes, and what is new since a day, as pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import httpx
import numpy as np
import pytest
from av import VideoFrame

from diaryidx.builds.developments import refresh_developments
from diaryidx.media.photos import keep_photo
from diaryidx.records import Reading, Segment, Sentence, Subject
from diaryidx.store import writing
from diaryidx.store.database import open_store
from diaryidx.store.writing import RecordingRow
from diaryidx.vocabulary.loader import load_vocabulary
from tests.site.running import running
from tests.site.seeded_shop import seeded_shop
from tests.site.test_pages import words_of


@pytest.fixture(scope="module")
def visited(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[httpx.Client, Path, list[str]]]:
    """A site with two notes with photos, the second undone, a visit, and a film about a development."""
    folder = tmp_path_factory.mktemp("visited")
    shop = seeded_shop(folder / "shop", films=False)
    files = []
    db = open_store(shop.database)
    for shade in (40, 200):
        picture = folder / f'tank "{shade}"é.png'
        frame = VideoFrame.from_ndarray(np.full((40, 60, 3), shade, np.uint8), format="rgb24")
        picture.write_bytes(frame_png(frame))
        photo = keep_photo(picture, shop.photos)
        note = writing.save_note(db, "41", "tank is back", "2025-03-10", "Wes", [photo], visit=shade == 40)
        files.append(photo.file)
    writing.undo_note(db, note.id, "Wes")
    said = [Sentence(0.0, 5.0, "our folding stand is ready to sell", "our folding stand is ready to sell")]
    row = RecordingRow("news", "news.mp4", 1, 1, "h", "News", "product news", "2025-03-20", "file name", "2025-03", 5.0,
                       True)  # fmt: skip
    writing.save_recording(db, row)
    topic = Segment(0.0, 5.0, 0, 0, "stand", Subject("development", "folding stand"))
    writing.save_reading(db, "news", said, Reading("product news", segments=(topic,)), reading_key="k", engine="e")
    refresh_developments(db, load_vocabulary())
    db.close()
    with running(shop) as address, httpx.Client(base_url=address, trust_env=False, timeout=20) as client:
        yield client, shop.photos, files


def frame_png(frame: VideoFrame) -> bytes:
    import av

    codec = av.CodecContext.create("png", "w")
    codec.width, codec.height, codec.pix_fmt = frame.width, frame.height, "rgb24"
    codec.time_base = 1
    return b"".join(bytes(packet) for packet in [*codec.encode(frame), *codec.encode(None)])


Visited = tuple[httpx.Client, Path, list[str]]


def test_a_photo_of_a_note_is_shown_and_sent_as_the_picture_it_is(visited: Visited) -> None:
    client, folder, (shown, _undone) = visited
    assert f'<img src="/photos/{shown}"' in client.get("/builds/41").text
    reply = client.get(f"/photos/{shown}")
    assert reply.status_code == 200 and reply.content == (folder / shown).read_bytes()
    assert reply.headers["content-type"] == "image/png"
    assert reply.headers["x-content-type-options"] == "nosniff"
    # RFC 8187, 3.2.1: quotes, spaces and what is not ASCII are percent-encoded as UTF-8
    assert reply.headers["content-disposition"] == "inline; filename*=UTF-8''tank%20%2240%22%C3%A9.png"


def test_photos_that_no_note_in_force_has_are_not_sent(visited: Visited) -> None:
    client, folder, (_shown, undone) = visited
    (folder / ("a" * 40 + ".png")).write_bytes(b"\x89PNG")
    for file in (undone, "a" * 40 + ".png", "../shop.db", "..%2Fshop.toml", undone.replace(".png", ".svg")):
        assert client.get(f"/photos/{file}", follow_redirects=True).status_code in (403, 404), file


def test_a_link_in_a_photos_place_is_not_followed(visited: Visited) -> None:
    client, folder, (shown, _undone) = visited
    kept = (folder / shown).read_bytes()
    (folder / shown).unlink()
    (folder / shown).symlink_to(folder.parent / "shop.toml")
    assert client.get(f"/photos/{shown}").status_code == 404
    (folder / shown).unlink()
    (folder / shown).write_bytes(kept)


def test_a_bikes_page_tells_what_is_new_since_the_last_visit_or_another_day(visited: Visited) -> None:
    client, _folder, _files = visited
    words = words_of(client.get("/builds/41").text)
    assert "New since 10 March 2025, the customer's last visit" in words
    news = words.split("the customer's last visit")[1].split("Since")[0]
    assert "Tank: done" in news and "Caliper, front: planned" in news and "Seat" not in news
    assert "New since 1 April 2025 Nothing was said since then." in words_of(
        client.get("/builds/41?since=2025-04-01").text
    )
    assert client.get("/builds/41.json?since=2025-02-01").json()["since"]["visit"] is False
    assert client.get("/builds/41?since=soon").status_code == 400


def test_developments_are_shown_with_their_thread(visited: Visited) -> None:
    client, _folder, _files = visited
    page = client.get("/developments").text
    assert "Folding stand" in words_of(page) and "Our folding stand is ready to sell" in words_of(page)
    assert 'href="/films/news?t=0"' in page
    assert client.get("/developments.json").json()["developments"][0]["name"] == "folding stand"


def test_what_no_film_said_is_linked_from_the_bikes_and_shows_its_evidence(visited: Visited) -> None:
    client, _folder, _files = visited
    assert 'href="/gaps"' in client.get("/builds").text and 'href="/developments"' in client.get("/builds").text
    page = client.get("/gaps").text
    assert "Waiting longest Job 41: Marlowe Curlew" in words_of(page)
    assert "Seat, tan (Kestrel Yard), on Kestrel Yard, since 27 February 2025" in words_of(page)
    assert 'href="/builds/41"' in page
    assert {"waiting", "left_out"} <= client.get("/gaps.json").json().keys()
