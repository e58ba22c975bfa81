"""The download against a server of the test's own, on 127.0.0.1, that also breaks off, lies and leads astray."""

from __future__ import annotations

import hashlib
import json
import socket
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import httpx
import pytest

from diaryidx.errors import SpeechError
from diaryidx.speech import download
from diaryidx.speech.home import models_folder, remembered

NAME = "vosk-model-test-0.1"
Answer = Callable[[BaseHTTPRequestHandler], None]


@pytest.fixture
def answers(home, monkeypatch) -> Iterator[dict[str, Answer | bytes]]:
    """The server's answers by path: bytes are sent as they are. ``answers["address"]`` is where it listens."""
    given: dict[str, Answer | bytes] = {}

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            answer = given.get(self.path)
            if answer is None:
                self.send_error(404)
            elif callable(answer):
                answer(self)
            else:
                send(self, answer)

        def log_message(self, *_arguments: object) -> None:
            pass

    for name in ("http_proxy", "https_proxy", "all_proxy", "HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)
    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        monkeypatch.setenv("DIARYIDX_MODEL_LIST", f"http://127.0.0.1:{server.server_port}/list.json")
        yield given
        server.shutdown()


def send(handler: BaseHTTPRequestHandler, content: bytes, length: int | None = None, **headers: str) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", str(len(content) if length is None else length))
    for name, value in headers.items():
        handler.send_header(name.replace("_", "-"), value)
    handler.end_headers()
    handler.wfile.write(content)


def entry(content: bytes, **changed: object) -> dict[str, object]:
    """An entry of the list, with the fields that the publisher gives."""
    told = {"lang": "en-us", "lang_text": "US English", "md5": hashlib.md5(content).hexdigest(), "name": NAME}
    told |= {"obsolete": "false", "size": len(content), "size_text": "8MiB", "type": "small", "version": "0.1"}
    return {**told, "url": "/model.zip", **changed}


def listing(*entries: dict[str, object]) -> bytes:
    return json.dumps([{"name": "vosk-model-other", "url": "/other.zip"}, *entries]).encode()


def fetch(**how: object) -> Path:
    return download.get(name=NAME, **how)


def leftovers(home: Path) -> list[str]:
    return sorted(str(path.relative_to(home)) for path in home.rglob("*") if path != models_folder())


def test_the_model_is_fetched_verified_installed_and_chosen(home, answers, model_zip):
    content = model_zip.read_bytes()
    answers |= {"/list.json": listing(entry(content)), "/model.zip": content}
    seen: list[tuple[int, int]] = []
    folder = fetch(progress=lambda done, total: seen.append((done, total)))
    assert folder == models_folder() / NAME == remembered()
    assert (folder / "am" / "final.mdl").is_file()
    assert [path.name for path in models_folder().iterdir()] == [NAME]
    assert seen[-1] == (len(content), len(content))
    assert seen == sorted(seen)
    answers.clear()
    assert fetch() == folder  # already there: nothing is asked


def test_a_broken_installation_is_fetched_again(home, answers, model_zip):
    content = model_zip.read_bytes()
    answers |= {"/list.json": listing(entry(content)), "/model.zip": content}
    model = fetch() / "am" / "final.mdl"
    whole = model.read_bytes()
    model.write_bytes(whole[:1000])
    fetch()
    assert model.read_bytes() == whole


SMALL = b"some bytes, not a zip" * 50


def redirect(to: str) -> Answer:
    def answer(handler: BaseHTTPRequestHandler) -> None:
        handler.send_response(302)
        handler.send_header("Location", to)
        handler.send_header("Content-Length", "0")
        handler.end_headers()

    return answer


def endless(handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    handler.end_headers()
    try:
        while True:
            handler.wfile.write(bytes(65536))
    except OSError:
        return


BAD_REPLIES: dict[str, tuple[str, dict[str, Answer | bytes]]] = {
    "no list": ("answers 404", {}),
    "html instead of the list": ("not the publisher's list", {"/list.json": b"<!doctype html><p>Welcome"}),
    "an object instead of the list": ("not the publisher's list|offers no model", {"/list.json": b'{"models": 1}'}),
    "a list of something else": ("not the publisher's list", {"/list.json": b"[1, 2, null]"}),
    "an endless list": ("too long", {"/list.json": endless}),
    "a list without the model": ("offers no model", {"/list.json": listing()}),
    "no checksum": ("no usable", {"/list.json": listing(entry(SMALL, md5=None))}),
    "an odd checksum": ("no usable", {"/list.json": listing(entry(SMALL, md5="../../etc/passwd"))}),
    "an absurd size": ("no usable", {"/list.json": listing(entry(SMALL, size=10**15))}),
    "a negative size": ("no usable", {"/list.json": listing(entry(SMALL, size=-5))}),
    "a size in words": ("no usable", {"/list.json": listing(entry(SMALL, size="small"))}),
    "no address": ("no usable", {"/list.json": listing(entry(SMALL, url=None))}),
    "an address that is none": ("none|cannot be", {"/list.json": listing(entry(SMALL, url="http://[::bad/x"))}),
    "a file address": ("unsafe|cannot be", {"/list.json": listing(entry(SMALL, url="file:///etc/passwd"))}),
    "an ftp address": ("unsafe|cannot be", {"/list.json": listing(entry(SMALL, url="ftp://127.0.0.1/model.zip"))}),
    "a redirect to a file": ("unsafe|cannot be", {"/list.json": redirect("file:///etc/passwd")}),
    "redirects in a circle": ("cannot be", {"/list.json": redirect("/list.json")}),
    "no model": ("answers 404", {"/list.json": listing(entry(SMALL))}),
    "a wrong checksum": ("checksum", {"/list.json": listing(entry(SMALL, md5="0" * 32)), "/model.zip": SMALL}),
    "a truncated model": (
        "broke|cannot be fetched",
        {"/list.json": listing(entry(SMALL)), "/model.zip": lambda h: send(h, SMALL[:400], 1050, Connection="close")},
    ),
    "a model that ends early": (
        "bytes long, not",
        {"/list.json": listing(entry(SMALL)), "/model.zip": SMALL[:400]},
    ),
    "a model without a length that ends early": (
        "broke off after 400",
        {
            "/list.json": listing(entry(SMALL)),
            "/model.zip": lambda h: (h.send_response(200), h.end_headers(), h.wfile.write(SMALL[:400])),
        },
    ),
    "a length that lies": (
        "bytes long, not|longer|cannot be fetched|checksum|broke",
        {"/list.json": listing(entry(SMALL)), "/model.zip": lambda h: send(h, SMALL + SMALL, len(SMALL) + 7)},
    ),
    "a model that never ends": ("longer than", {"/list.json": listing(entry(SMALL)), "/model.zip": endless}),
    "no zip": ("not a whole zip", {"/list.json": listing(entry(SMALL)), "/model.zip": SMALL}),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD_REPLIES)
def test_a_bad_reply_is_one_clear_line_and_leaves_nothing(home, answers, case):
    expected, replies = BAD_REPLIES[case]
    answers |= replies
    with pytest.raises(SpeechError, match=expected) as error:
        fetch()
    assert "\n" not in str(error.value)
    assert "again" in str(error.value)
    assert leftovers(home) == []
    assert remembered() is None


def test_a_zip_that_leads_out_of_its_folder_is_refused(home, answers, tmp_path):
    import zipfile

    with zipfile.ZipFile(tmp_path / "slip.zip", "w") as zipped:
        zipped.writestr("../../evil", "evil")
    content = (tmp_path / "slip.zip").read_bytes()
    answers |= {"/list.json": listing(entry(content)), "/model.zip": content}
    with pytest.raises(SpeechError, match="outside"):
        fetch()
    assert leftovers(home) == []


def test_https_never_falls_back_to_http():
    client = download._client("https://publisher.example/list.json")
    [check] = client.event_hooks["request"]
    check(httpx.Request("GET", "https://elsewhere.example/model.zip"))
    with pytest.raises(SpeechError, match="unsafe"):
        check(httpx.Request("GET", "http://publisher.example/model.zip"))


def test_without_a_network_one_line_says_what_to_do(home, answers, monkeypatch):
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        port = unused.getsockname()[1]
    for address in (f"http://127.0.0.1:{port}/list.json", "http://no-such-host.invalid/list.json"):
        with pytest.raises(SpeechError, match="network") as error:
            download.get(address, NAME)
        assert "diaryidx model use PATH" in str(error.value)
        assert "\n" not in str(error.value)
    assert leftovers(home) == []


def test_a_server_that_says_nothing_is_given_up(home, answers, monkeypatch):
    monkeypatch.setattr(download, "TIMEOUT", httpx.Timeout(0.3))
    release = threading.Event()
    answers["/list.json"] = lambda handler: release.wait(5)
    with pytest.raises(SpeechError, match="in time"):
        fetch()
    release.set()
    assert leftovers(home) == []


def test_a_failed_download_leaves_the_installed_model_alone(home, answers, model_zip):
    content = model_zip.read_bytes()
    answers |= {"/list.json": listing(entry(content)), "/model.zip": content}
    folder = fetch()
    answers["/list.json"] = listing(entry(content, name="vosk-model-next", md5="0" * 32))
    with pytest.raises(SpeechError, match="checksum"):
        download.get(name="vosk-model-next")
    assert remembered() == folder
    assert (folder / "am" / "final.mdl").is_file()


def test_ctrl_c_leaves_nothing_behind(home, answers, model_zip):
    content = model_zip.read_bytes()
    answers |= {"/list.json": listing(entry(content)), "/model.zip": content}

    def interrupt(done: int, total: int) -> None:
        if done > total // 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fetch(progress=interrupt)
    assert leftovers(home) == []


def test_the_publisher_s_list_is_asked_by_https(monkeypatch):
    monkeypatch.delenv("DIARYIDX_MODEL_LIST", raising=False)
    assert download.publisher_list().startswith("https://")
