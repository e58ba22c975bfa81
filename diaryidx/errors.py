"""The errors a person may see: one clear line each, with the exit code that the command ends with."""

from __future__ import annotations


class DiaryidxError(Exception):
    """Something could not be done. The message says what, where and what to do, in one line.

    ``exit_code`` follows the command contract: 1 when an input failed, 2 for wrong use.
    """

    exit_code = 1


class WrongUse(DiaryidxError):
    """The command was called in a way that cannot work: a bad setting, an unknown name, a missing shop folder."""

    exit_code = 2


class DecidedBefore(WrongUse):
    """Another person decided otherwise before; doing it all the same takes a word to say so, and keeps both."""


class MediaError(DiaryidxError):
    """A file that cannot be opened, has no sound, or breaks while it is decoded."""


class SpeechError(DiaryidxError):
    """A speech engine or its model is missing, damaged or cannot be fetched."""


class VocabularyError(WrongUse):
    """A vocabulary file is wrong; the message names the file and the line."""


class JobBookError(DiaryidxError):
    """A job book that cannot be read as a table of builds."""


class StoreError(DiaryidxError):
    """The database is missing, locked, damaged or not ours."""


class NotFound(WrongUse):
    """Nothing in the shop has this name: a recording, a build, a month."""
