"""Who gets in, with real requests to a site that really runs: nobody without a password, nobody after it was taken."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.shop import Shop
from diaryidx.site import guard, remembered, signin
from diaryidx.site.server import make_app
from diaryidx.site.signin import COOKIE, FORM_COOKIE, SIGN_IN, Door
from tests.site.people import PASSWORDS, PEOPLE, as_role, sign_in, token_in, with_people
from tests.site.running import running, running_app
from tests.site.seeded_shop import CUSTOMER, DIARY, REGISTRATION, VIN, empty_shop, seeded_shop

HTML = {"accept": "text/html,application/xhtml+xml"}
PRIVATE = (CUSTOMER, REGISTRATION, VIN, "curlew", "Curlew", "caliper", "Ida Brask")
#: Every kind of address that the site has, and some that it has not.
EVERYTHING = [
    "/", "/index.json", "/.json", "/builds", "/builds.json", "/builds/41", "/builds/41.json", "/search?q=brake",
    "/search.json?q=brake", "/films", f"/films/{DIARY}", f"/films/{DIARY}.json", f"/films/{DIARY}/captions.vtt",
    f"/media/{DIARY}", f"/stills/{DIARY}/2.jpg", "/questions", "/questions/1", "/months", "/months/2025-03",
    "/review", "/review.json", "/decisions", "/decisions.json", "/photos/x.jpg",
    "/shop", "/shop.json", "/shop.db", "/shop/builds", "/shop/builds.json", "/shop/builds.csv", "/shop/builds/41",
    "/shop/builds/41.json?_shape=objects", "/shop?sql=select+*+from+builds", "/shop.json?sql=select+*+from+builds",
    "/shop/sentences_fts", "/_internal", "/_memory?sql=select+1", "/-/metadata.json", "/-/actor.json", "/-/permissions",
    "/-/logout", "/-/login.json", "/-/auth-token?token=x", "/%62uilds/41", "/static/../builds/41",
    "/-/static/../../builds/41", "/static%2f..%2fbuilds", "//builds/41", "/enter/../builds", "/-/login/../../builds",
    "/nowhere",
]  # fmt: skip


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    return with_people(seeded_shop(tmp_path_factory.mktemp("manned") / "shop"))


@pytest.fixture(scope="module")
def address(shop: Shop) -> Iterator[str]:
    with running(shop, open_door=False) as found:
        yield found


@pytest.fixture
def browser(address: str) -> Iterator[httpx.Client]:
    """A browser in which nobody is signed in; it follows nothing by itself."""
    with httpx.Client(base_url=address, trust_env=False, timeout=20) as client:
        yield client


@pytest.mark.parametrize("place", EVERYTHING)
def test_nothing_is_served_to_whom_is_not_signed_in(browser: httpx.Client, place: str) -> None:
    for headers in (HTML, {"accept": "*/*"}, {"accept": "application/json"}):
        for method in ("GET", "HEAD"):
            reply = browser.request(method, place, headers=headers)
            assert reply.status_code in (302, 403, 404), (place, headers)
            assert not any(word in reply.text for word in PRIVATE)
            if reply.status_code == 302:
                assert reply.headers["location"].startswith(SIGN_IN)
                assert reply.headers["cache-control"] == "no-store"


def test_a_person_is_led_to_sign_in_and_on_to_where_they_wanted(browser: httpx.Client) -> None:
    asked = browser.get("/search?q=brake pads&x=%26", headers=HTML)
    wanted = parse_qs(urlsplit(asked.headers["location"]).query)["next"][0]
    assert browser.get(asked.headers["location"]).status_code == 200
    reply = sign_in(browser, "Tove", next=wanted)
    assert (reply.status_code, reply.headers["location"]) == (302, "/search?q=brake%20pads&x=%26")
    assert "caliper" in browser.get(reply.headers["location"]).text


@pytest.mark.parametrize(
    "elsewhere",
    ["https://evil.example/", "//evil.example", "/\\evil.example", "evil", "/\t/evil.example", "/-/login", "/a\r\nb: c",
     "javascript:alert(1)", "/enter?token=x", ""],
)  # fmt: skip
def test_nobody_is_led_off_the_site_after_signing_in(browser: httpx.Client, elsewhere: str) -> None:
    assert sign_in(browser, "Tove", next=elsewhere).headers["location"] == "/"


@given(st.text())
def test_the_way_back_is_always_a_place_here(asked: str) -> None:
    back = signin.way_back(asked)
    parts = urlsplit(back)
    assert back.startswith("/") and not parts.scheme and not parts.netloc


def test_each_role_reaches_what_it_may_and_no_more(address: str) -> None:
    reached = {}
    for role in PEOPLE:
        with closing(as_role(address, role)) as client:
            pages = ("/builds/41", "/months/2025-03", f"/films/{DIARY}", "/review", "/decisions", "/shop/builds.json")
            reached[role] = [client.get(page, headers=HTML).status_code for page in pages]
            words = client.get("/").text
            assert f"{PEOPLE[role]}, {role}" in words
            assert ('href="/review"' in words) == (role != "marketing")
            assert ('href="/shop"' in words) == (role != "marketing")
            refused = ("/_internal", "/shop.db", "/shop?sql=select+1", "/-/permissions", "/-/metadata.json")
            assert {client.get(page).status_code for page in refused} <= {403, 404}
    assert reached == {"owner": [200] * 6, "staff": [200] * 6, "marketing": [200, 200, 200, 403, 403, 403]}


def test_no_page_shows_a_hash_of_a_password(address: str) -> None:
    with closing(as_role(address, "owner")) as client:
        for place in EVERYTHING:
            assert "pbkdf2" not in client.get(place, headers=HTML).text, place


def test_names_are_typed_as_telephones_type_them(browser: httpx.Client) -> None:
    assert sign_in(browser, "  bram   OAKES ", PASSWORDS["Bram Oakes"]).status_code == 302


@pytest.mark.parametrize(
    ("name", "password"),
    [("Tove", "wrong"), ("Tove", ""), ("Nobody", "larch kettle Tuesday 9"), ("", ""), ("Ida", PASSWORDS["Tove"]),
     ("root", "root"), ("actors", "x"), ("Tove_password_hash", "x")],
)  # fmt: skip
def test_a_wrong_name_or_password_says_only_that_and_takes_the_same_time(
    tmp_path: Path, name: str, password: str
) -> None:
    with running(with_people(empty_shop(tmp_path / "shop")), open_door=False) as address:
        client = httpx.Client(base_url=address, trust_env=False)
        started = time.monotonic()
        reply = sign_in(client, name, password or " ")
        assert guard.WRONG_SECONDS <= time.monotonic() - started < guard.WRONG_SECONDS + 1.5
        assert reply.status_code == 403
        assert "do not belong together" in reply.text
        assert COOKIE not in reply.headers.get("set-cookie", "")
        assert client.get("/builds.json").status_code == 403


def test_guessing_gets_slower_for_the_name_and_for_the_place_it_comes_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(guard, "WRONG_SECONDS", 0.0)
    with running(with_people(empty_shop(tmp_path / "shop")), open_door=False) as address:
        client = httpx.Client(base_url=address, trust_env=False)
        tries = [sign_in(client, "Tove", f"guess {number}") for number in range(signin.FREE_TRIES)]
        assert [reply.status_code for reply in tries] == [403] * signin.FREE_TRIES
        right = sign_in(client, "Tove")
        assert (right.status_code, right.headers["retry-after"]) == (429, "1")
        assert "Wait 1 second," in right.text
        assert sign_in(client, "Ida").status_code == 429, "another name from the same place waits too"
        time.sleep(1.1)
        assert sign_in(client, "Tove").status_code == 302
        assert sign_in(httpx.Client(base_url=address, trust_env=False), "Ida").status_code == 302


def test_a_hundred_guesses_take_most_of_a_day() -> None:
    """NIST SP 800-63B, 5.2.2 (from memory): no more than 100 failed tries in a row on one account."""
    door, now = Door(), 0.0
    for _ in range(100):
        wait = signin.wait_before_trying(door, ("name tove",), now)
        now += wait
        assert signin.wait_before_trying(door, ("name tove",), now) == 0
        signin.count_try(door, ("name tove",), now)
    assert now > 20 * 3600
    assert signin.wait_before_trying(door, ("name tove",), now) == signin.LONGEST_WAIT
    assert signin.wait_before_trying(door, ("name ida",), now) == 0
    signin.forget_tries(door, ("name tove",))
    assert signin.wait_before_trying(door, ("name tove",), now) == 0


def test_many_made_up_names_do_not_fill_the_memory() -> None:
    door = Door()
    for number in range(3 * signin.MOST_REMEMBERED):
        signin.count_try(door, (f"name {number}",), float(number))
    assert len(door.failures) <= signin.MOST_REMEMBERED + 1


def test_passwords_cannot_be_tried_past_the_sign_in_page(browser: httpx.Client) -> None:
    """RFC 7617: the plugin that checks passwords would also take them in a header, at any address, uncounted."""
    assert browser.get("/builds.json", auth=("Tove", PASSWORDS["Tove"])).status_code == 403
    reply = browser.post("/sign-out", auth=("Tove", PASSWORDS["Tove"]), data={"csrftoken": "x"})
    assert reply.status_code == 403


# --- cookies ---------------------------------------------------------------------------------------------------------


def test_cookies_cannot_be_read_by_scripts_nor_sent_by_other_sites(browser: httpx.Client) -> None:
    """RFC 6265bis: HttpOnly and SameSite."""
    reply = sign_in(browser, "Tove")
    (cookie,) = [one for one in reply.headers.get_list("set-cookie") if one.startswith(COOKIE)]
    assert "httponly" in cookie.lower()
    assert "samesite=lax" in cookie.lower()


def forged(site: object, **changed: object) -> str:
    """A cookie with a true signature but for what was changed."""
    actor = signin.actor_for(next(p for p in signin.shop_of(site).settings.staff if p.name == "Tove"))  # type: ignore
    return str(site.sign({"a": {**actor, **changed}}, "actor"))  # type: ignore[attr-defined]


def test_only_a_whole_fresh_cookie_of_somebody_in_staff_counts(tmp_path: Path) -> None:
    shop = with_people(empty_shop(tmp_path / "shop"))
    site, other = make_app(shop), make_app(with_people(empty_shop(tmp_path / "another")))
    now = time.time()
    bad = {
        "another site's key": forged(other),
        "cut short": forged(site)[:-2],
        "too old": forged(site, since=int(now - signin.SESSION_SECONDS - 5)),
        "from the future": forged(site, since=int(now + 3600)),
        "nobody": forged(site, id="Nobody"),
        "another password": forged(site, key="0" * 16),
        "the link's, while people are set up": forged(site, key=signin.BY_LINK),
        "no session": str(site.sign({"a": {"id": "Tove", "role": "owner"}}, "actor")),
        "Datasette's own root": str(site.sign({"a": {"id": "root"}}, "actor")),
        "no actor": str(site.sign({"b": 1}, "actor")),
        "a list": str(site.sign(["a"], "actor")),
        "another purpose": str(site.sign({"a": {"id": "Tove"}}, "messages")),
        "empty": "",
        "rubbish": "é\x01",
    }
    with running_app(site.app()) as address:
        for what, cookie in bad.items():
            headers = [(b"cookie", f"{COOKIE}={cookie}".encode("latin-1"))]
            assert httpx.get(f"{address}/builds.json", headers=headers, trust_env=False).status_code == 403, what
        for good in (forged(site), forged(site, role="marketing")):
            cookies = {COOKIE: good}
            assert httpx.get(f"{address}/builds.json", cookies=cookies, trust_env=False).status_code == 200
        promoted = httpx.get(f"{address}/decisions.json", cookies={COOKIE: forged(site, role="x")}, trust_env=False)
        assert promoted.status_code == 200, "the role is what shop.toml says now, not what a cookie says"


def test_who_is_removed_or_demoted_or_gets_a_new_password_is_so_at_once(tmp_path: Path) -> None:
    shop = with_people(empty_shop(tmp_path / "shop"))
    with running(shop, open_door=False) as address:
        bram, ida = as_role(address, "staff"), as_role(address, "marketing")
        assert bram.get("/decisions.json").status_code == 200
        text = (shop.folder / "shop.toml").read_text()
        (shop.folder / "shop.toml").write_text(text.replace('"staff"\n', '"marketing"\n'))
        assert [bram.get(page).status_code for page in ("/decisions.json", "/builds.json")] == [403, 200]
        with_people(shop, {"owner": "Tove", "staff": "Ida"})
        assert bram.get("/builds.json").status_code == 403
        assert ida.get("/builds.json").status_code == 403, "a new password ends what began with the old one"
        assert as_role(address, "owner").get("/builds.json").status_code == 200


def test_a_broken_shop_file_closes_the_site_and_says_why(tmp_path: Path) -> None:
    shop = with_people(empty_shop(tmp_path / "shop"))
    with running(shop, open_door=False) as address:
        client = as_role(address, "owner")
        (shop.folder / "shop.toml").write_text("name = ")
        reply = client.get("/builds.json")
        assert (reply.status_code, "shop.toml" in reply.text) == (500, True)


def test_signing_out_ends_it_for_copies_of_the_cookie_too(address: str) -> None:
    with closing(as_role(address, "staff")) as client:
        stolen = dict(client.cookies)
        token = token_in(client.get("/").text)
        assert client.get("/sign-out").status_code == 404
        reply = client.post("/sign-out", data={"csrftoken": token})
        assert (reply.status_code, reply.headers["location"]) == (302, SIGN_IN)
        assert client.get("/builds.json").status_code == 403
        assert httpx.get(f"{address}/builds.json", cookies=stolen, trust_env=False).status_code == 403
    with closing(as_role(address, "staff")) as again:
        assert again.get("/builds.json").status_code == 200


def test_a_new_start_signs_nobody_out_and_brings_nothing_back_that_was_ended(tmp_path: Path) -> None:
    shop = with_people(seeded_shop(tmp_path / "shop", films=False))
    with running(shop, open_door=False) as address:
        tove, bram = as_role(address, "owner"), as_role(address, "staff")
        stays, ended = dict(tove.cookies), dict(bram.cookies)
        leave = bram.post("/sign-out", data={"csrftoken": token_in(bram.get("/").text)})
        assert leave.status_code in (302, 303)
    file = shop.folder / remembered.FILE
    assert file.stat().st_mode & 0o777 == 0o600
    with running(shop, open_door=False) as address:
        for cookies, status in ((stays, 200), (ended, 302)):
            with httpx.Client(base_url=address, cookies=cookies, trust_env=False) as client:
                assert client.get("/", headers=HTML).status_code == status
    file.unlink()
    with (
        running(shop, open_door=False) as address,
        httpx.Client(base_url=address, cookies=stays, trust_env=False) as client,
    ):
        assert client.get("/", headers=HTML).status_code == 302, "without the file everybody is signed out"


@pytest.mark.parametrize("harm", ["readable by others", "damaged", "a link", "short"])
def test_a_key_that_others_may_know_is_made_anew(tmp_path: Path, harm: str) -> None:
    first = remembered.signing_key(tmp_path)
    assert remembered.signing_key(tmp_path) == first
    file = tmp_path / remembered.FILE
    if harm == "readable by others":
        file.chmod(0o644)
    elif harm == "a link":
        file.rename(tmp_path / "elsewhere")
        file.symlink_to(tmp_path / "elsewhere")
    else:
        file.write_text("{" if harm == "damaged" else '{"key": "00", "ended": {}}')
    second = remembered.signing_key(tmp_path)
    assert second != first and remembered.signing_key(tmp_path) == second
    assert not file.is_symlink() and file.stat().st_mode & 0o777 == 0o600


def test_ended_sign_ins_are_forgotten_when_they_would_have_ended_by_themselves(tmp_path: Path) -> None:
    remembered.signing_key(tmp_path)
    remembered.end_sign_in(tmp_path, "old", time.time() - 1)
    remembered.end_sign_in(tmp_path, "new", time.time() + 60)
    assert [remembered.was_ended(tmp_path, one) for one in ("old", "new", "other")] == [False, True, False]


def test_what_was_planted_before_signing_in_is_worth_nothing_after(address: str) -> None:
    """Session fixation (CWE-384): cookies that somebody else put there become nobody's sign-in."""
    with closing(as_role(address, "marketing")) as planter:
        planter.get("/")
        planted = dict(planter.cookies)
    with httpx.Client(base_url=address, trust_env=False) as victim:
        for name, value in planted.items():
            victim.cookies.set(name, value, domain="127.0.0.1", path="/")
        assert sign_in(victim, "Tove").status_code == 302
        assert "Tove, owner" in victim.get("/").text
        assert victim.cookies[COOKIE] != planted[COOKIE]
        assert victim.cookies[FORM_COOKIE] != planted[FORM_COOKIE]
    still = httpx.get(f"{address}/", cookies=planted, trust_env=False)
    assert "Ida, marketing" in still.text


def test_two_sign_ins_are_never_the_same(address: str) -> None:
    with closing(as_role(address, "staff")) as one, closing(as_role(address, "staff")) as other:
        assert one.cookies[COOKIE] != other.cookies[COOKIE]


# --- forms -----------------------------------------------------------------------------------------------------------


def test_signing_in_and_out_need_the_token_of_this_sites_own_page(browser: httpx.Client, address: str) -> None:
    """Cross-site request forgery (CWE-352), signing in included; Datasette's check alone lets cookieless ones pass."""
    own = {"origin": address}
    token = token_in(browser.get(SIGN_IN).text)
    typed = {"username": "Tove", "password": PASSWORDS["Tove"]}
    bare = httpx.Client(base_url=address, trust_env=False)
    assert bare.post(SIGN_IN, data={**typed, "csrftoken": token}, headers=own).status_code == 403, "no cookie"
    assert browser.post(SIGN_IN, data=typed, headers=own).status_code == 403, "no token"
    for bad in (token[:-1] + "x", "é", "", token + token):
        assert browser.post(SIGN_IN, data={**typed, "csrftoken": bad}, headers=own).status_code in (400, 403), bad
    for origin in ("https://evil.example", "null", address.replace("127.0.0.1", "localhost"), address + "1", ""):
        reply = browser.post(SIGN_IN, data={**typed, "csrftoken": token}, headers={"origin": origin})
        assert reply.status_code == 403, origin
    for site in ("cross-site", "same-site", "none"):
        reply = browser.post(SIGN_IN, data={**typed, "csrftoken": token}, headers={**own, "sec-fetch-site": site})
        assert reply.status_code == 403, site
    bearer = {**own, "authorization": "Bearer x"}
    assert browser.post(SIGN_IN, data=typed, headers=bearer).status_code == 403, "Datasette's check lets bearers pass"
    assert browser.post(SIGN_IN, json={**typed, "csrftoken": token}, headers=own).status_code == 415
    assert browser.get("/builds.json").status_code == 403
    assert browser.post(SIGN_IN, data={**typed, "csrftoken": token}, headers=own).status_code == 302


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("application/x-www-form-urlencoded", b"\xff\xfe=\x00"),
        ("application/x-www-form-urlencoded", b"x=" + b"y" * 200_000),
        ("multipart/form-data; boundary=x", b"--x\r\nrubbish"),
        ("multipart/form-data; boundary=x", b"--x\r\nContent-Disposition: form-data; name=f; filename=a\r\n\r\nz"),
        ("multipart/form-data", b"x"),
        ("multipart/form-data;boundary=x", b"x"),
    ],
)  # fmt: skip
def test_a_form_that_cannot_be_read_is_refused_in_a_line(browser: httpx.Client, kind: str, body: bytes) -> None:
    browser.get(SIGN_IN)
    for place in (SIGN_IN, "/sign-out", "/review"):
        reply = browser.post(place, content=body, headers={"content-type": kind})
        assert reply.status_code in (400, 403, 413, 415), place
        assert "Traceback" not in reply.text


# --- while nobody is set up ------------------------------------------------------------------------------------------


def test_while_nobody_is_set_up_only_the_link_from_the_terminal_opens_the_site(tmp_path: Path) -> None:
    shop = seeded_shop(tmp_path / "shop", films=False)
    site = make_app(shop)
    with running_app(site.app()) as address, httpx.Client(base_url=address, trust_env=False) as client:
        first = client.get("/", headers=HTML, follow_redirects=True)
        assert "Nobody is set up to sign in yet" in first.text
        assert "diaryidx staff add NAME --role owner" in first.text
        assert not any(word in first.text for word in PRIVATE)
        link = signin.entrance(site, address)
        assert link is not None
        assert len(re.split(r"token=", link)[1]) >= 32
        assert client.get(link[:-1] + "_").status_code == 403
        entered = client.get(link)
        assert (entered.status_code, entered.headers["location"]) == (302, "/")
        assert f"{signin.starter().name}, owner" in client.get("/").text
        assert client.get("/_internal").status_code == 403, "whatever the account is called, also root"
        stranger = httpx.Client(base_url=address, trust_env=False)
        assert stranger.get(link).status_code == 403, "good once"
        assert stranger.get("/builds.json").status_code == 403
        with_people(shop)
        assert client.get("/builds.json").status_code == 403, "once people are set up, they sign in as themselves"
        assert signin.entrance(site, address) is None


def test_the_link_opens_nothing_where_people_are_set_up(tmp_path: Path) -> None:
    shop = with_people(empty_shop(tmp_path / "shop"))
    site = make_app(shop)
    with running_app(site.app()) as address:
        link = f"{address}/enter?token={signin.door_of(site).link}"
        assert httpx.get(link, trust_env=False).status_code == 403
