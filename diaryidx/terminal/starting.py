"""What is said of a new shop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diaryidx.terminal.lines import print_line

if TYPE_CHECKING:
    from diaryidx.shop import Shop

MINI_MODEL_NOTE = (
    "It listens with the small model that comes along, trained on synthetic voices for demo and tests only: it "
    "understands the demo's speakers and hardly any real one. For your own films: diaryidx model get."
)


def say_what_next(shop: Shop) -> None:
    """Commands to try in the demo shop."""
    print_line("Try:")
    for line in (
        'ask "how do I change the front brake pads"',
        "jobs list",
        "recording",
        "check",
    ):
        print_line(f"  diaryidx {line} --shop {shop.folder}")
