"""Headless Chromium, to see sheets as readers see them. It reaches no host."""

import json
import os
import re
import shutil
import subprocess
from html import escape, unescape
from pathlib import Path
from typing import Any

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)


def browser() -> str:
    """Path of the browser; without one the test is skipped by name, and fails in CI."""
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None and os.environ.get("CI") == "true":
        pytest.fail("Chromium is not installed: CI must see the sheets as readers do")
    if found is None:
        pytest.skip("SKIPPED FOR WANT OF CHROMIUM: install it to see the sheets as readers do")
    return found


def run(folder: Path, *arguments: str) -> str:
    """What the browser prints."""
    command = [browser(), *FLAGS, f"--user-data-dir={folder / 'profile'}", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    return done.stdout


_FRAME = """<!doctype html><meta charset=utf-8><iframe width={width} height={height}
style="border:0" srcdoc="{page}"></iframe><pre id=measured></pre><script>
addEventListener("load", () => {{
  const page = document.querySelector("iframe").contentWindow;
  const answer = page.eval("(() => {{" + {script} + "}})()");
  document.getElementById("measured").textContent = JSON.stringify(answer);
}});</script>"""


def measured(folder: Path, html: str, script: str, width: int, height: int = 900) -> Any:
    """The value that a script returns, run in a page of a width once it is laid out.

    The page stands in a frame, since no window of the browser is as narrow as a phone.
    """
    file = folder / "page.html"
    framed = _FRAME.format(
        width=width, height=height, page=escape(html, quote=True), script=json.dumps(script)
    )
    file.write_text(framed, encoding="utf-8")
    dumped = run(folder, f"--window-size={width + 100},{height}", "--dump-dom", file.as_uri())
    found = re.search(r"<pre id=\"measured\">(.+?)</pre>", dumped, re.DOTALL)
    assert found, dumped[-2000:]
    return json.loads(unescape(found[1]))


def printed(folder: Path, html: str) -> bytes:
    """The page as the browser prints it."""
    file, pdf = folder / "print.html", folder / "print.pdf"
    file.write_text(html, encoding="utf-8")
    run(folder, "--no-pdf-header-footer", f"--print-to-pdf={pdf}", file.as_uri())
    return pdf.read_bytes()
