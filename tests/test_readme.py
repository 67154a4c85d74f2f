"""README.md: every command in it works, and what it shows is what comes back."""

import json
import os
import re
import shlex
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from service.app import document

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text("utf-8")
SHELL = re.compile(r"```sh\n(.*?)```", re.DOTALL)
BLOCKS = SHELL.findall(README)


def commands_of(section: str) -> list[str]:
    """The commands of a section, in order."""
    told = README.partition(f"## {section}\n")[2].partition("\n## ")[0]
    return [line for block in SHELL.findall(told) for line in block.strip().splitlines()]


KEPT, SHOWN = commands_of("Keep it"), commands_of("Bill it and show it")
"""Commands that build on each other, with the key that the first one makes."""
COMMANDS = [line for b in BLOCKS for line in b.strip().splitlines() if line not in (*KEPT, *SHOWN)]
SET_UP = [command for command in COMMANDS if "bootstrap.py" in command]
CURLS = [command for command in COMMANDS if command.startswith("curl ")]
OURS = [command for command in COMMANDS if command.startswith("axlewright ")]
REFUSED = "conversions/toe?value=1/16"


def axlewright(*arguments: str) -> list[str]:
    """The command line of this checkout, whichever way it is installed."""
    return [sys.executable, "-m", "service", *arguments]


def environment(folder: Path) -> dict[str, str]:
    """Environment in which the service keeps its database in a folder of the test."""
    database = f"sqlite:///{folder / 'readme.db'}"
    return {**os.environ, "AXLEWRIGHT_DATABASE_URL": database, "PYTHONPATH": str(ROOT)}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the served instance keeps its database."""
    return tmp_path_factory.mktemp("readme")


@pytest.fixture(scope="module")
def port(folder: Path) -> Iterator[int]:
    """Port of a served instance, as the demo command leaves it."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        number: int = found.getsockname()[1]
    server = subprocess.Popen(
        axlewright("serve", "--port", str(number)),
        cwd=ROOT,
        env=environment(folder),
    )
    try:
        _wait_for(number, server)
        yield number
    finally:
        server.terminate()
        server.wait(30)


def _wait_for(number: int, server: subprocess.Popen[bytes]) -> None:
    for _ in range(900):
        assert server.poll() is None, "the server stopped by itself"
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{number}/health/live").close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError("the server did not answer within 90 seconds")


def _asked(command: str, port: int) -> Any:
    arguments = shlex.split(command.replace(":8410", f":{port}"))
    return json.loads(subprocess.check_output(arguments, cwd=ROOT))


def test_exactly_two_commands_set_everything_up() -> None:
    """CI runs both: `.ci/run` calls the second, and the first in a test of its own."""
    assert SET_UP == ["python3 .ci/bootstrap.py demo", "python3 .ci/bootstrap.py test"]


def test_every_command_is_of_a_kind_that_is_tried_here() -> None:
    assert set(COMMANDS) == {*SET_UP, *CURLS, *OURS}
    assert CURLS
    assert OURS


@pytest.mark.parametrize("command", CURLS)
def test_each_curl_line_gets_its_answer(command: str, port: int) -> None:
    answer = _asked(command, port)
    if REFUSED in command and "baseline" not in command:
        assert answer["type"].startswith("/problems/")
        assert answer["errors"]
    else:
        assert "type" not in answer


def test_the_answer_that_is_shown_is_the_answer_that_comes(port: int) -> None:
    shown = re.search(r"<!-- answer: axles\.1 offset thrust -->\n```json\n(.*?)```", README, re.S)
    assert shown is not None
    [command] = [line for line in CURLS if "examples/solution-request.json" in line]
    axle = _asked(command, port)["axles"][1]
    for name, expected in json.loads(shown[1]).items():
        assert axle[name]["text"] == expected["text"]
        assert axle[name]["basis"] == expected["basis"]
        for part in ("value", "uncertainty"):
            assert axle[name][part] == pytest.approx(expected[part], abs=1e-9)


def test_the_plan_that_is_shown_is_the_one_that_comes_back(port: int) -> None:
    shown = re.search(r"<!-- answer: plan\.0 -->\n```json\n(.*?)```", README, re.S)
    assert shown is not None
    [command] = [line for line in CURLS if "request.tandem-out-of-line.json" in line]
    step = _asked(command, port)["plan"][0]
    expected = json.loads(shown[1])
    assert {name: step[name] for name in expected} == expected
    left, right = (mark["text"] for mark in step["expect"][0]["marks"])
    assert f"left {left}, right {right} on the scale" in README


def test_what_is_kept_comes_back_by_the_commands_that_are_shown(
    port: int, folder: Path, tmp_path: Path
) -> None:
    """One shell runs them all; each answer is looked into, the file goes into a new database."""
    script = "\n".join(f"{line}\nprintf '\\n@@\\n'" for line in KEPT)
    script = script.replace(":8410", f":{port}").replace("-o shop.ndjson", f"-o {tmp_path}/out")
    named = f'axlewright() {{ {shlex.join(axlewright())} "$@"; }}\n'
    done = subprocess.check_output(
        ["sh", "-euc", named + script], cwd=ROOT, env=environment(folder)
    )
    _, synced, visits, again, history, events, _, _ = done.decode().split("\n@@\n")
    assert [item["status"] for item in json.loads(synced)["items"]] == [201] * 3
    assert [item["odometer"] for item in json.loads(visits)["items"]] == [412350]
    assert json.loads(again)["recomputation"]["changes"] == []
    assert json.loads(history)["quantities"]
    kinds = [event["type"] for event in json.loads(events)["items"]]
    assert kinds == ["vehicle.created", "visit.created", "round.created"]
    taken = axlewright("import", f"{tmp_path}/out")
    said = subprocess.check_output(taken, cwd=ROOT, env=environment(tmp_path))
    assert b"rows of Example Frame and Axle (invented)" in said


def test_bills_sheets_and_drawings_come_by_the_commands_that_are_shown(
    port: int, folder: Path, tmp_path: Path
) -> None:
    """One shell runs them all, on a visit kept in another shop by the commands shown before."""
    script = "\n".join([*KEPT[:2], *(f"printf '\\n@@\\n'\n{line}" for line in SHOWN)])
    script = script.replace(":8410", f":{port}").replace(" -o ", f" -o {tmp_path}/")
    named = f'axlewright() {{ {shlex.join(axlewright())} "$@"; }}\n'
    done = subprocess.check_output(
        ["sh", "-euc", named + script], cwd=ROOT, env=environment(folder)
    )
    _, lines, table, _, _, _, card, estimate, issued, *_ = done.decode().split("\n@@\n")
    bill = json.loads(lines)
    amounts = [Decimal(line["amount"]["amount"]) for line in bill["lines"]]
    assert sum(amounts) == Decimal(bill["total"]["amount"])
    assert "eje" in table
    assert bill["total"]["amount"] in table
    assert json.loads(card)["version"] == 1
    assert json.loads(estimate)["bill"]["stage"] == "estimate"
    assert json.loads(issued)["number"] == 1
    begins = {
        "worksheet.pdf": b"%PDF-", "blank.pdf": b"%PDF-", "visit.pdf": b"%PDF-",
        "plan-view.svg": b"<svg ", "visit.png": b"\x89PNG", "yard.html": b"<!doctype html>",
    }  # fmt: skip
    for name, first in begins.items():
        assert (tmp_path / name).read_bytes().startswith(first), name


@pytest.mark.parametrize("command", [c for c in OURS if " serve " not in f"{c} "])
def test_each_command_line_succeeds(command: str, tmp_path: Path) -> None:
    done = subprocess.run(
        axlewright(*shlex.split(command)[1:]),
        cwd=ROOT,
        env=environment(tmp_path),
        capture_output=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    assert done.stdout


@pytest.mark.parametrize(
    ("arguments", "variables"),
    [(("--port", "8411"), {}), ((), {"AXLEWRIGHT_PORT": "8411"})],
)
def test_the_port_of_the_demo_is_chosen_in_the_two_ways_that_are_told(
    arguments: tuple[str, ...], variables: dict[str, str], tmp_path: Path
) -> None:
    assert "set `AXLEWRIGHT_PORT` or end the first command with `--port 8411`" in README
    told = subprocess.check_output(
        axlewright("demo", "--no-serve", *arguments),
        cwd=ROOT,
        env={**environment(tmp_path), **variables},
        text=True,
    )
    assert "curl -s http://127.0.0.1:8411/v1/solutions" in told


def test_every_conversion_that_there_is_stands_in_the_table() -> None:
    prefix = "/v1/conversions/"
    paths = document()["paths"]
    there = [path.removeprefix(prefix) for path in paths if path.startswith(prefix)]
    [line] = [line for line in README.splitlines() if line.startswith(f"| `GET {prefix}")]
    assert sorted(re.findall(r"`(?:GET /v1/conversions/)?([a-z]+)`", line)) == sorted(there)


def test_each_file_that_is_linked_is_there() -> None:
    for target in re.findall(r"\]\(([^)#:]+)\)", README):
        assert (ROOT / target).exists(), target
