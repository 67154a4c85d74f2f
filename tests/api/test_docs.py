"""`/docs`: vendored files as they were published, a page that may do little, and what it shows."""

import gzip
import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from hashlib import sha256
from pathlib import Path
from typing import Any

import httpx
import pytest
from asking import Answer, ask
from contract_gate.loading import load_gate
from running import Process
from stores import free_port

from service.api.docs import FOLDER, POLICY
from service.app import create_app, document
from service.settings import Settings

ROOT = Path(__file__).resolve().parents[2]
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
APP = create_app(Settings())
PARTS = re.findall(
    r'(?:src|href)="(/docs/[^"]+)"', ask(APP, "GET", "/docs", headers=[]).body.decode()
)


def part(path: str, accept_encoding: bytes = b"gzip, br") -> Answer:
    return ask(APP, "GET", path, headers=[(b"accept-encoding", accept_encoding)])


def test_the_vendored_files_are_the_published_ones() -> None:
    listed = [line.split() for line in (FOLDER / "SHA256SUMS").read_text().splitlines()]
    assert sorted(name for _, name in listed) == ["styles.min.css", "web-components.min.js"]
    for checksum, name in listed:
        assert sha256(gzip.decompress((FOLDER / f"{name}.gz").read_bytes())).hexdigest() == checksum


def test_the_vendored_files_bring_their_licence() -> None:
    licence = (FOLDER / "LICENSE").read_text(encoding="utf-8")
    assert "Apache License" in licence
    assert "Version 2.0, January 2004" in licence
    assert "TERMS AND CONDITIONS FOR USE, REPRODUCTION, AND DISTRIBUTION" in licence


@pytest.mark.parametrize("path", PARTS)
def test_a_part_is_served_compressed_and_for_good(path: str) -> None:
    packed, plain = part(path), part(path, b"gzip;q=0")
    assert packed.headers["content-encoding"] == "gzip"
    assert packed.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert packed.headers["vary"] == plain.headers["vary"] == "Accept-Encoding"
    assert "content-encoding" not in plain.headers
    assert gzip.decompress(packed.body) == plain.body
    assert len(packed.body) < len(plain.body) / 3


@pytest.mark.parametrize("path", PARTS)
def test_a_part_has_a_name_of_its_own_content(path: str) -> None:
    assert sha256(part(path).body).hexdigest()[:16] in path


def test_there_are_a_script_and_a_style_and_no_third_part() -> None:
    assert sorted(path.rpartition(".")[2] for path in PARTS) == ["css", "js"]
    assert part("/docs/other.js").slug == "not-found"


def test_the_page_may_run_its_own_script_only() -> None:
    answer = ask(APP, "GET", "/docs", headers=[])
    assert answer.headers["content-security-policy"] == POLICY
    rules = dict(rule.split(" ", 1) for rule in POLICY.split("; "))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == rules["connect-src"] == "'self'"
    assert not re.search(r"unsafe|\*|http", POLICY)
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_the_page_holds_no_script_no_style_and_no_address_outside() -> None:
    page = ask(APP, "GET", "/docs", headers=[]).body.decode()
    assert re.findall(r"<script[^>]*>(.*?)</script>", page) == [""]
    assert not re.search(r"<style|\sstyle=|\son\w+=|//", page)


def test_the_page_reads_the_contract_with_samples_of_requests_beside_their_schema() -> None:
    contract, page = (
        json.loads(ask(APP, "GET", path, headers=[]).body)
        for path in ("/openapi.json", "/docs/openapi.json")
    )
    for item in page["paths"].values():
        for operation in item.values():
            for media in operation.get("requestBody", {}).get("content", {}).values():
                named = media.pop("examples")
                media["schema"]["examples"] = [example["value"] for example in named.values()]
    assert page == contract


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the service in a process of its own."""
    if (CHROMIUM is None or shutil.which("npm") is None) and os.environ.get("CI") != "true":
        pytest.skip("NO CHROMIUM OR NO NODE: the docs page was NOT looked at (CI=true demands it)")
    process = Process(tmp_path_factory.mktemp("served"), free_port())
    try:
        process.wait_until_ready(seconds=120)
        yield process.url()
    finally:
        process.stop()


@pytest.fixture(scope="module")
def seen(address: str, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """What Chromium shows of the page, with every other host unresolvable."""
    assert CHROMIUM is not None, "CI must look at the page in Chromium"
    gate = load_gate()
    gate.fetch_node_tools()
    screenshot = tmp_path_factory.mktemp("docs") / "docs.png"
    script = Path(__file__).with_name("docs_page.cjs")
    done = subprocess.run(
        ["node", str(script), address, CHROMIUM, str(screenshot)],
        env={**os.environ, "NODE_PATH": str(gate.NODE / "node_modules")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert screenshot.read_bytes().startswith(b"\x89PNG")
    return json.loads(done.stdout)


def test_the_page_offers_every_kind_of_reading_by_its_name(seen: Any) -> None:
    kinds = document()["components"]["schemas"]["Reading"]["oneOf"]
    named = [kind["$ref"].rpartition("/")[2] for kind in kinds]
    assert [re.search(r"\[(\w+)\]", text)[1] for text in seen["union"]] == named  # type: ignore[index]
    assert "ToeScaleReading" in seen["chosen"]


def test_a_call_from_the_page_returns_the_solution_of_its_sample(seen: Any, address: str) -> None:
    sample = (ROOT / "openapi/examples/solution-request.json").read_bytes()
    headers = {"Content-Type": "application/json"}
    answer = httpx.post(f"{address}/v1/solutions", content=sample, headers=headers)
    assert seen["status"] == 200
    assert seen["solution"] == answer.json()
    assert '"engine"' in seen["shown"]


def test_the_page_asks_no_other_host_and_breaks_no_rule_of_its_policy(
    seen: Any, address: str
) -> None:
    outside = [url for url in seen["asked"] if not url.startswith((address, "data:", "blob:"))]
    assert outside == []
    assert seen["failed"] == []
    assert seen["complaints"] == []
