"""Notes with photos and voice notes sent through a bike's page: kept whole and safe, or not at all."""

from __future__ import annotations

import io
from contextlib import closing
from pathlib import Path
from typing import Any

import av
import httpx
import numpy as np
import pytest

from diaryidx.builds.voice_notes import named_in_file
from diaryidx.shop import Shop
from diaryidx.site import forms, notes
from diaryidx.site.deeds import safe_file_name
from diaryidx.store import reading
from diaryidx.store.database import open_store
from tests.site.people import as_role, token_in, with_people
from tests.site.seeded_shop import BUILDS, make_film, seeded_shop

JOB = "/builds/J~2F17~2Eb"


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return with_people(seeded_shop(tmp_path / "shop", films=False))


def sound_file(path: Path, codec: str, seconds: int = 2) -> Path:
    """A recording as a telephone makes it."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=48000)
        stream.layout = "mono"
        for second in range(seconds):
            tone = (3000 * np.sin(np.arange(48000) / 30)).astype(np.int16)
            frame = av.AudioFrame.from_ndarray(tone.reshape(1, -1), format="s16", layout="mono")
            frame.sample_rate, frame.pts = 48000, second * 48000
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def photo() -> bytes:
    """A small JPEG."""
    out = io.BytesIO()
    with av.open(out, "w", format="image2pipe") as container:
        stream = container.add_stream("mjpeg", rate=1)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuvj420p"
        container.mux(stream.encode(av.VideoFrame.from_ndarray(np.full((72, 64), 90, np.uint8), format="yuvj420p")))
        container.mux(stream.encode(None))
    return out.getvalue()


def send(client: httpx.Client, place: str, files: Any = None, **fields: str) -> httpx.Response:
    data = {"csrftoken": token_in(client.get("/builds/41").text), **fields}
    return client.post(place, data=data, files=files or [("photos", ("", b""))])


def kept(shop: Shop) -> list[str]:
    folder = shop.recordings / notes.VOICE_FOLDER
    return sorted(path.name for path in folder.iterdir()) if folder.is_dir() else []


def written(shop: Shop) -> list[tuple[str, str, str, int]]:
    with closing(open_store(shop.database)) as db:
        return [(one.build, one.text, one.author, len(one.photos)) for one in reading.notes(db.conn)]


def test_a_visit_of_the_customer_is_remembered(bram: httpx.Client, shop: Shop) -> None:
    send(bram, f"{JOB}/notes", text="Saw the tank and liked it", visit="yes")
    page = bram.get(JOB).text
    assert "the customer was here" in page and "the customer's last visit" in page.replace("&#39;", "'")
    assert bram.get(f"{JOB}.json").json()["since"]["visit"] is True


def test_a_note_with_photos_is_kept_shown_and_served(bram: httpx.Client, shop: Shop) -> None:
    photos = [("photos", ("../../evil panel.JPG", photo(), "text/html")), ("photos", ("", b""))]
    reply = send(bram, f"{JOB}/notes", photos, text="Left panel has a run <b>& drips")
    assert (reply.status_code, reply.headers["location"]) == (303, f"{JOB}#notes")
    assert written(shop) == [("J/17.b", "Left panel has a run <b>& drips", "Bram Oakes", 1)]
    page = bram.get(JOB).text
    assert "Left panel has a run &lt;b&gt;&amp; drips" in page
    assert "evil panel.JPG" in page and ".." not in page.partition("Photo 1 of note")[2][:80]
    picture = page.partition('<img src="/photos/')[2].partition('"')[0]
    served = bram.get(f"/photos/{picture}")
    assert (served.status_code, served.headers["content-type"], served.content) == (200, "image/jpeg", photo())
    assert "nosniff" in served.headers["x-content-type-options"]
    assert not [path for path in shop.folder.iterdir() if path.name.startswith(".sent-")]


@pytest.mark.parametrize(
    ("files", "text", "said"),
    [
        (None, "  ", "a note needs words"),
        (None, "x" * 9000, "at most 8000"),
        ([("photos", ("page.jpg", b"<script>alert(1)</script>"))], "words", "page.jpg: is no JPEG, PNG or WebP"),
        ([("photos", ("empty.png", b"\x89PNG\r\n\x1a\n"))], "words", "empty.png"),
    ],
)
def test_a_note_that_cannot_be_kept_says_why_and_leaves_nothing(
    bram: httpx.Client, shop: Shop, files: Any, text: str, said: str
) -> None:
    reply = send(bram, f"{JOB}/notes", files, text=text)
    assert reply.status_code == 400
    assert said.lower() in reply.text.lower()
    assert str(shop.folder) not in reply.text
    assert written(shop) == []
    assert not shop.photos.exists() or not list(shop.photos.iterdir())


def test_a_photo_is_served_only_by_its_own_name(bram: httpx.Client, shop: Shop) -> None:
    shop.photos.mkdir()
    (shop.photos / ("a" * 40 + ".jpg")).symlink_to(shop.folder / "shop.toml")
    for name in ("a" * 40 + ".jpg", "b" * 40 + ".jpg", "a" * 40 + ".html"):
        assert bram.get(f"/photos/{name}").status_code == 404


@pytest.mark.parametrize(
    ("made_as", "codec", "sent_as", "suffix"),
    [
        ("a.m4a", "aac", "Aufnahme 3.m4a", ".m4a"),
        ("a.ogg", "libopus", "note.html", ".ogg"),
        ("a.wav", "pcm_s16le", "../../../x.sh", ".wav"),
        ("a.mp3", "libmp3lame", "rec;rm -rf.mp3", ".mp3"),
        ("a.3gp", "aac", "", ".m4a"),
    ],
)
def test_a_voice_note_is_kept_by_what_it_is_under_a_name_that_ties_it_to_its_job(
    bram: httpx.Client, shop: Shop, tmp_path: Path, made_as: str, codec: str, sent_as: str, suffix: str
) -> None:
    raw = sound_file(tmp_path / made_as, codec).read_bytes()
    reply = send(bram, f"{JOB}/voice-notes", [("recording", (sent_as or "x", raw, "text/html"))])
    assert reply.status_code == 303, reply.text
    (name,) = kept(shop)
    assert name.endswith(f" voice note job J-17-b from Bram Oakes{suffix}")
    assert named_in_file(f"{notes.VOICE_FOLDER}/{name}", BUILDS).keys() == {"J/17.b"}
    file = shop.recordings / notes.VOICE_FOLDER / name
    assert file.read_bytes() == raw
    assert file.stat().st_mode & 0o777 == 0o644
    assert name in bram.get(JOB).text
    assert bram.get(f"{JOB}.json").json()["waiting_voice_notes"] == [name]
    assert bram.get("/builds/41.json").json()["waiting_voice_notes"] == []


def test_sending_a_large_file_says_nothing_in_the_terminal(
    bram: httpx.Client, shop: Shop, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    sent = sound_file(tmp_path / "long.wav", "pcm_s16le", seconds=3).read_bytes()
    assert len(sent) > 128 * 1024  # larger than what is kept in memory
    assert send(bram, f"{JOB}/voice-notes", [("recording", ("long.wav", sent, "audio/wav"))]).status_code == 303
    assert len(kept(shop)) == 1
    assert [record.message for record in caplog.records if record.levelname == "WARNING"] == []


def test_two_voice_notes_of_one_second_are_both_kept(bram: httpx.Client, shop: Shop, tmp_path: Path) -> None:
    raw = sound_file(tmp_path / "a.wav", "pcm_s16le").read_bytes()
    for _ in range(3):
        assert send(bram, f"{JOB}/voice-notes", [("recording", ("a.wav", raw))]).status_code == 303
    assert len(kept(shop)) == 3


@pytest.mark.parametrize("what", ["nothing", "empty", "text", "playlist", "silent film", "two"])
def test_what_is_no_recording_is_refused_and_nothing_is_kept(
    bram: httpx.Client, shop: Shop, tmp_path: Path, what: str
) -> None:
    sound = sound_file(tmp_path / "a.wav", "pcm_s16le").read_bytes()
    secret = f"#EXTM3U\n#EXTINF:1,\nfile://{shop.folder}/shop.toml\n".encode()
    files = {
        "nothing": [("other", ("", b""))],
        "empty": [("recording", ("a.m4a", b""))],
        "text": [("recording", ("a.m4a", b"this is no recording" * 99))],
        "playlist": [("recording", ("a.m3u8", secret))],
        "silent film": [("recording", ("a.webm", _silent(tmp_path)))],
        "two": [("recording", ("a.wav", sound)), ("recording", ("b.wav", sound))],
    }[what]
    reply = send(bram, f"{JOB}/voice-notes", files)
    assert reply.status_code == 400, reply.text
    assert str(shop.folder) not in reply.text
    assert kept(shop) == []


def _silent(folder: Path) -> bytes:
    path = folder / "silent.webm"
    with av.open(str(path), "w") as container:
        stream = container.add_stream("libvpx", rate=10)
        stream.width, stream.height, stream.pix_fmt = 64, 48, "yuv420p"
        container.mux(stream.encode(av.VideoFrame(64, 48, "yuv420p")))
        container.mux(stream.encode(None))
    return path.read_bytes()


def test_what_is_too_large_is_refused_whether_it_says_so_or_not(
    bram: httpx.Client, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(forms, "FORMS", tuple((one, min(limit, 50_000)) for one, limit in forms.FORMS))
    for place, field in ((f"{JOB}/voice-notes", "recording"), (f"{JOB}/notes", "photos")):
        reply = send(bram, place, [(field, ("a.m4a", b"x" * 120_000))], text="words")
        assert reply.status_code == 413
        assert "50 kB" in reply.text
    assert written(shop) == [] and kept(shop) == []
    assert not [path for path in shop.folder.iterdir() if path.name.startswith(".sent-")]


def test_notes_are_undone_by_their_writer_or_an_owner(bram: httpx.Client, address: str, shop: Shop) -> None:
    with closing(as_role(address, "owner")) as tove:
        send(tove, f"{JOB}/notes", text="from the owner")
        send(bram, f"{JOB}/notes", text="from the bench")
        assert send(bram, "/notes/1/undo").status_code == 403
        assert send(bram, "/notes/2/undo").status_code == 303
        send(bram, f"{JOB}/notes", text="once more")
        assert send(tove, "/notes/3/undo").status_code == 303
    with closing(open_store(shop.database)) as db:
        assert [one.undone_by for one in reading.notes(db.conn)] == [None, "Bram Oakes", "Tove"]


def test_marketing_and_strangers_write_nothing(address: str, shop: Shop, tmp_path: Path) -> None:
    raw = sound_file(tmp_path / "a.wav", "pcm_s16le").read_bytes()
    with closing(as_role(address, "marketing")) as ida, httpx.Client(base_url=address, trust_env=False) as nobody:
        assert "Write a note" not in ida.get("/builds/41").text
        for place, files in (("notes", None), ("voice-notes", [("recording", ("a.wav", raw))])):
            assert send(ida, f"{JOB}/{place}", files, text="words").status_code == 403
            data = {"csrftoken": "x", "text": "words"}
            assert nobody.post(f"{JOB}/{place}", data=data, files=files or {}).status_code == 403
            token = token_in(ida.get("/").text)
            forged = ida.post(f"{JOB}/{place}", data={"text": "words"}, files=[("recording", ("a.wav", raw))])
            assert forged.status_code == 400, "a form must begin with its token"
            elsewhere = {"origin": "https://evil.example"}
            assert ida.post(f"{JOB}/{place}", data={"csrftoken": token}, headers=elsewhere).status_code == 403
    assert written(shop) == [] and kept(shop) == []


@pytest.mark.parametrize(
    ("sent", "kept_as"),
    [("a.jpg", "a.jpg"), ("../../a.jpg", "a.jpg"), ("C:\\x\\a.jpg", "a.jpg"), (".hidden", "hidden"), ("", "file"),
     ("a\0b.jpg", "a_b.jpg"), ("...", "file"), ("x" * 300 + ".jpg", "x" * 96 + ".jpg"), ("é ü.png", "é ü.png")],
)  # fmt: skip
def test_a_sent_files_name_can_do_no_harm(sent: str, kept_as: str) -> None:
    assert safe_file_name(sent) == kept_as


def test_a_film_can_be_a_voice_note_too(bram: httpx.Client, shop: Shop, tmp_path: Path) -> None:
    raw = make_film(tmp_path / "a.webm", seconds=2).read_bytes()
    assert send(bram, f"{JOB}/voice-notes", [("recording", ("a.webm", raw))]).status_code == 303
    assert kept(shop)[0].endswith(".webm")
