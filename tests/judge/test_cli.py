"""gladhand limits, through the program's own entry."""

from __future__ import annotations

from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from voice.cli import app
from voice.data.folders import prompts_dir
from voice.errors import DataError, SetupError
from voice.judge.wording import level_words

EXAMPLES = prompts_dir() / "limits" / "examples"


def run(*arguments: str, home: Path) -> Result:
    return CliRunner().invoke(app, ["limits", *arguments, "--home", str(home)])


def test_list_has_one_line_for_each_limit(tmp_path: Path) -> None:
    result = run("list", home=tmp_path)
    assert result.exit_code == 0
    lines = result.output.splitlines()
    [tread] = [line for line in lines if line.startswith("tread-steer ")]
    told = ("Tread depth, steer tires", "at least 4/32 in", level_words("repair"), "49 CFR 393.75(b) (read)")
    assert " | ".join((*told, "us-federal.yaml")) in tread
    assert [line.split()[0] for line in run("list", "belt", home=tmp_path).output.splitlines()] == ["belt-play"]
    criteria = run("list", "--criteria", "coupling", home=tmp_path).output
    assert "coupling-gap" in criteria
    assert "tread-steer" not in criteria


def test_show_tells_which_file_decided_over_which(tmp_path: Path) -> None:
    assert run("use", "strict-fleet", home=tmp_path).exit_code == 0
    shown = run("show", "tread-steer", home=tmp_path).output
    assert "at least 6/32 in" in shown
    assert "decided by   strict-fleet.yaml, over us-federal.yaml" in shown
    assert "none, it is from a file of your own" in shown
    jaws = run("show", "jaws-open", home=tmp_path).output
    assert "may not be driven" in jaws
    assert "defects      jaws-open" in jaws


def test_a_way_of_knowing_lists_those_known_in_that_way(tmp_path: Path) -> None:
    for way in ("second-hand", "memory", "practice"):
        for kind in ((), ("--criteria",)):
            lines = run("list", way, *kind, home=tmp_path).output.splitlines()
            every = run("list", *kind, home=tmp_path).output.splitlines()
            assert lines == [line for line in every if f"({way}) | " in line]
            assert lines or kind


def test_an_unknown_id_gets_near_ones(tmp_path: Path) -> None:
    result = run("show", "tred-steer", home=tmp_path)
    assert isinstance(result.exception, SetupError)
    assert "Did you mean tread-steer" in result.exception.hint
    assert "Did you mean governor-cut-out" in str(run("show", "cut-out", home=tmp_path).exception)


def test_an_id_like_no_other_gets_no_guess(tmp_path: Path) -> None:
    refused = run("show", "nothing", home=tmp_path).exception
    assert isinstance(refused, SetupError)
    assert str(refused).startswith("There is no limit or criterion 'nothing'. 'gladhand limits list' has the limits")


def test_a_home_that_cannot_be_written_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "limits").write_text("a file where the folder should be", encoding="utf-8")
    refused = run("use", "california", home=tmp_path).exception
    assert isinstance(refused, SetupError)
    assert "cannot be written" in str(refused)


def test_check_warns_of_what_is_looser(tmp_path: Path) -> None:
    assert run("check", home=tmp_path).exit_code == 0
    strict = run("check", str(EXAMPLES / "strict-fleet.yaml"), home=tmp_path)
    assert strict.exit_code == 0
    assert "strict-fleet.yaml: tread-steer changed" in strict.output
    california = run("check", str(EXAMPLES / "california.yaml"), home=tmp_path)
    assert california.exit_code == 0
    assert "california.yaml: leak-static-single looser" in california.output
    assert "Warning" not in strict.stderr
    warned = [line for line in california.stderr.splitlines() if line.startswith("Warning: california.yaml makes ")]
    assert len(warned) == california.stdout.count(" looser\n") > 0
    assert "It was less than 2 psi" in warned[0]
    assert "now it is at most 2 psi" in warned[0]


def test_a_mistake_is_a_fault_that_check_found_as_routes_check_has_it(tmp_path: Path) -> None:
    """README: 1 a fault was found, 2 it could not start."""
    own = tmp_path / "own.yaml"
    own.write_text("layer: own\ntitle: An invented house rule\nlimits:\n  - {id: mud-flap, value: 8}\n")
    found = run("check", str(own), home=tmp_path)
    assert found.exit_code == 1
    assert f"{own}:4: the change of 'mud-flap' needs a source of its own." in found.output
    same = CliRunner().invoke(app, ["routes", "check", str(own), "--home", str(tmp_path)])
    assert same.exit_code == 1
    for command in ("limits", "routes"):
        gone = CliRunner().invoke(app, [command, "check", str(tmp_path / "none.yaml"), "--home", str(tmp_path)])
        assert isinstance(gone.exception, SetupError)


def test_nothing_by_these_words_is_one_sentence(tmp_path: Path) -> None:
    refused = run("list", "zzz", home=tmp_path).exception
    assert isinstance(refused, SetupError)
    assert str(refused).startswith("There is no limit with 'zzz' in its id, title or source.")


def test_words_that_are_elsewhere_say_where(tmp_path: Path) -> None:
    assert "add --criteria" in str(run("list", "spare", home=tmp_path).exception)
    assert "leave out --criteria" in str(run("list", "--criteria", "393.75(b)", home=tmp_path).exception)
    past = str(run("list", "until-2026", home=tmp_path).exception)
    assert "Not in force today" in past
    assert "spare-fuses-until-2026" in past


def test_a_broken_file_of_the_home_folder_is_named(tmp_path: Path) -> None:
    (tmp_path / "limits").mkdir()
    own = tmp_path / "limits" / "own.yaml"
    own.write_text("layer: own\ntitle: An invented house rule\nlimits:\n  - {id: mud-flap, value: 8}\n")
    result = run("list", home=tmp_path)
    assert isinstance(result.exception, DataError)
    assert (result.exception.file, result.exception.line) == (own, 4)


def test_an_example_is_copied_once(tmp_path: Path) -> None:
    assert run("use", "quebec", home=tmp_path).exit_code == 0
    assert (tmp_path / "limits" / "quebec.yaml").read_bytes() == (EXAMPLES / "quebec.yaml").read_bytes()
    assert isinstance(run("use", "quebec", home=tmp_path).exception, SetupError)
    with pytest.raises(SetupError, match="california, older-manual, quebec, strict-fleet"):
        raise run("use", "atlantis", home=tmp_path).exception or AssertionError
