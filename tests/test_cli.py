"""The commands as a person or another program meets them: what they print, their JSON, their exit codes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from diaryidx.cli import main
from diaryidx.shop import Shop

FILM = "2026-05-04-brakes-tutorial"


def call(*arguments: str | Path) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def call_json(*arguments: str | Path) -> Any:
    result = call(*arguments, "--json")
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_help_reads_like_the_first_page_of_a_manual() -> None:
    text = call("--help").stdout
    assert text.index("diaryidx demo") < text.index("Commands:")
    for line in text[text.index("Commands:") :].splitlines()[1:]:
        assert not line.endswith("..."), line


def test_a_new_shop_says_what_to_do_next(tmp_path: Path) -> None:
    folder = tmp_path / "my shop"
    assert "recordings" in call("init", folder).stdout
    again = call("init", folder)
    assert (again.exit_code, len(again.stderr.splitlines())) == (2, 1)
    empty = call("index", "--shop", folder)
    assert empty.exit_code == 0
    assert "No films yet" in empty.stdout
    assert "No films yet" in call("recording", "--shop", folder).stdout
    assert "Nothing is indexed yet" in call("ask", "how do I change the pads", "--shop", folder).stdout
    assert "job book is empty" in call("jobs", "list", "--shop", folder).stdout


@pytest.mark.parametrize(
    "arguments",
    [
        ("history", "12"),
        ("ask", "x"),
        ("roundup", "2026-05"),
        ("index",),
        ("transcript", "x"),
        ("check",),
        ("recording",),
        ("teach", "one", "two"),
        ("serve",),
        ("jobs", "list"),
    ],
)
def test_outside_a_shop_every_command_says_so_in_one_line(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    result = call(*arguments, "--shop", tmp_path)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert "diaryidx init" in result.stderr


def test_indexing_tells_of_each_file_and_ends_with_1_if_one_failed(heard: Shop) -> None:
    (heard.recordings / "broken.mp4").write_text("no film")
    result = call("index", "--shop", heard.folder, "--json")
    assert result.exit_code == 1
    shown = {row["path"]: row for row in json.loads(result.stdout)["recordings"]}
    assert shown["broken.mp4"]["outcome"] == "failed"
    assert "broken.mp4" in shown["broken.mp4"]["error"]
    film = shown["2026-05-04 brakes tutorial.wav"]
    assert (film["id"], film["date"], film["month"], film["kind"]) == (FILM, "2026-05-04", "2026-05", "tutorial")
    assert film["outcome"] == "unchanged"
    assert film["sentences"] > 5


def test_a_transcript_has_the_shape_that_others_build_on(heard: Shop) -> None:
    shown = call_json("transcript", FILM, "--shop", heard.folder)
    assert shown["recording"]["id"] == FILM
    sentence = shown["sentences"][0]
    heard_of_it = {"id", "start", "end", "heard", "text", "repairs", "speaker", "certainty", "words"}
    assert set(sentence) == heard_of_it | {"refers", "points", "aside"}
    assert set(sentence["words"][0]) == {"word", "start", "end", "certainty", "estimated"}
    assert "brake pads" in call("transcript", FILM, "--shop", heard.folder).stdout


def a_word_of(shop: Shop) -> str:
    """A word that is heard in exactly one sentence of the film."""
    heard = [
        sentence["heard"].split() for sentence in call_json("transcript", FILM, "--shop", shop.folder)["sentences"]
    ]
    return next(
        word for words in heard for word in words if sum(word in other for other in heard) == 1 and len(word) > 3
    )


def test_a_correction_is_shown_taught_listed_and_taken_back(heard: Shop) -> None:
    word = a_word_of(heard)
    refused = call("teach", word, "Hoopoe", "--shop", heard.folder)
    assert "after:  " in refused.stdout and "Hoopoe" in refused.stdout
    assert (refused.exit_code, len(refused.stderr.splitlines())) == (2, 1)
    assert "--yes" in refused.stderr
    assert call_json("teach", "--list", "--shop", heard.folder)["taught"] == []
    done = call_json("teach", word, "Hoopoe", "--yes", "--as", "Ena", "--shop", heard.folder)
    (change,) = done["changes"]
    assert change["after"] == change["before"].replace(word, "Hoopoe")
    assert (done["applied"], done["films"], change["recording"]) == (True, [FILM], FILM)
    sentences = call_json("transcript", FILM, "--shop", heard.folder)["sentences"]
    (repaired,) = [one for one in sentences if one["repairs"]]
    assert repaired["repairs"] == [{"heard": word, "meant": "Hoopoe", "certainty": 1.0}]
    assert f"heard: {word}" in call("transcript", FILM, "--shop", heard.folder).stdout
    assert f"heard: {word}" not in call("captions", FILM, "--shop", heard.folder).stdout
    (taught,) = call_json("teach", "--list", "--shop", heard.folder)["taught"]
    assert (taught["heard"], taught["made_by"], taught["holds"]) == (word, "Ena", True)
    assert "Hoopoe" in call("teach", "--list", "--shop", heard.folder).stdout
    assert "Taken back" in call("teach", "--undo", word, "--yes", "--shop", heard.folder).stdout
    after = call_json("transcript", FILM, "--shop", heard.folder)["sentences"]
    assert not any(one["repairs"] for one in after)
    assert call_json("teach", "--list", "--shop", heard.folder)["taught"][0]["holds"] is False


def test_a_person_at_a_terminal_is_asked_and_may_say_no(heard: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    word = a_word_of(heard)
    monkeypatch.setattr("diaryidx.terminal.teaching._somebody_there", lambda: True)
    said_no = CliRunner().invoke(main, ["teach", word, "Hoopoe", "--shop", str(heard.folder)], input="n\n")
    assert (said_no.exit_code, said_no.stdout.splitlines()[-1]) == (0, "Nothing was changed.")
    assert call_json("teach", "--list", "--shop", heard.folder)["taught"] == []
    said_yes = CliRunner().invoke(main, ["teach", word, "Hoopoe", "--shop", str(heard.folder)], input="y\n")
    assert "Taught as number 1" in said_yes.stdout


@pytest.mark.parametrize(
    "arguments", [(), ("one",), ("one", "two", "three"), ("same", "same"), ("--undo", "9"), ("--list", "a", "b")]
)
def test_teaching_used_wrongly_says_so_in_one_line(heard: Shop, arguments: tuple[str, ...]) -> None:
    result = call("teach", *arguments, "--shop", heard.folder)
    assert (result.exit_code, len(result.stderr.splitlines())) == (2, 1)


def test_captions_come_as_webvtt_srt_or_json(heard: Shop) -> None:
    assert call("captions", FILM, "--shop", heard.folder).stdout.startswith("WEBVTT\n\n00:00:")
    assert call("captions", FILM, "--as", "srt", "--shop", heard.folder).stdout.startswith("1\n00:00:")
    assert call_json("captions", FILM, "--shop", heard.folder)["captions"][0]["lines"]
    assert call("captions", "no-film", "--shop", heard.folder).exit_code == 2


def test_segments_and_an_explanation_have_their_shapes(heard: Shop) -> None:
    segments = call_json("segments", FILM, "--shop", heard.folder)["segments"]
    assert segments
    assert {"id", "start", "end", "title", "subject", "build", "certainty", "evidence"} <= set(segments[0])
    explained = call_json("explain", "we have powder coated the frame in satin black", "--shop", heard.folder)
    (statement,) = explained["statements"]
    assert (statement["part"], statement["finish"], statement["status"]) == ("frame", "satin black", "done")


def test_explaining_works_without_any_shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert "frame" in call("explain", "the frame is done").stdout
    page = call("explain", "the frame is done", "--as", "html").stdout
    assert page.startswith("<!DOCTYPE html>") and "<td>frame</td>" in page


def test_an_answer_has_its_moment_and_its_cautions(heard: Shop) -> None:
    answer = call_json("ask", "how do I change the front brake pads", "--shop", heard.folder)
    assert answer["answered"] is True
    first = answer["answers"][0]
    assert {"recording", "start", "end", "text", "said_on", "certainty", "why", "entry"} <= set(first)
    assert first["recording"] == FILM
    assert any("manual" in caution for caution in answer["cautions"])
    reply = call("ask", "how do I change the front brake pads", "--reply", "--shop", heard.folder).stdout
    assert "0:" in reply


def test_a_question_that_no_film_answers_is_said_to_be_open(heard: Shop) -> None:
    answer = call_json("ask", "how do I adjust the valve clearances", "--shop", heard.folder)
    assert answer["answered"] is False


def test_a_film_is_listed_shown_and_corrected(heard: Shop) -> None:
    assert [film["id"] for film in call_json("recording", "--shop", heard.folder)["recordings"]] == [FILM]
    result = call("recording", FILM, "--date", "2026-04-30", "--title", "Pads", "--shop", heard.folder)
    assert result.exit_code == 0
    film = call_json("recording", FILM, "--shop", heard.folder)
    assert (film["date"], film["month"], film["title"], film["date_from"]) == (
        "2026-04-30",
        "2026-04",
        "Pads",
        "a person",
    )
    wrong = call("recording", "nothing", "--title", "x", "--shop", heard.folder)
    assert (wrong.exit_code, len(wrong.stderr.splitlines())) == (2, 1)
    assert call("recording", "--title", "x", "--shop", heard.folder).exit_code == 2


def test_a_job_book_is_brought_in_and_a_bike_is_found(heard: Shop, tmp_path: Path) -> None:
    book = tmp_path / "bikes.csv"
    book.write_text("Job;Owner;Make;Model;Reg\n31;R. Frost;Marlowe;Curlew;AB12 CDE\n32;P. Stone;Marlowe;Dunlin;\n")
    assert call("jobs", "import", book, "--shop", heard.folder).exit_code == 0
    jobs = call_json("jobs", "list", "--shop", heard.folder)["builds"]
    assert [(job["job_number"], job["registration"]) for job in jobs] == [("31", "AB12 CDE"), ("32", None)]
    history = call_json("history", "ab12cde", "--shop", heard.folder)
    assert history["build"]["job_number"] == "31"
    assert {"statements", "open", "conflicts"} <= set(history)
    several = call_json("history", "the", "Marlowe", "--shop", heard.folder)
    assert [one["job_number"] for one in several["candidates"]] == ["31", "32"]
    nothing = call("history", "zebra", "--shop", heard.folder)
    assert (nothing.exit_code, len(nothing.stderr.splitlines())) == (2, 1)


def test_a_months_roundup_is_markdown_or_json(heard: Shop) -> None:
    assert call("roundup", "2026-05", "--shop", heard.folder).stdout.startswith("# ")
    for arguments in (("--as", "json"), ("--json",)):
        shown = json.loads(call("roundup", "2026-05", *arguments, "--shop", heard.folder).stdout)
        assert {"month", "builds", "products", "tutorials", "dates", "promises", "clips"} <= set(shown)
        assert [film["id"] for film in shown["tutorials"]] == [FILM]
    wrong = call("roundup", "May", "--shop", heard.folder)
    assert (wrong.exit_code, len(wrong.stderr.splitlines())) == (2, 1)


def test_check_finds_what_is_wrong(heard: Shop) -> None:
    heard.job_book.write_text("job number,model\n1,Curlew\n")
    call("index", "--shop", heard.folder)
    sound = call("check", "--shop", heard.folder)
    assert sound.exit_code == 0, sound.output
    assert "Everything is sound" in sound.stdout
    next(heard.recordings.iterdir()).unlink()
    heard.words.write_text("partz:\n  - x\n")
    findings = json.loads(call("check", "--shop", heard.folder, "--json").stdout)["findings"]
    assert {one["about"] for one in findings if not one["sound"]} == {"films", "words"}
    assert call("check", "--shop", heard.folder).exit_code == 1


def test_the_model_that_would_be_used_is_said_with_the_reason(shop: Shop) -> None:
    shown = call_json("model", "status", "--shop", shop.folder)
    assert (shown["engine"], shown["problem"]) == ("vosk", None)
    assert call("model", "use", shop.folder / "nowhere").exit_code == 2
    wrong = call("model", "use", shop.folder)
    assert wrong.exit_code in (1, 2)
    assert len(wrong.stderr.splitlines()) == 1


def test_the_demo_refuses_a_folder_that_holds_something_else(tmp_path: Path) -> None:
    (tmp_path / "precious.txt").write_text("keep me")
    result = call("demo", tmp_path, "--no-serve")
    assert (result.exit_code, len(result.stderr.splitlines())) == (2, 1)
    assert [path.name for path in tmp_path.iterdir()] == ["precious.txt"]


def test_words_to_teach_are_proposed_as_text_and_as_json(heard: Shop) -> None:
    shown = call_json("teach", "--suggest", "--limit", "3", "--shop", heard.folder)["suggestions"]
    assert len(shown) <= 6
    for one in shown:
        assert set(one) == {"heard", "meant", "certainty", "sentences", "films", "examples"}
    assert call("teach", "--suggest", "--shop", heard.folder).stdout


def test_people_are_added_with_a_password_that_is_not_shown_listed_and_removed(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    call("init", folder)
    assert "diaryidx serve" in call("staff", "list", "--shop", folder).stdout
    words = "larch kettle Tuesday 9"
    added = CliRunner().invoke(
        main, ["staff", "add", "Tove", "--role", "owner", "--shop", str(folder)], input=f"{words}\n{words}\n"
    )
    assert added.exit_code == 0
    assert words not in added.output
    assert words not in (folder / "shop.toml").read_text()
    assert call_json("staff", "list", "--shop", folder) == {"staff": [{"name": "Tove", "role": "owner"}]}
    differing = CliRunner().invoke(
        main, ["staff", "add", "Ida", "--role", "staff", "--shop", str(folder)], input=f"{words}\nother\n"
    )
    assert differing.exit_code != 0
    assert "signed out" in call("staff", "remove", "tove", "--shop", folder).stdout
    assert call_json("staff", "list", "--shop", folder) == {"staff": []}
