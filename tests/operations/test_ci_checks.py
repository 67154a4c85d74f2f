"""The checks of `.ci/run` beside tests: they fail when they should, and say what they skip."""

import importlib.util
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]


def script(name: str) -> ModuleType:
    """A script of `.ci` as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / ".ci" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def needs(tool: str) -> None:
    """Skip by name without a tool of the lock's section `checks`; fail in CI."""
    if not Path(sys.executable).with_name(tool).exists():
        reason = f"no {tool}: python3 .ci/bootstrap.py setup checks"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)


@pytest.mark.parametrize(
    ("code", "told", "expected"),
    [
        (0, "", 0),
        (1, "Found 1 known vulnerability in 1 package", 1),
        (1, "requests.exceptions.ConnectionError: NameResolutionError", 75),
        (1, "some other fault", 1),
    ],
)
def test_an_audit_that_could_not_ask_is_told_from_one_that_passed_and_one_that_failed(
    code: int, told: str, expected: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    audit = script("audit")

    def ran(*_arguments: Any, **_more: Any) -> subprocess.CompletedProcess[str]:
        return subprocess.CompletedProcess([], code, "", told)

    monkeypatch.setattr(subprocess, "run", ran)
    assert audit.main() == expected


def test_the_bill_of_materials_names_every_pin_of_the_image_with_its_hashes(tmp_path: Path) -> None:
    needs("cyclonedx-py")
    bill = script("bill_of_materials")
    target = tmp_path / "sbom.json"
    assert bill.main([str(target)]) == 0
    told = json.loads(target.read_text("utf-8"))
    assert (told["bomFormat"], told["specVersion"]) == ("CycloneDX", "1.6")
    pins = dict(re.findall(r"^([a-z0-9][\w.-]*)==([\w.]+)", bill.runtime_pins(), re.MULTILINE))
    assert {one["name"]: one["version"] for one in told["components"]} == pins
    assert all(one["externalReferences"][0]["hashes"] for one in told["components"])
    assert "pytest" not in pins


def test_a_finding_without_a_reason_and_a_reason_without_a_finding_are_objections(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    scan = script("secrets_scan")
    known = scan.explained()
    assert known
    monkeypatch.setattr(scan, "found", lambda: dict.fromkeys(known, "Secret, line 1"))
    assert scan.main() == 0
    monkeypatch.setattr(
        scan, "found", lambda: dict.fromkeys({*known, ("a.py", "0")}, "Key, line 2")
    )
    assert scan.main() == 1
    monkeypatch.setattr(scan, "found", dict)
    assert scan.main() == 1
    assert "a.py: Key, line 2, sha1 0" in capsys.readouterr().out


def test_a_step_that_could_not_be_done_is_no_pass_in_the_summary() -> None:
    text = (ROOT / ".ci" / "run").read_text("utf-8")
    step = re.search(r"^step\(\) \{.*?^\}", text, re.DOTALL | re.MULTILINE)
    assert step is not None
    program = f'summary=(); failed=0\n{step[0]}\nstep a true; step b sh -c "exit 75"\n'
    program += 'step c false; echo "${summary[@]} failed=$failed"'
    done = subprocess.run(["bash", "-c", program], capture_output=True, text=True, check=True)
    assert re.search(r"ok +\d+ s  a NOT RUN +\d+ s  b FAILED \(1\) +\d+ s  c failed=1", done.stdout)


def test_the_run_script_is_bash_that_parses() -> None:
    subprocess.run(["bash", "-n", str(ROOT / ".ci" / "run")], check=True)
