"""The address of every page, in one place, so that pages, JSON and tests agree.

Names inside an address are tilde-encoded as everywhere in Datasette, so that a job number such as ``J/17.json`` stays
one path part and is never taken for another page.
"""

from __future__ import annotations

from urllib.parse import unquote

from datasette.utils import tilde_decode, tilde_encode


def film_address(recording: str, start: float | None = None) -> str:
    """A film's page; with ``start`` (seconds) it begins to play there."""
    moment = "" if start is None else f"?t={max(0.0, start):.10g}"
    return f"/films/{tilde_encode(recording)}{moment}"


def build_address(job_number: str) -> str:
    """A build's history."""
    return f"/builds/{tilde_encode(job_number)}"


def question_address(entry: int) -> str:
    """A FAQ entry."""
    return f"/questions/{entry}"


def month_address(month: str) -> str:
    """A month's round-up; ``month`` as ``YYYY-MM``."""
    return f"/months/{month}"


def media_address(recording: str) -> str:
    """The film itself, for a player."""
    return f"/media/{tilde_encode(recording)}"


def captions_address(recording: str) -> str:
    """The film's captions as WebVTT."""
    return f"/films/{tilde_encode(recording)}/captions.vtt"


def still_address(recording: str, seconds: float) -> str:
    """A small picture of the film at a whole second."""
    return f"/stills/{tilde_encode(recording)}/{max(0, int(seconds))}.jpg"


def exact_still_address(recording: str, seconds: float) -> str:
    """A small picture of the film at a very moment, to the hundredth of a second."""
    return f"/stills/{tilde_encode(recording)}/{max(0.0, seconds):.2f}.jpg"


def name_in_address(part: str) -> str:
    """The name that a path part stands for, tilde-encoded by us or percent-encoded by a browser or a person."""
    name: str = tilde_decode(unquote(part))
    return name
