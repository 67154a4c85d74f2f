"""Do what README.md tells a newcomer: its first set-up command, then its curl line.

The curl line must give the documented answer, openapi/examples/solution.json, while the demo
serves. Its second command is the one that .ci/run itself runs.
"""

import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
ALIVE = "http://127.0.0.1:8410/health/live"


def shell_lines() -> list[str]:
    """Lines of the README's shell blocks."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```sh\n(.*?)^```", text, flags=re.MULTILINE | re.DOTALL)
    return [line for block in blocks for line in block.splitlines()]


def only(lines: list[str], words: str) -> str:
    """The one line that holds some words; a README that holds none or several is at fault."""
    found = [line for line in lines if words in line]
    if len(found) != 1:
        sys.exit(f"README.md must have one shell line with {words!r}, and has {len(found)}")
    return found[0]


def alive() -> bool:
    """Whether something answers on the demo's port."""
    try:
        with urllib.request.urlopen(ALIVE, timeout=2) as answer:
            return bool(answer.status == 200)
    except (urllib.error.URLError, OSError):
        return False


def await_demo(demo: subprocess.Popen[bytes]) -> None:
    """Return once the demo serves; the set-up before it may take some minutes."""
    for _ in range(1200):
        if demo.poll() is not None:
            sys.exit(f"the demo ended with exit code {demo.returncode} instead of serving")
        if alive():
            return
        time.sleep(0.5)
    sys.exit("the demo did not serve within ten minutes")


def main() -> int:
    """0 when the curl line, run as printed, gives the documented answer."""
    lines = shell_lines()
    start = only(lines, "bootstrap.py demo")
    ask = only(lines, "@openapi/examples/solution-request.json")
    if alive():
        sys.exit(f"something answers on {ALIVE} already: stop it first")
    demo = subprocess.Popen(["bash", "-c", start], cwd=ROOT, start_new_session=True)
    try:
        await_demo(demo)
        asked = subprocess.run(["bash", "-c", ask], cwd=ROOT, check=True, capture_output=True)
        answer = json.loads(asked.stdout)
    finally:
        os.killpg(demo.pid, signal.SIGTERM)
        demo.wait(timeout=30)
    documented = json.loads((ROOT / "openapi/examples/solution.json").read_text(encoding="utf-8"))
    if answer != documented:
        print(f"the answer differs from the documented one:\n{json.dumps(answer, indent=1)}")
        return 1
    print("the README's curl line gave the documented answer")
    return 0


if __name__ == "__main__":
    sys.exit(main())
