"""Datasette's plugin marker, typed: the same that ``datasette.hookimpl`` is."""

from __future__ import annotations

from pluggy import HookimplMarker

hookimpl = HookimplMarker("datasette")
