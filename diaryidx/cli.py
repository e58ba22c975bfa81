"""The commands: each turns its options into one call and prints what comes back. Nothing else in the package prints."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypeVar

import click
from sqlite_utils import Database

from diaryidx import __version__, terminal
from diaryidx.errors import DiaryidxError, WrongUse
from diaryidx.records import RECORDING_KINDS, Build
from diaryidx.shop import ENGINES, ROLES, Role, Shop, load_shop

if TYPE_CHECKING:
    from diaryidx.builds.job_book import JobBook
    from diaryidx.site.server import Reach
    from diaryidx.teaching import Plan

Command = TypeVar("Command", bound=Callable[..., Any])


class Commands(click.Group):
    """The command group: says our own errors in one line, with the exit code of the contract."""

    def invoke(self, context: click.Context) -> Any:
        """Run a command; 0 done, 1 some inputs failed, 2 wrong use."""
        try:
            return super().invoke(context)
        except DiaryidxError as error:
            terminal.complain(str(error))
            context.exit(error.exit_code)
        except KeyboardInterrupt:
            terminal.complain("stopped; what was finished is kept, run the same command to go on")
            context.exit(1)

    def list_commands(self, context: click.Context) -> list[str]:
        """The commands in the order a newcomer needs them."""
        return list(self.commands)


def shop_option(command: Command) -> Command:
    """Every command's ``--shop DIR``."""
    return click.option(
        "--shop",
        "shop_folder",
        type=click.Path(file_okay=False, path_type=Path),
        default=Path(),
        help="The shop folder; without it, the current folder.",
    )(command)


def json_option(command: Command) -> Command:
    """Every reading command's ``--json``."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON for other programs.")(command)


@contextmanager
def opened(shop_folder: Path) -> Iterator[tuple[Shop, Database]]:
    """A shop and its database, which is closed behind the command."""
    from diaryidx.store.database import open_store, said_plainly

    shop = load_shop(shop_folder)
    db = open_store(shop.database)
    try:
        with said_plainly(shop.database):
            yield shop, db
    finally:
        db.close()


def print_json(shape: object) -> None:
    """Print plain data as JSON."""
    click.echo(json.dumps(shape, ensure_ascii=False, indent=2))


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


@main.command()
@click.argument("folder", metavar="[DIR]", type=click.Path(file_okay=False, path_type=Path), default=Path("demo-shop"))
@click.option("--no-serve", is_flag=True, help="Stop when the shop is indexed, without opening the site.")
@click.option("--port", type=click.IntRange(0, 65535), default=8001, show_default=True, help="The site's port.")
def demo(folder: Path, no_serve: bool, port: int) -> None:
    """Make an invented shop, index its films, open the site.

    The films in DIR are really listened to, with the small model that comes along.

    DIR is ./demo-shop unless named; a demo shop that is already there is used as it is.
    """
    from diaryidx.starting import make_demo

    shop = make_demo(folder)
    click.echo(f"The demo shop is in {shop.folder}. Everyone and everything in it is made up.")
    click.echo(terminal.MINI_MODEL_NOTE)
    _index(shop, (), None, None, as_json=False)
    terminal.say_what_next(shop)
    if not no_serve:
        _serve(shop, port, open_browser=sys.stdout.isatty())


@main.command()
@click.argument("folder", metavar="DIR", type=click.Path(file_okay=False, path_type=Path))
@click.option("--name", help="The shop's name; without it, the folder's name.")
def init(folder: Path, name: str | None) -> None:
    """Make a new shop folder.

    DIR gets commented settings, starter words, an empty job book and a folder for films.
    """
    from diaryidx.starting import make_shop

    shop = make_shop(folder, name)
    click.echo(f"Made {shop.folder}.")
    click.echo("Next: put films into its recordings folder and your job book into jobs.csv (any columns),")
    click.echo(f"then `diaryidx model get` once and `diaryidx index --shop {folder}`.")


@main.group(invoke_without_command=True)
@click.pass_context
def model(context: click.Context) -> None:
    """The speech model: which is used, get one, use yours."""
    if context.invoked_subcommand is None:
        context.invoke(model_status, shop_folder=Path(), as_json=False)


@model.command("status")
@shop_option
@json_option
def model_status(shop_folder: Path, as_json: bool) -> None:
    """Say which engine and model would be used, and why."""
    from diaryidx.speech.home import proven, status

    if (shop_folder / "shop.toml").is_file() or shop_folder != Path():
        shop = load_shop(shop_folder)
        found = proven(status(shop.settings.engine, shop.model))
    else:
        found = proven(status("auto", None))
    if as_json:
        print_json(terminal.model_status_json(found))
    else:
        terminal.show_model_status(found)
    if found.problem:
        sys.exit(1)


@model.command("get")
def model_get() -> None:
    """Fetch the publisher's small English model, about 40 MB. The only command that uses the network."""
    from diaryidx.speech import download

    click.echo(
        f"Fetching {download.MODEL_NAME} from its publisher ({download.publisher_list()}); nothing else is sent."
    )
    with terminal.download_progress() as progress:
        folder = download.get(progress=progress)
    click.echo(f"Installed in {folder}; it is used from now on.")


@model.command("use")
@click.argument("path", type=click.Path(exists=True, path_type=Path))
def model_use(path: Path) -> None:
    """Use the Vosk model in PATH, a folder or a zip, for every shop that names no other."""
    from diaryidx.speech.home import use

    click.echo(f"Using the model in {use(path)} from now on.")


@main.command()
@click.argument("paths", nargs=-1, type=click.Path(path_type=Path))
@click.option("--jobs", type=click.IntRange(1, 256), help="Stretches of film heard at the same time; one a core.")
@click.option("--engine", type=click.Choice(ENGINES), help="Listen with this engine instead of the shop's.")
@shop_option
@json_option
def index(paths: tuple[Path, ...], jobs: int | None, engine: str | None, shop_folder: Path, as_json: bool) -> None:
    """Listen to new and changed films.

    PATHS are films or folders; without them, the shop's recordings folder. A run that was stopped goes on where it
    was, and films that did not change are left alone.
    """
    failed = _index(load_shop(shop_folder), paths, jobs, engine, as_json=as_json)
    if failed:
        sys.exit(1)


@main.command()
@click.argument("question")
@click.option("--reply", "as_reply", is_flag=True, help="Print a reply to paste instead of the passages.")
@click.option("--most", type=click.IntRange(1, 50), default=3, show_default=True, help="How many passages to print.")
@shop_option
@json_option
def ask(question: str, as_reply: bool, most: int, shop_folder: Path, as_json: bool) -> None:
    """Find the moments that answer a question.

    QUESTION is in the customer's own words; the cautions that go with it are printed too.
    """
    from diaryidx.faq.reply import reply
    from diaryidx.faq.search import ask as find_answer
    from diaryidx.shapes import answer_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        answer = find_answer(db.conn, question, _vocabulary(shop, db))
        if as_json:
            print_json(answer_json(answer))
        elif as_reply:
            click.echo(reply(question, answer, shop.settings.name, reading.builds(db.conn)))
        else:
            terminal.show_answer(answer, most, has_films=bool(reading.recordings(db.conn)))


@main.command()
@click.argument("words", metavar="BUILD", nargs=-1, required=True)
@click.option("--since", metavar="DATE", help="Tell what is new since a day; without it, since the last visit.")
@click.option("--sheet", type=click.Path(dir_okay=False, path_type=Path), help="Write a handover sheet to print.")
@shop_option
@json_option
def history(words: tuple[str, ...], since: str | None, sheet: Path | None, shop_folder: Path, as_json: bool) -> None:
    """Show what was done to a bike.

    BUILD is a job number, a registration, a VIN or its end, a nickname, or words that describe it, such as
    "the bronze one with the quilted seat". `diaryidx note BUILD --visit` remembers a customer's visit.
    """
    from diaryidx.builds.finding import find_build
    from diaryidx.builds.history import history as history_of
    from diaryidx.builds.telling import describe_history
    from diaryidx.shapes import candidates_json, history_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        day = _day(shop, since) if since else None
        found = find_build(db.conn, " ".join(words))
        if not isinstance(found, Build):
            print_json(candidates_json(found)) if as_json else terminal.show_candidates(found)
            return
        if sheet:
            _write_sheet(shop, db, found, sheet)
            return
        told = history_of(db.conn, found)
        if as_json:
            print_json(history_json(told, private=True, since=day))
        else:
            click.echo("\n".join(describe_history(told, reading.recordings(db.conn), day)))


@main.command()
@click.argument("month", metavar="YYYY-MM")
@click.option("--as", "form", type=click.Choice(["md", "json"]), default="md", show_default=True, help="The form.")
@shop_option
@json_option
def roundup(month: str, form: str, shop_folder: Path, as_json: bool) -> None:
    """Write the round-up of a month.

    Builds that moved and finished, new products and prices, tutorials, dates, promises, stretches to cut.
    """
    from diaryidx.roundup.month import round_up
    from diaryidx.roundup.render import as_markdown
    from diaryidx.shapes import roundup_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        told = round_up(db.conn, month)
        if as_json or form == "json":
            print_json(roundup_json(told, private=True))
        else:
            click.echo(as_markdown(told, shop.settings.name, reading.recordings(db.conn), reading.builds(db.conn)))


@main.command()
@click.argument("recording_id", metavar="ID")
@shop_option
@json_option
def transcript(recording_id: str, shop_folder: Path, as_json: bool) -> None:
    """Print what was heard in a film.

    Every sentence with its time; below a corrected one, what was heard.
    """
    from diaryidx.shapes import transcript_json
    from diaryidx.store import reading

    with opened(shop_folder) as (_shop, db):
        recording = reading.recording(db.conn, recording_id)
        sentences = reading.sentences(db.conn, recording_id)
        if as_json:
            print_json(transcript_json(recording, sentences))
        else:
            terminal.show_transcript(recording, sentences)


@main.command()
@click.argument("recording_id", metavar="RECORDING")
@click.option("--as", "form", type=click.Choice(["vtt", "srt"]), default="vtt", show_default=True, help="The form.")
@shop_option
@json_option
def captions(recording_id: str, form: Literal["vtt", "srt"], shop_folder: Path, as_json: bool) -> None:
    """Print a film's captions.

    From the words as they are meant, in lines that can be read in time: WebVTT for web players, SRT for editors.
    """
    from dataclasses import asdict

    from diaryidx.store import reading
    from diaryidx.transcript.captions import captions as captions_of
    from diaryidx.transcript.captions import written

    with opened(shop_folder) as (_shop, db):
        film = reading.recording(db.conn, recording_id)
        shown = captions_of(reading.sentences(db.conn, recording_id), film.duration)
    if as_json:
        print_json({"recording": film.id, "captions": [asdict(one) for one in shown]})
    else:
        click.echo(written(shown, form), nl=False)


@main.command()
@click.argument("recording_id", metavar="ID")
@shop_option
@json_option
def segments(recording_id: str, shop_folder: Path, as_json: bool) -> None:
    """Show a film's topics and the bikes they are about.

    Each with the reasons why it is tied to its build.
    """
    from diaryidx.shapes import segment_json
    from diaryidx.store import reading

    with opened(shop_folder) as (_shop, db):
        recording = reading.recording(db.conn, recording_id)
        found = reading.segments(db.conn, recording_id=recording_id)
        if as_json:
            print_json({"segments": [segment_json(segment) for segment in found]})
        else:
            terminal.show_segments(recording, found)


@main.command()
@click.argument("sentence")
@click.option("--as", "form", type=click.Choice(["text", "html"]), default="text", show_default=True, help="The form.")
@shop_option
@json_option
def explain(sentence: str, form: str, shop_folder: Path, as_json: bool) -> None:
    """Show how a sentence is understood.

    Prints the terms in SENTENCE, the cues and their reach, the statements and the rules that made them; `--as html` as
    a page to save and open. Works outside a shop too, then with the shipped words alone.
    """
    from diaryidx.language.explaining import explain as explain_sentence
    from diaryidx.language.pipeline import build_pipeline
    from diaryidx.vocabulary.loader import load_vocabulary

    if (shop_folder / "shop.toml").is_file() or shop_folder != Path():
        with opened(shop_folder) as (shop, db):
            vocabulary = _vocabulary(shop, db)
    else:
        vocabulary = load_vocabulary()
    explanation = explain_sentence(build_pipeline(vocabulary), sentence, vocabulary)
    if as_json:
        print_json(terminal.explanation_json(explanation))
    elif form == "html":
        from diaryidx.language.explaining_page import explanation_page

        click.echo(explanation_page(explanation), nl=False)
    else:
        terminal.show_explanation(explanation)


@main.command()
@click.argument("words", metavar="[HEARD MEANT]", nargs=-1)
@click.option("--list", "as_list", is_flag=True, help="List what was taught.")
@click.option("--suggest", "as_suggestions", is_flag=True, help="Propose words that were probably misheard.")
@click.option("--limit", type=click.IntRange(1, 500), default=20, show_default=True, help="How many to propose.")
@click.option("--undo", metavar="ID|HEARD", help="Take back a correction, by its number or by what was heard.")
@click.option("--yes", is_flag=True, help="Do it without asking.")
@click.option("--by", "person", help="Who decides; without it, the name you are signed in with.")
@shop_option
@json_option
def teach(
    words: tuple[str, ...],
    as_list: bool,
    as_suggestions: bool,
    limit: int,
    undo: str | None,
    yes: bool,
    person: str | None,
    shop_folder: Path,
    as_json: bool,
) -> None:
    """Teach what was misheard.

    Shows every sentence that would change and asks; then HEARD is written as MEANT in all films, those to come too,
    without listening again. What was heard stays beside it.
    """
    from diaryidx.shapes import taught_json
    from diaryidx.store import reading
    from diaryidx.teaching import plan_teaching, plan_undoing

    if (as_list, as_suggestions, undo is not None, bool(words)).count(True) != 1 or len(words) not in (0, 2):
        raise WrongUse('say what was heard and what is meant: diaryidx teach "HEARD" "MEANT", or --list, --undo ID')
    with opened(shop_folder) as (shop, db):
        if as_suggestions:
            _suggest(shop, db, limit, as_json=as_json)
            return
        if as_list:
            taught = reading.taught(db.conn)
            behind = len(reading.films_behind(db.conn, reading.last_decision(db.conn)))
            if as_json:
                print_json({"taught": [taught_json(one) for one in taught], "films_behind": behind})
            else:
                terminal.show_taught(taught, behind)
            return
        plan = plan_teaching(shop, db, *words) if undo is None else plan_undoing(shop, db, undo)
        _decide(shop, db, plan, person, yes=yes, as_json=as_json)


@main.command()
@click.argument("recording_id", metavar="[ID]", required=False)
@click.option("--date", help="When it was filmed, as YYYY-MM-DD.")
@click.option("--month", help="The month it belongs to, as YYYY-MM, if not that of its date.")
@click.option("--kind", type=click.Choice(RECORDING_KINDS), help="What sort of film it is.")
@click.option("--title", help="Its title.")
@click.option("--address", help="Where the public can watch it, as a web address.")
@shop_option
@json_option
def recording(
    recording_id: str | None,
    date: str | None,
    month: str | None,
    kind: str | None,
    title: str | None,
    address: str | None,
    shop_folder: Path,
    as_json: bool,
) -> None:
    """List films, show one, correct what was guessed.

    A correction stays through every re-index.
    """
    from diaryidx.correcting import correct
    from diaryidx.shapes import recording_json
    from diaryidx.store import reading

    given = {"date": date, "month": month, "kind": kind, "title": title, "address": address}
    corrections = {field: value for field, value in given.items() if value is not None}
    with opened(shop_folder) as (_shop, db):
        if recording_id is None:
            if corrections:
                raise WrongUse("say which film to correct by its id; `diaryidx recording` lists them")
            films = reading.recordings(db.conn)
            if as_json:
                print_json({"recordings": [recording_json(film) for film in films]})
            else:
                terminal.show_recordings(films)
            return
        film = correct(db, recording_id, corrections) if corrections else reading.recording(db.conn, recording_id)
        print_json(recording_json(film)) if as_json else terminal.show_recording(film)


@main.group()
def jobs() -> None:
    """The job book: bring it in, list it."""


@jobs.command("import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--map", "pairs", multiple=True, metavar="FIELD=COLUMN", help="Which column fills a field; none, if empty."
)
@click.option("--sheet", help="The sheet of a workbook; without it, the one with most columns of a job book.")
@click.option("--dry-run", is_flag=True, help="Show what would change and write nothing.")
@click.option("--yes", is_flag=True, help="Take the columns as guessed.")
@click.option("--clear", is_flag=True, help="Let empty cells empty what is stored.")
@shop_option
@json_option
def jobs_import(
    file: Path,
    pairs: tuple[str, ...],
    sheet: str | None,
    dry_run: bool,
    yes: bool,
    clear: bool,
    shop_folder: Path,
    as_json: bool,
) -> None:
    """Bring in a job book from FILE, a .csv or .xlsx with any columns.

    Columns are guessed from their headings and asked about once; the answer is kept for this shop. Jobs are added or
    updated by job number and never removed; an empty cell changes nothing unless --clear is given.
    """
    from diaryidx.builds.job_import import apply_import, parse_columns, plan_import, read_shops_job_book
    from diaryidx.shapes import import_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        columns = parse_columns(pairs)
        book = read_shops_job_book(shop, db, file, columns, sheet)
        confirmed = yes or bool(pairs)
        if not (dry_run or confirmed):
            book, confirmed = _settled_columns(shop, db, file, sheet, book)
        plan = plan_import(book, reading.builds(db.conn), clear=clear)
        if not dry_run:
            apply_import(db, plan, remember=confirmed, words=shop.words)
        if as_json:
            print_json(import_json(plan, written=not dry_run))
        else:
            terminal.show_import(plan, file, written=not dry_run)
    if book.problems:
        sys.exit(1)


@jobs.command("list")
@shop_option
@json_option
def jobs_list(shop_folder: Path, as_json: bool) -> None:
    """List the builds of the job book."""
    from diaryidx.shapes import build_json
    from diaryidx.store import reading

    with opened(shop_folder) as (_shop, db):
        builds = reading.builds(db.conn)
        if as_json:
            print_json({"builds": [build_json(build, private=True) for build in builds]})
        else:
            terminal.show_builds(builds)


@jobs.command("gaps")
@shop_option
@json_option
def jobs_gaps(shop_folder: Path, as_json: bool) -> None:
    """Show what the job needs that no film said.

    Bikes left out of two diaries or more, what waits longest and on whom, bikes that are not in the job book, and where
    the job book and the films disagree on what is finished; each with its evidence.
    """
    from datetime import datetime
    from zoneinfo import ZoneInfo

    from diaryidx.builds.gaps import gaps
    from diaryidx.shapes import gaps_json

    with opened(shop_folder) as (shop, db):
        found = gaps(db.conn, datetime.now(ZoneInfo(shop.settings.timezone)).date())
        if as_json:
            print_json(gaps_json(found))
        else:
            terminal.show_gaps(found)


@main.command()
@click.argument("words", metavar="[NAME]", nargs=-1)
@shop_option
@json_option
def developments(words: tuple[str, ...], shop_folder: Path, as_json: bool) -> None:
    """Show what the shop develops itself.

    With its thread through the films.

    NAME shows one of them alone.
    """
    from diaryidx.builds.developments import development
    from diaryidx.builds.developments import developments as all_developments
    from diaryidx.shapes import development_json

    with opened(shop_folder) as (_shop, db):
        found = [development(db.conn, " ".join(words))] if words else all_developments(db.conn)
        if as_json:
            print_json({"developments": [development_json(one) for one in found]})
        else:
            terminal.show_developments(found)


class Notes(click.Group):
    """The group of `note`: what is no verb of it is a build to write about."""

    def parse_args(self, context: click.Context, args: list[str]) -> list[str]:
        """Take `note BUILD TEXT` for `note add BUILD TEXT`."""
        if args and args[0] not in self.commands and args[0] not in ("-h", "--help"):
            args = ["add", *args]
        return super().parse_args(context, args)


@main.group(cls=Notes)
def note() -> None:
    """Write a note about a bike, list notes, undo one.

    `diaryidx note BUILD "TEXT"` is short for `diaryidx note add BUILD "TEXT"`.
    """


@note.command("add")
@click.argument("words", metavar="BUILD")
@click.argument("text", metavar="[TEXT]", default="")
@click.option("--visit", is_flag=True, help="The customer came by and saw the bike; TEXT may be left out then.")
@click.option("--photo", "photos", multiple=True, type=click.Path(path_type=Path), help="A photo to keep with it.")
@click.option("--date", help="The day it is of; today, if not said.")
@click.option("--as", "author", metavar="NAME", help="Who writes it; your account's name, if not said.")
@shop_option
@json_option
def note_add(
    words: str,
    text: str,
    visit: bool,
    photos: tuple[Path, ...],
    date: str | None,
    author: str | None,
    shop_folder: Path,
    as_json: bool,
) -> None:
    """Write down what was done to BUILD; it shows in its history beside what films say.

    BUILD is found as in `history`. Photos are JPEG, PNG or WebP and are copied into the shop folder. The history tells
    what is new since the last `--visit`.
    """
    from diaryidx.noting import add_note
    from diaryidx.shapes import note_json, statement_json
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        build = _one_build(db, words)
        added = add_note(shop, db, build, text, photos=photos, date=date, author=author, visit=visit)
        stated = [one for one in reading.note_statements(db.conn, build=build.job_number) if one.note == added.id]
        if as_json:
            print_json({"note": note_json(added), "statements": [statement_json(one) for one in stated]})
        else:
            terminal.show_added_note(added, build, stated)


@note.command("list")
@click.argument("words", metavar="[BUILD]", required=False)
@shop_option
@json_option
def note_list(words: str | None, shop_folder: Path, as_json: bool) -> None:
    """List notes, of one BUILD if named; undone ones are marked."""
    from diaryidx.shapes import note_json
    from diaryidx.store import reading

    with opened(shop_folder) as (_shop, db):
        notes = reading.notes(db.conn, build=_one_build(db, words).job_number if words else None)
        if as_json:
            print_json({"notes": [note_json(one) for one in notes]})
        else:
            terminal.show_notes(notes)


@note.command("undo")
@click.argument("note_id", metavar="ID", type=int)
@click.option("--as", "author", metavar="NAME", help="Who undoes it; your account's name, if not said.")
@shop_option
def note_undo(note_id: int, author: str | None, shop_folder: Path) -> None:
    """Take note ID back: it is kept and marked as undone, and counts no more."""
    from diaryidx.noting import undo_note

    with opened(shop_folder) as (_shop, db):
        undone = undo_note(db, note_id, author)
        click.echo(f"Note {undone.id} is undone by {undone.undone_by}; its words are kept.")


def actor_option(command: Command) -> Command:
    """Who decides: ``--as NAME``."""
    return click.option("--as", "actor", metavar="NAME", help="Who decides; your account's name, if not said.")(command)


@main.group(invoke_without_command=True)
@actor_option
@shop_option
@click.pass_context
def review(context: click.Context, actor: str | None, shop_folder: Path) -> None:
    """Decide what is in doubt.

    Asks about one stretch of film at a time, the most valuable one first, with its clip, its words and the bikes it may
    be about; one key decides. What you decide holds for ever, whatever is indexed again, and can be undone.
    """
    if context.invoked_subcommand is not None:
        given = {"shop_folder": shop_folder, "actor": actor}  # may stand before the verb too
        context.default_map = {context.invoked_subcommand: {key: value for key, value in given.items() if value}}
        return
    from diaryidx.review_session import run
    from diaryidx.store import reading

    with opened(shop_folder) as (shop, db):
        builds = {build.job_number: build for build in reading.builds(db.conn)}
        made = run(shop, db, actor or _signed_in() or "", terminal.ReviewScreen(builds))
        click.echo(f"{made} decided. `diaryidx decisions` lists them, `diaryidx review undo` takes one back.")


@review.command("list")
@click.option("--most", type=click.IntRange(1), default=20, show_default=True, help="How many to list.")
@shop_option
@json_option
def review_list(most: int, shop_folder: Path, as_json: bool) -> None:
    """List what is in doubt, most valuable first: doubt times the statements that depend on it."""
    from diaryidx.builds.review import count_items, item_json, items

    with opened(shop_folder) as (_shop, db):
        found, count = items(db.conn, most), count_items(db.conn)
        if as_json:
            print_json({"items": [item_json(one) for one in found], "in_doubt": count})
        else:
            terminal.show_items(found, count)


def _review_command(name: str, text: str, *arguments: Callable[[Any], Any]) -> None:
    """Register a command that makes one decision: ``review accept ID`` and its like."""

    def command(item_id: str, actor: str | None, shop_folder: Path, as_json: bool, value: Any = None) -> None:
        _decide_item(name, item_id, value, actor, shop_folder, as_json=as_json)

    command.__doc__ = text
    decorated: Any = json_option(shop_option(actor_option(command)))
    first: Callable[[Any], Any] = click.argument("item_id", metavar="ID")
    for argument in reversed([first, *arguments]):
        decorated = argument(decorated)
    review.command(name)(decorated)


_review_command(
    "accept",
    """Stretch ID is about the bike that it is tied to, or about the likeliest one.

    ID is a film and a second, such as 2026-11-diary@220.4, as `review list` shows it; any second of the stretch does.
    """,
)
_review_command(
    "refuse",
    "Stretch ID is not about the bike that it is tied to, nor about JOB if that is named.",
    click.argument("value", metavar="[JOB]", required=False),
)
_review_command(
    "assign",
    "Stretch ID is about BUILD, which is found as in `history`.",
    click.argument("value", metavar="BUILD", nargs=-1, required=True),
)
_review_command("not-a-build", "Stretch ID is about no bike.")
_review_command(
    "split",
    "Stretch ID is two: the second begins with the sentence nearest to TIME, in seconds or as m:ss.",
    click.argument("value", metavar="TIME"),
)
_review_command("join", "Stretch ID and the one after it are one.")


@review.command("undo")
@click.argument("decision_id", metavar="[DECISION]", type=int, required=False)
@actor_option
@shop_option
@json_option
def review_undo(decision_id: int | None, actor: str | None, shop_folder: Path, as_json: bool) -> None:
    """Take back a decision, by the number that `decisions` shows; without it, the last one you made."""
    from diaryidx.builds.relinking import relink
    from diaryidx.builds.review import decision_json
    from diaryidx.correcting import undo
    from diaryidx.store.decisions import films

    with opened(shop_folder) as (shop, db):
        undone = undo(shop, db, actor or _signed_in() or "", decision_id)
        relink(db, shop.words)
        if as_json:
            print_json(decision_json(undone, films(db.conn)))
        else:
            terminal.show_decision(undone, films(db.conn))


@main.command()
@shop_option
@json_option
def decisions(shop_folder: Path, as_json: bool) -> None:
    """Show who decided what and when.

    Undone decisions stay in the list. What was taught with `teach` is listed by `teach --list`.
    """
    from diaryidx.builds.review import decision_json
    from diaryidx.store.decisions import films, trail

    with opened(shop_folder) as (_shop, db):
        made, known = trail(db.conn), films(db.conn)
        if as_json:
            print_json({"decisions": [decision_json(one, known) for one in made]})
            return
        for one in made:
            terminal.show_decision(one, known)
        if not made:
            click.echo("Nothing has been decided yet; `diaryidx review` asks what is in doubt.")


@main.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@shop_option
def backup(file: Path, shop_folder: Path) -> None:
    """Copy the database to a file.

    FILE may be made while an index runs. The copy is checked; an existing file is never overwritten. Films, photos,
    words and settings are files of the shop folder: copy those as you copy any file.
    """
    from diaryidx.store.backup import backup as copy

    shop = load_shop(shop_folder)
    copy(shop.database, file)
    click.echo(f"{file} holds all that was found and decided, and is sound. Films, photos and settings are not in it.")


@main.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@shop_option
def restore(file: Path, shop_folder: Path) -> None:
    """Put a copy of the database back.

    FILE was made by `backup`. The copy is checked first, and the database as it was is kept beside it under another
    name.
    """
    from diaryidx.alone import alone_in
    from diaryidx.store.backup import restore as put_back

    shop = load_shop(shop_folder)
    with alone_in(shop):
        kept = put_back(file, shop.database)
    click.echo(f"{shop.database} is now what {file} was.")
    if kept is not None:
        click.echo(f"The database as it was before is kept as {kept}.")
    click.echo("Run `diaryidx index` to take in what changed since.")


@main.group()
def staff() -> None:
    """Who may sign in on the site, and as what."""


@staff.command("add")
@click.argument("name")
@click.option("--role", type=click.Choice(ROLES), required=True, help="What they may do.")
@shop_option
def staff_add(name: str, role: Role, shop_folder: Path) -> None:
    """Let NAME sign in on the site.

    Asks for a password, which is not shown; shop.toml gets its hash. An owner may do everything; staff look up, decide
    and write notes; marketing look up. NAME again with another role or password changes them.
    """
    from diaryidx.staff import add_person, checked_name

    shop = load_shop(shop_folder)
    password = click.prompt(f"Password for {checked_name(name)}", hide_input=True, confirmation_prompt="Once more")
    added = add_person(shop, name, role, password)
    click.echo(f"{added.name} can sign in as {added.role}; a site that is open knows it at once.")


@staff.command("list")
@shop_option
@json_option
def staff_list(shop_folder: Path, as_json: bool) -> None:
    """List who may sign in."""
    people = load_shop(shop_folder).settings.staff
    if as_json:
        print_json({"staff": [{"name": one.name, "role": one.role} for one in people]})
    else:
        terminal.show_staff(people)


@staff.command("remove")
@click.argument("name")
@shop_option
def staff_remove(name: str, shop_folder: Path) -> None:
    """Let NAME sign in no more; what they decided and wrote stays."""
    from diaryidx.staff import remove_person

    removed = remove_person(load_shop(shop_folder), name)
    click.echo(f"{removed.name} can sign in no more, and is signed out where they were signed in.")


@main.command()
@click.option(
    "--port", type=click.IntRange(0, 65535), default=8001, show_default=True, help="The port; 0 takes a free one."
)
@click.option("--open/--no-open", "open_browser", default=False, help="Open the page in your browser.")
@click.option("--host", help="Let others in the network reach it at this address of the machine; 0.0.0.0 for all.")
@click.option("--certificate", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="For HTTPS, a PEM.")
@click.option("--key", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="The certificate's key.")
@shop_option
def serve(
    port: int, open_browser: bool, host: str | None, certificate: Path | None, key: Path | None, shop_folder: Path
) -> None:
    """Open the shop's site until Ctrl-C.

    It answers at 127.0.0.1 only, unless --host lets phones and other machines of the shop reach it; that needs people
    who sign in.
    """
    from diaryidx.site.server import HOST, Reach

    reach = Reach(host or HOST, certificate, key)
    shop = load_shop(shop_folder)
    if not reach.own_machine_only and certificate is None:
        terminal.complain("without --certificate, passwords and pages cross your network readable; only in your own")
    _serve(shop, port, open_browser=open_browser, reach=reach)


@main.command()
@shop_option
@json_option
def check(shop_folder: Path, as_json: bool) -> None:
    """Is everything sound?

    Looks at the database, the films' files, the job book, the words, the model and the links.
    """
    from dataclasses import asdict

    from diaryidx.checking import check as look

    with opened(shop_folder) as (shop, db):
        findings = look(shop, db)
    if as_json:
        print_json({"findings": [asdict(finding) for finding in findings]})
    else:
        terminal.show_findings(findings)
    if not all(finding.sound for finding in findings):
        sys.exit(1)


def _one_build(db: Database, words: str) -> Build:
    """The build that a person means.

    :raises WrongUse: several fit; they are named.
    """
    from diaryidx.builds.finding import find_build

    found = find_build(db.conn, words)
    if isinstance(found, Build):
        return found
    several = "; ".join(f"{one.job_number} {one.why}" for one in found)
    raise WrongUse(f"{words!r} fits several bikes; name one by its job number: {several}")


def _day(shop: Shop, date: str) -> str:
    """A day as a person types it, as ISO 8601."""
    from diaryidx.builds.dates import iso_date

    day = iso_date(date, month_first=shop.settings.month_first)
    if day is None:
        raise WrongUse(f"{date!r} is no day; write it as year, month and day, such as 2026-10-31")
    return day


def _write_sheet(shop: Shop, db: Database, build: Build, file: Path) -> None:
    from diaryidx.site.handover import handover_html

    try:
        file.write_text(handover_html(db.conn, shop, build), encoding="utf-8")
    except OSError as error:
        raise WrongUse(f"{file}: cannot be written ({error.strerror}); name a file in a folder that is there") from None
    click.echo(f"Wrote {file}: the handover sheet of job {build.job_number}; open it in a browser and print it.")


def _settled_columns(shop: Shop, db: Database, file: Path, sheet: str | None, book: JobBook) -> tuple[JobBook, bool]:
    """A job book whose columns are settled: confirmed before, asked about now, or beyond doubt.

    :returns: the book, and whether a person has confirmed its columns.
    :raises WrongUse: nobody can be asked and a guess is doubtful, or the person stopped.
    """
    from diaryidx.builds.job_book import is_certain
    from diaryidx.builds.job_import import all_confirmed, parse_columns, read_shops_job_book

    columns: dict[str, str | None] = {}
    while not all_confirmed(db, book):
        if not sys.stdin.isatty():
            if is_certain(book.columns):
                return book, False
            guessed = ", ".join(f"{field}={heading}" for field, heading in book.columns.items())
            raise WrongUse(
                f"{file}: the columns were guessed ({guessed}); say --yes, or --map FIELD=COLUMN to change one"
            )
        changes = terminal.ask_columns(book)
        if changes is None:
            raise WrongUse("stopped; nothing was written")
        if not changes:
            return book, True
        try:
            settled = columns | parse_columns(changes)
            book = read_shops_job_book(shop, db, file, settled, sheet)
            columns = settled
        except DiaryidxError as error:
            terminal.complain(str(error))
    return book, False


def _index(shop: Shop, paths: tuple[Path, ...], workers: int | None, engine: str | None, *, as_json: bool) -> bool:
    """Index and print; returns whether anything failed."""
    from diaryidx.indexing import index as run
    from diaryidx.indexing import indexed_json

    with opened(shop.folder) as (_shop, db), terminal.index_progress(quiet=as_json) as progress:
        outcome = run(shop, db, paths, workers=workers, engine=engine, progress=progress)
    if as_json:
        print_json(indexed_json(outcome))
    else:
        terminal.show_indexed(outcome, shop)
    return progress.problems > 0 or any(one.outcome == "failed" for one in outcome)


def _suggest(shop: Shop, db: Database, limit: int, *, as_json: bool) -> None:
    """Propose words to teach."""
    from diaryidx.shapes import suggestion_json
    from diaryidx.store import reading
    from diaryidx.suggesting import suggest

    found = suggest(shop, db, limit)
    if as_json:
        print_json({"suggestions": [suggestion_json(one) for one in found]})
    else:
        terminal.show_suggestions(found, {film.id: film for film in reading.recordings(db.conn)})


def _decide(shop: Shop, db: Database, plan: Plan, person: str | None, *, yes: bool, as_json: bool) -> None:
    """Show what a decision changes, ask, do it and say so."""
    from diaryidx.shapes import plan_json
    from diaryidx.store import reading
    from diaryidx.teaching import decide

    films = {film.id: film for film in reading.recordings(db.conn)}
    if not as_json:
        terminal.show_plan(plan, films)
    elif not yes:
        print_json(plan_json(plan, None, films))
        raise WrongUse("nothing was changed; add --yes to do it")
    if not yes and not terminal.agreed("Take it back?" if plan.undoes else f"Write “{plan.meant}” for “{plan.heard}”?"):
        click.echo("Nothing was changed.")
        return
    with terminal.reading_again(quiet=as_json) as on_film:
        applied = decide(shop, db, plan, person or _signed_in(), on_film)
    print_json(plan_json(plan, applied, films)) if as_json else terminal.show_applied(plan, applied)


def _decide_item(name: str, item_id: str, value: Any, actor: str | None, shop_folder: Path, *, as_json: bool) -> None:
    """Make one decision, let other stretches follow from it, and say what holds now."""
    from diaryidx.builds.relinking import relink
    from diaryidx.builds.review import decide, decision_json
    from diaryidx.store.decisions import films

    with opened(shop_folder) as (shop, db):
        if name == "assign":
            value = _one_build(db, " ".join(value)).job_number
        made = decide(db, item_id, name, actor or _signed_in() or "", value)  # type: ignore[arg-type]
        relink(db, shop.words)
        if as_json:
            print_json(decision_json(made, films(db.conn)))
        else:
            terminal.show_decision(made, films(db.conn))


def _signed_in() -> str | None:
    """The name of whoever runs this; None where the system knows none."""
    import getpass

    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return None


def _serve(shop: Shop, port: int, *, open_browser: bool, reach: Reach | None = None) -> None:
    from diaryidx.site.server import serve as run

    run(shop, port, open_browser, terminal.say_where_the_site_is, reach)


def _vocabulary(shop: Shop, db: Database) -> Any:
    from diaryidx.store import reading
    from diaryidx.vocabulary.loader import load_vocabulary

    return load_vocabulary(shop.words, reading.builds(db.conn), shop.settings.currency, reading.taught_words(db.conn))


if __name__ == "__main__":
    main()
