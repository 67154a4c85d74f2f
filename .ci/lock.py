"""Renew .ci/requirements.lock from pyproject.toml, keeping every pin that still fits.

`--upgrade` takes the newest of everything instead. Needs `uv` on PATH and a package index.
"""

import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / ".ci" / "requirements.lock"
OLDEST_PYTHON = "3.11"

HEADER = """\
# Every package the project installs, pinned and hash-checked: Python 3.11 to 3.14, any platform.
# Made by `python3 .ci/lock.py` (`--upgrade` takes the newest of everything); not edited by hand.
#
# One resolution, cut into sections by lines that begin with `# ==`. Each section holds what the
# ones above it do not already hold, so a reader takes it from the top down to what is needed:
#   runtime   what the service imports; the container image ends here
#   build     what turns the checkout into a wheel
#   test      what the tests and the checks import; on Linux it asks for glibc, since one of its
#             wheels carries a whole PostgreSQL
#   checks    what audits the lock, writes its bill of materials and looks for secrets
#   clients   what writes client code from the contract
# The whole is also a plain requirements file. So the image and the tests cannot differ in a
# version, and no tool but pip is needed to install any part of it.
"""


def compile_pins(*arguments: str, hashes: bool, source: str = "pyproject.toml") -> str:
    """Resolve by uv for every platform and return the requirements text."""
    command = ["uv", "pip", "compile", source, "--universal", "--no-header", "--quiet"]
    command += ["--python-version", OLDEST_PYTHON]
    command += ["--generate-hashes"] if hashes else ["--no-annotate"]
    return subprocess.run(
        [*command, *arguments], cwd=ROOT, check=True, text=True, stdout=subprocess.PIPE
    ).stdout


def blocks(text: str) -> list[str]:
    """Split a requirements text into one block a pin, hashes and annotation included."""
    return re.findall(r"^[A-Za-z0-9][^\n]*\n(?:[ \t]+[^\n]*\n)*", text, flags=re.MULTILINE)


def name_of(block: str) -> str:
    """Normalised project name (PEP 503) of a pin."""
    return re.sub(r"[-_.]+", "-", re.split(r"[=\s]", block, maxsplit=1)[0]).lower()


def closure(
    folder: Path, full: Path, *arguments: str, requires: list[str] | None = None
) -> set[str]:
    """Names reached from part of the requirements, at the versions of the full resolution."""
    source = "pyproject.toml"
    if requires is not None:
        listed = folder / "requires.in"
        listed.write_text("\n".join(requires) + "\n", encoding="utf-8")
        source = str(listed)
    text = compile_pins("--constraints", str(full), *arguments, hashes=False, source=source)
    return {name_of(block) for block in blocks(text)}


def main(arguments: list[str]) -> int:
    """Resolve everything at once, then cut the result into sections."""
    if shutil.which("uv") is None:
        print("uv is needed to renew the lock: install it with `pip install uv`", file=sys.stderr)
        return 2
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        full = folder / "full.txt"
        if LOCK.exists():
            shutil.copy(LOCK, full)  # uv keeps the pins of the file it writes to
        compile_pins("--all-extras", "--output-file", str(full), *arguments, hashes=True)
        sections = {
            "runtime": closure(folder, full),
            "build": closure(folder, full, requires=project["build-system"]["requires"]),
            "test": closure(folder, full, "--extra", "test"),
            "checks": closure(folder, full, "--extra", "test", "--extra", "checks"),
            "clients": closure(folder, full, "--all-extras"),
        }
        pins = blocks(full.read_text(encoding="utf-8"))
    lines, written = [HEADER], set[str]()
    for section, names in sections.items():
        lines.append(f"\n# == {section}\n")
        lines += [pin for pin in pins if name_of(pin) in names - written]
        written |= names
    missing = {name_of(pin) for pin in pins} ^ written
    if missing:
        print(f"these pins belong to no section: {sorted(missing)}", file=sys.stderr)
        return 1
    LOCK.write_text("".join(lines), encoding="utf-8")
    print(f"{LOCK.relative_to(ROOT)}: {len(pins)} pins")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
