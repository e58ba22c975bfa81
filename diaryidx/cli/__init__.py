"""The commands: each turns its options into one call and prints what comes back. Nothing else in the package prints.

A module a subject; the table of contents is `COMMANDS`.
"""

from __future__ import annotations

from typing import Any

import click

from diaryidx import __version__
from diaryidx.cli import builds, care, faq, films, jobs, language, model, month, notes, review, site, starting, teaching
from diaryidx.errors import DiaryidxError
from diaryidx.terminal.lines import complain

#: Every command, in the order a newcomer needs them.
COMMANDS: tuple[click.Command, ...] = (
    starting.demo,
    starting.init,
    model.model,
    films.index,
    faq.ask,
    builds.history,
    month.roundup,
    films.transcript,
    films.captions,
    films.segments,
    language.explain,
    teaching.teach,
    films.recording,
    jobs.jobs,
    builds.developments,
    notes.note,
    review.review,
    review.decisions,
    care.backup,
    care.restore,
    site.staff,
    site.serve,
    care.check,
)


class Commands(click.Group):
    """The command group: says our own errors in one line, with the exit code of the contract."""

    def invoke(self, context: click.Context) -> Any:
        """Run a command; 0 done, 1 some inputs failed, 2 wrong use."""
        try:
            return super().invoke(context)
        except DiaryidxError as error:
            complain(str(error))
            context.exit(error.exit_code)
        except KeyboardInterrupt:
            complain("stopped; what was finished is kept, run the same command to go on")
            context.exit(1)

    def list_commands(self, context: click.Context) -> list[str]:
        """The commands in the order a newcomer needs them."""
        return list(self.commands)


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="diaryidx")
def main() -> None:
    """Find again what your workshop said on film.

    diaryidx listens to your own recordings on this machine, works out which bike, part and job is being talked about,
    ties it to your job book, and answers questions with the moment it was said.

    \b
    To look around:      diaryidx demo
    Your own films:      diaryidx init my-shop, put films into my-shop/recordings,
                         diaryidx model get, then diaryidx index --shop my-shop
    A customer asks:     diaryidx ask "how often should I change the fork oil"
    What was done to it: diaryidx history 209
    The month:           diaryidx roundup 2026-10
    In a browser:        diaryidx serve

    Nothing leaves this machine; only `model get` uses the network.
    """


for _command in COMMANDS:
    main.add_command(_command)
