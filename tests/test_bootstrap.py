"""The set-up script speaks plainly to a newcomer and does nothing twice."""

import ast
import importlib.util
import json
import runpy
import sys
from itertools import pairwise
from pathlib import Path
from types import ModuleType
from typing import Any, NoReturn

import pytest

SCRIPT = Path(__file__).resolve().parent.parent / ".ci" / "bootstrap.py"


@pytest.fixture
def bootstrap(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The script as a module whose virtual environment lies in a folder of the test's own."""
    spec = importlib.util.spec_from_file_location("bootstrap", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "VENV", tmp_path / "venv")
    monkeypatch.setattr(module, "STAMP", tmp_path / "venv" / "stamp.json")
    return module


@pytest.fixture
def calls(bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the script would have done to the machine, in order."""
    done: list[str] = []

    def create() -> None:
        done.append("create")
        bootstrap.VENV.mkdir(exist_ok=True)

    def pip(*arguments: str) -> None:
        done.append("project" if "--editable" in arguments else "lock")

    monkeypatch.setattr(bootstrap, "create", create)
    monkeypatch.setattr(bootstrap, "pip", pip)
    return done


def test_an_old_python_can_read_the_script() -> None:
    ast.parse(SCRIPT.read_text(encoding="utf-8"), feature_version=(3, 7))


def test_an_old_python_is_told_what_is_needed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 9, 2, "final", 0))
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer; this is Python 3\.9 "):
        runpy.run_path(str(SCRIPT))


def test_the_script_imports_the_standard_library_alone() -> None:
    imports = [
        node
        for node in ast.walk(ast.parse(SCRIPT.read_text(encoding="utf-8")))
        if isinstance(node, ast.Import | ast.ImportFrom)
    ]
    names = [alias.name for node in imports if isinstance(node, ast.Import) for alias in node.names]
    names += [node.module or "" for node in imports if isinstance(node, ast.ImportFrom)]
    assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names


def test_a_debian_without_venv_is_told_the_package(
    bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    with pytest.raises(SystemExit, match="apt install python3-venv"):
        bootstrap.create()


def test_a_failing_installer_ends_the_set_up_with_a_sentence(
    bootstrap: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bootstrap, "executable", lambda name: sys.executable)
    with pytest.raises(SystemExit, match="pip ended with exit code"):
        bootstrap.pip("no-such-command")


@pytest.mark.parametrize(
    "arguments", [[], ["deploy"], ["setup", "everything"], ["setup", "a", "b"]]
)
def test_an_unknown_job_shows_the_usage(
    bootstrap: ModuleType, capsys: pytest.CaptureFixture[str], arguments: list[str]
) -> None:
    assert bootstrap.main(arguments) == 2
    assert "python3 .ci/bootstrap.py test" in capsys.readouterr().err


def test_the_sections_of_the_lock_are_taken_from_the_top_down(bootstrap: ModuleType) -> None:
    parts = [bootstrap.locked(section) for section in bootstrap.SECTIONS]
    assert parts[-1] == bootstrap.LOCK.read_text(encoding="utf-8")
    assert all(longer.startswith(part) for part, longer in pairwise(parts))
    assert "litestar==" in parts[0]
    assert "hatchling==" not in parts[0]
    assert "pytest==" not in parts[1]


def test_the_first_set_up_installs_the_lock_and_the_project(
    bootstrap: ModuleType, calls: list[str]
) -> None:
    bootstrap.install("build")
    assert calls == ["create", "lock", "project"]


def test_a_second_set_up_does_nothing(bootstrap: ModuleType, calls: list[str]) -> None:
    bootstrap.install("test")
    calls.clear()
    bootstrap.install("test")
    bootstrap.install("build")
    assert calls == []


def test_more_of_the_lock_is_added_to_what_is_there(
    bootstrap: ModuleType, calls: list[str]
) -> None:
    bootstrap.install("build")
    calls.clear()
    bootstrap.install("test")
    assert calls == ["lock"]


@pytest.mark.parametrize("changed", ["python", "lock"])
def test_another_lock_or_another_python_begins_anew(
    bootstrap: ModuleType, calls: list[str], changed: str
) -> None:
    bootstrap.install("test")
    stamp: dict[str, Any] = json.loads(bootstrap.STAMP.read_text(encoding="utf-8"))
    bootstrap.STAMP.write_text(json.dumps({**stamp, changed: "another"}), encoding="utf-8")
    calls.clear()
    bootstrap.install("test")
    assert calls == ["create", "lock", "project"]


def test_an_interrupted_set_up_begins_anew(
    bootstrap: ModuleType, calls: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupted(*arguments: str) -> NoReturn:
        raise KeyboardInterrupt

    bootstrap.install("build")
    with monkeypatch.context() as during:
        during.setattr(bootstrap, "pip", interrupted)
        with pytest.raises(KeyboardInterrupt):
            bootstrap.install("test")
    calls.clear()
    bootstrap.install("test")
    assert calls == ["create", "lock", "project"]
