"""What films say beside statements, put in words for people: the same in the terminal, on pages and on sheets."""

from __future__ import annotations

from collections.abc import Sequence

from diaryidx.film_records import CustomerPart, FilmLink, Need, Torque

_UNNAMED = "it"


def customer_part_words(one: CustomerPart) -> str:
    """ "handlebars: to be like the one on the Dipper", "fuel tank: customer's own part"."""
    what = one.part or _UNNAMED
    return f"{what}: to be like {one.like}" if one.how == "copied" else f"{what}: customer's own part"


def customer_note(found: Sequence[CustomerPart], part: str | None) -> str:
    """What is known of where a part comes from, to be said beside it; empty where nothing is."""
    told = [
        "customer's own part" if one.how == "supplied" else f"to be like {one.like}"
        for one in found
        if part and one.part == part
    ]
    return ", ".join(dict.fromkeys(told))


def link_words(link: FilmLink) -> str:
    """What a reference says and the film that it means."""
    return f"“{link.text}”: {link.title}" + (f", {link.date}" if link.date else "")


def need_words(needs: Sequence[Need]) -> str:
    """Tools or materials as they are said, in a row."""
    return ", ".join(need.said for need in needs)


def torque_words(torque: Torque) -> str:
    """ "wheel spindle 65 Nm (48 lbf ft)"."""
    return " ".join(word for word in (torque.part, torque.text) if word)
