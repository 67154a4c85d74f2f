"""The threat model in DEVELOPERS.md is whole, and every test it names is there."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MODEL = (ROOT / "DEVELOPERS.md").read_text("utf-8").partition("### Threat model")[2]
ROWS = re.findall(r"^\| API(\d+) .*?\|.*?\| (.*) \|$", MODEL, re.MULTILINE)
NAMED = re.findall(r"`(tests/[\w/]+\.py)(?:::(\w+))?`", MODEL)


def test_each_of_the_ten_risks_has_a_row_with_tests() -> None:
    assert [int(number) for number, _ in ROWS] == list(range(1, 11))
    assert all("`tests/" in tests for _, tests in ROWS)


@pytest.mark.parametrize(("file", "test"), NAMED, ids=["::".join(one) for one in NAMED])
def test_a_test_that_the_threat_model_names_exists(file: str, test: str) -> None:
    text = (ROOT / file).read_text("utf-8")
    assert re.search(rf"^(async )?def {test or 'test_'}", text, re.MULTILINE)
