"""The command line: the same answers as the wire, readable or raw, and honest exit codes."""

import io
import json
from pathlib import Path
from types import SimpleNamespace

import pytest

from service import __version__
from service.__main__ import main

EXAMPLES = Path(__file__).resolve().parents[2] / "openapi" / "examples"
REQUEST = EXAMPLES / "solution-request.json"


def test_solve_prints_a_table_that_names_each_axle_and_verdict(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["solve", str(EXAMPLES / "solution-request.tandem-out-of-line.json")]) == 0
    shown = capsys.readouterr().out
    for text in ("Axle 1, steer", "0.30° right", "DOES NOT CONFORM", "PLAN", "CAUTIONS"):
        assert text in shown


def test_solve_json_prints_the_raw_answer(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["solve", "--json", str(REQUEST)]) == 0
    assert json.loads(capsys.readouterr().out)["engine"] == f"axlewright {__version__}"


def test_solve_reads_standard_input(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    stdin = SimpleNamespace(buffer=io.BytesIO(REQUEST.read_bytes()))
    monkeypatch.setattr("sys.stdin", stdin)
    assert main(["solve", "-"]) == 0
    assert "GEOMETRY" in capsys.readouterr().out


def test_bad_input_exits_with_2_and_names_every_fault(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    request = json.loads(REQUEST.read_text("utf-8"))
    request["readings"][0]["left"] = "three"
    request["readings"][2]["axle"] = 8
    file = tmp_path / "request.json"
    file.write_text(json.dumps(request), "utf-8")
    assert main(["solve", str(file)]) == 2
    said = capsys.readouterr().err
    assert "#/readings/0/left" in said
    assert "#/readings/2/axle" in said


def test_a_file_that_is_not_there_exits_with_2(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["solve", "nowhere.json"]) == 2
    assert "nowhere.json" in capsys.readouterr().err


def test_convert_toe_answers_degrees_over_the_baseline(capsys: pytest.CaptureFixture[str]) -> None:
    # atan(1/16 / 40.2) in degrees: the toe conversion by arc tangent, computed with a calculator.
    assert main(["convert", "toe", "1/16", "--baseline", "40.2", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["total"]["deg"] == pytest.approx(0.0890792, abs=1e-7)


def test_a_negative_toe_is_not_taken_for_an_option(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["convert", "toe", "-1/16", "--baseline", "40.2", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["total"]["deg"] < 0


def test_a_toe_in_length_without_a_baseline_exits_with_2(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["convert", "toe", "1/16"]) == 2
    assert "baseline" in capsys.readouterr().err


def test_the_demo_prints_readings_solution_and_the_curl_line(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["demo", "--no-serve"]) == 0
    shown = capsys.readouterr().out
    for text in ("READINGS (an invented tractor", "GEOMETRY", "FINDINGS", "curl -s http://"):
        assert text in shown


def test_openapi_prints_the_document(capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    assert main(["openapi"]) == 0
    assert json.loads(capfdbinary.readouterr().out)["openapi"].startswith("3.1")
