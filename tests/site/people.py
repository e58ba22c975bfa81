"""Three people of an invented shop who can sign in, and how they do it: as a browser would, through the site's page."""

from __future__ import annotations

import re
from dataclasses import replace

import httpx
from datasette_auth_passwords.utils import hash_password

from diaryidx.shop import Shop, load_shop
from diaryidx.site.signin import SIGN_IN

#: Names by role; each one's password. The hashes are made with few rounds, so that tests need not wait for them.
PEOPLE = {"owner": "Tove", "staff": "Bram Oakes", "marketing": "Ida"}
PASSWORDS = {"Tove": "larch kettle Tuesday 9", "Bram Oakes": "umber gantry walnut 4", "Ida": "pewter lantern crow 7"}
ROUNDS = 2000


def with_people(shop: Shop, people: dict[str, str] | None = None) -> Shop:
    """The shop with its people in shop.toml."""
    rows = [
        f'[[staff]]\nname = "{name}"\nrole = "{role}"\n'
        f'password_hash = "{hash_password(PASSWORDS[name], iterations=ROUNDS)}"\n'
        for role, name in (people or PEOPLE).items()
    ]
    file = shop.folder / "shop.toml"
    kept = file.read_text(encoding="utf-8").partition("\n[[staff]]")[0].rstrip()
    file.write_text("\n\n".join([kept, *rows]), encoding="utf-8")
    return replace(shop, settings=load_shop(shop.folder).settings)


def token_in(page: str) -> str:
    """The token that a page's forms carry."""
    found = re.search(r'name="csrftoken" value="([^"]+)"', page)
    assert found is not None, "the page has no form"
    return found[1]


def sign_in(client: httpx.Client, name: str, password: str | None = None, **asked: str) -> httpx.Response:
    """Fill in the sign-in page and send it."""
    page = client.get(SIGN_IN, params=asked, headers={"accept": "text/html"})
    typed = {"csrftoken": token_in(page.text), "username": name, "password": password or PASSWORDS[name]}
    return client.post(SIGN_IN, params=asked, data=typed, headers={"origin": str(client.base_url).rstrip("/")})


def as_role(address: str, role: str) -> httpx.Client:
    """A browser in which the person of a role is signed in."""
    client = httpx.Client(base_url=address, trust_env=False, timeout=20)
    reply = sign_in(client, PEOPLE[role])
    assert reply.status_code == 302, reply.text
    return client
