"""The load script works: every part of it is run for a second. Its numbers are not looked at."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

needs_wrk = pytest.mark.skipif(shutil.which("wrk") is None, reason="wrk is not installed")


def load(*arguments: str) -> str:
    """What the script prints; it ends by itself within ten minutes on any machine."""
    command = [sys.executable, str(ROOT / "tests" / "benchmarks" / "load"), *arguments]
    environment = {name: v for name, v in os.environ.items() if not name.startswith("AXLEWRIGHT_")}
    done = subprocess.run(
        command, env=environment, capture_output=True, text=True, timeout=600, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@needs_wrk
def test_the_service_answers_as_the_bare_handlers_do() -> None:
    """The script itself compares the answers before it measures."""
    said = load("compare", "--smoke", "--no-rival")
    assert "(c) the service, every setting of production" in said


@needs_wrk
def test_no_acknowledged_round_is_lost_when_a_replica_is_killed() -> None:
    """Nor is one stored that nobody was told of; the script fails where either happens."""
    said = load("kill", "--smoke")
    assert "acknowledged and not stored 0; stored and never acknowledged 0" in said
    assert "rounds acknowledged 0," not in said


@needs_wrk
@pytest.mark.long
def test_every_part_works_and_the_rival_answers_the_same() -> None:
    said = load("--smoke")
    assert "(b) FastAPI and pydantic" in said
    for part in ("compare", "scale", "mix", "kill", "memory", "start"):
        assert f"== {part}\n" in said
