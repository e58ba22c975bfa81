"""Who may sign in: kept in shop.toml beside everything else that stands there, with hashes alone."""

from __future__ import annotations

import base64
import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from diaryidx.errors import NotFound, WrongUse
from diaryidx.shop import ROLES, Person, Shop, load_shop, starter_settings
from diaryidx.staff import ABILITIES, add_person, checked_name, may, remove_person

PASSWORD = "larch kettle Tuesday 9"
SETTINGS = """# Our own notes stay.
name = "Quillmark Cycles"   # on the sign outside

[speech]
model = "mini" # small

# The people.
"""


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    (tmp_path / "shop.toml").write_text(SETTINGS)
    return load_shop(tmp_path)


def text_of(shop: Shop) -> str:
    return (shop.folder / "shop.toml").read_text()


def test_people_come_and_go_and_every_comment_stays(shop: Shop) -> None:
    add_person(shop, "Tove", "owner", PASSWORD)
    shop = load_shop(shop.folder)
    (shop.folder / "shop.toml").write_text(text_of(shop) + "# Tove is in on Mondays\n")
    add_person(shop, "Bram Oakes", "marketing", PASSWORD)
    shop = load_shop(shop.folder)
    assert [(one.name, one.role) for one in shop.settings.staff] == [("Tove", "owner"), ("Bram Oakes", "marketing")]
    assert shop.settings.name == "Quillmark Cycles"
    for comment in ("# Our own notes stay.", "# on the sign outside", "# small", "# The people.", "on Mondays"):
        assert comment in text_of(shop)
    remove_person(shop, "bram oakes")
    remove_person(load_shop(shop.folder), "Tove")
    assert load_shop(shop.folder).settings.staff == ()
    assert text_of(shop).startswith(SETTINGS.rstrip())


def test_a_new_shops_settings_take_people_too(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text(starter_settings("Quillmark"))
    add_person(load_shop(tmp_path), "Tove", "owner", PASSWORD)
    assert text_of(load_shop(tmp_path)).startswith(starter_settings("Quillmark").rstrip())


def test_only_a_salted_hash_is_written(shop: Shop) -> None:
    """PBKDF2 as RFC 8018, 5.2, computed here by the standard library alone."""
    add_person(shop, "Tove", "owner", PASSWORD)
    (tove,) = load_shop(shop.folder).settings.staff
    scheme, rounds, salt, hashed = tove.password_hash.split("$")
    assert scheme == "pbkdf2_sha256"
    assert int(rounds) >= 480_000
    assert base64.b64decode(hashed) == hashlib.pbkdf2_hmac("sha256", PASSWORD.encode(), salt.encode(), int(rounds))
    assert PASSWORD not in text_of(shop)
    assert tove.password_hash not in repr(tove)


def test_a_new_password_replaces_the_old_one(shop: Shop) -> None:
    add_person(shop, "Tove", "owner", PASSWORD)
    (before,) = load_shop(shop.folder).settings.staff
    add_person(load_shop(shop.folder), "TOVE", "owner", PASSWORD + "x")
    (after,) = load_shop(shop.folder).settings.staff
    assert after.name == "Tove"
    assert after.password_hash != before.password_hash


def test_the_file_keeps_its_permissions_and_its_line_ends(shop: Shop) -> None:
    file = shop.folder / "shop.toml"
    file.write_bytes(SETTINGS.replace("\n", "\r\n").encode())
    file.chmod(0o600)
    add_person(shop, "Tove", "owner", PASSWORD)
    assert file.stat().st_mode & 0o777 == 0o600
    assert file.read_bytes().startswith(SETTINGS.rstrip().replace("\n", "\r\n").encode())


def test_there_is_always_an_owner(shop: Shop) -> None:
    with pytest.raises(WrongUse, match="--role owner"):
        add_person(shop, "Bram", "staff", PASSWORD)
    add_person(shop, "Tove", "owner", PASSWORD)
    add_person(load_shop(shop.folder), "Bram", "staff", PASSWORD)
    with pytest.raises(WrongUse, match="owner"):
        remove_person(load_shop(shop.folder), "Tove")
    with pytest.raises(WrongUse, match="owner"):
        add_person(load_shop(shop.folder), "Tove", "staff", PASSWORD)
    assert len(load_shop(shop.folder).settings.staff) == 2


@pytest.mark.parametrize(
    ("name", "password"),
    [
        ("", PASSWORD),
        ("a:b", PASSWORD),
        ("x_password_hash", PASSWORD),
        ("$env", PASSWORD),
        ("<b>Tove</b>", PASSWORD),
        ("x" * 41, PASSWORD),
        ("Tove", "short"),
        ("Tove", "x" * 257),
        ("Tove", "aaaaaaaaaaaaaa"),
        ("Tove", "tovetovetove"),
        ("Tove", "larch kettle\n Tuesday"),
    ],
)
def test_what_cannot_be_used_is_refused_in_one_line(shop: Shop, name: str, password: str) -> None:
    with pytest.raises(WrongUse) as refused:
        add_person(shop, name, "owner", password)
    assert "\n" not in str(refused.value)
    assert text_of(shop) == SETTINGS


@given(st.text())
def test_a_name_that_is_kept_can_be_a_key_and_stays_as_it_is(name: str) -> None:
    try:
        kept = checked_name(name)
    except WrongUse:
        return
    assert checked_name(kept) == kept
    assert not set(kept) & set('_:$<>&"\n')


def test_nobody_unknown_is_removed(shop: Shop) -> None:
    with pytest.raises(NotFound, match="staff list"):
        remove_person(shop, "Nobody")


def test_what_each_role_may_do() -> None:
    allowed = {role: {ability for ability in ABILITIES["owner"] if may(Person("x", role), ability)} for role in ROLES}
    assert allowed["owner"] == {"look up", "decide", "write", "tables", "oversee", "customers"}
    assert allowed["staff"] == {"look up", "decide", "write", "tables", "customers"}
    assert allowed["marketing"] == {"look up"}
