"""The people who may sign in on the site: who they are, what their roles may do, and how they get into shop.toml.

shop.toml is edited in place: comments and everything else in it stay as they are.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Literal, get_args

import tomlkit
from tomlkit.exceptions import TOMLKitError

from diaryidx.errors import NotFound, WrongUse
from diaryidx.shop import Person, Role, Shop, load_shop
from diaryidx.whole_files import write_whole

#: What can be done on the site. "look up": search and read every page, the months and their round-ups too. "decide":
#: the review page, with teaching what was misheard. "write": notes, photos and voice notes. "tables": all that is
#: stored, as tables. "oversee": undo what others decided, taught and wrote. "customers": see whose a bike is, its
#: registration and VIN, on any page.
Ability = Literal["look up", "decide", "write", "tables", "oversee", "customers"]
ABILITIES: dict[Role, frozenset[Ability]] = {
    "owner": frozenset(get_args(Ability)),
    "staff": frozenset(("look up", "decide", "write", "tables", "customers")),
    "marketing": frozenset(("look up",)),
}
#: The shortest password, in characters: between the 8 of NIST SP 800-63B and the 15 that its fourth revision asks of a
#: password that stands alone (both from memory); no rules on kinds of characters, as both say.
SHORTEST_PASSWORD, LONGEST_PASSWORD = 12, 256
LONGEST_NAME = 40
_NAME = re.compile(r"[^\W_](?:[^\W_]|[ .'’-])*")


def may(person: Person, ability: Ability) -> bool:
    """Whether a person's role lets them do something."""
    return ability in ABILITIES[person.role]


def add_person(shop: Shop, name: str, role: Role, password: str) -> Person:
    """Let somebody sign in on the site; who is there already gets the new role and password.

    :param password: as typed; only its salted hash is written (PBKDF2, as datasette-auth-passwords checks it).
    :raises WrongUse: the name or password cannot be used, or there would be no owner.
    """
    from datasette_auth_passwords.utils import hash_password

    name = checked_name(name)
    known = next((one for one in shop.settings.staff if one.name.casefold() == name.casefold()), None)
    others = [one for one in shop.settings.staff if one is not known]
    _require_owner([*others, Person(name, role)])
    person = Person(known.name if known else name, role, hash_password(checked_password(password, name)))
    _write(shop, [*others, person], person)
    return person


def remove_person(shop: Shop, name: str) -> Person:
    """Let somebody sign in no more; what they decided and wrote stays, with their name.

    :raises NotFound: nobody in staff has this name.
    :raises WrongUse: they are the last owner, and others remain.
    """
    wanted = " ".join(name.split()).casefold()
    person = next((one for one in shop.settings.staff if one.name.casefold() == wanted), None)
    if person is None:
        raise NotFound(f"nobody in staff is called {name!r}; `diaryidx staff list` shows who is")
    left = [one for one in shop.settings.staff if one is not person]
    if left:
        _require_owner(left)
    _write(shop, left, None)
    return person


def checked_name(name: str) -> str:
    """A name as it is kept and typed to sign in.

    :raises WrongUse: it is empty, too long, or has signs that names have not.
    """
    name = " ".join(unicodedata.normalize("NFC", name).split())
    if not _NAME.fullmatch(name) or len(name) > LONGEST_NAME:
        raise WrongUse(
            f"{name[:60]!r} cannot be used as a name; take letters, digits and spaces, at most {LONGEST_NAME}"
        )
    return name


def checked_password(password: str, name: str) -> str:
    """A password that takes long to guess.

    :raises WrongUse: it is too short, too long, of one sign, or made of the name.
    """
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise WrongUse(
            f"the password must have {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters; four words do well"
        )
    bare = password.casefold().replace(name.casefold(), "")
    if len(set(bare)) < 4 or not password.isprintable():
        raise WrongUse("this password is guessed at once; take four words that do not belong together")
    return password


def _require_owner(people: list[Person]) -> None:
    if all(person.role != "owner" for person in people):
        raise WrongUse("somebody must be the owner: `diaryidx staff add NAME --role owner` first")


def _write(shop: Shop, people: list[Person], changed: Person | None) -> None:
    """Write who is in staff; the rows of people who did not change stay as they are, with their comments."""
    file = shop.folder / "shop.toml"
    try:
        before = file.read_bytes()
        after = _edited(before.decode("utf-8-sig"), {one.name for one in people}, changed).encode()
        mode = file.stat().st_mode & 0o777
        write_whole(file, after, mode)
        if set(load_shop(shop.folder).settings.staff) != set(people):  # never leave behind what was not meant
            write_whole(file, before, mode)
            raise WrongUse(f"{file}: staff cannot be changed in this layout; write each person as [[staff]]")
    except OSError as error:
        raise WrongUse(f"{file}: cannot be written ({error.strerror})") from error
    except (UnicodeDecodeError, TOMLKitError) as error:
        raise WrongUse(f"{file}: cannot be changed ({error})") from error


def _edited(text: str, names: set[str], changed: Person | None) -> str:
    document = tomlkit.parse(text)
    rows = document.setdefault("staff", tomlkit.aot())
    for place in reversed(range(len(rows))):
        if rows[place]["name"] not in names:
            del rows[place]
    if changed is not None:
        row = next((row for row in rows if row["name"] == changed.name), None)
        if row is None:
            row = tomlkit.table()
            row["name"] = changed.name
            rows.append(row)
            row = rows[-1]
        row["role"], row["password_hash"] = changed.role, changed.password_hash
    if not rows:
        del document["staff"]
    return tomlkit.dumps(document)
