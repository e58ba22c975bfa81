"""diaryidx: an index of a motorcycle workshop's own films, made and kept on the workshop's own machine."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

try:
    __version__ = version("diaryidx")
except PackageNotFoundError:  # a checkout that was never installed
    __version__ = "0"
