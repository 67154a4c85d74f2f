"""Set the project up in .venv from the hash-checked lock, then do one job.

    python3 .ci/bootstrap.py demo [arguments of `axlewright demo`]
    python3 .ci/bootstrap.py test [arguments of pytest]
    python3 .ci/bootstrap.py setup [runtime|build|test|checks|clients]

Needs nothing but Python 3.11 or newer and a package index that pip can reach. A second run skips
what is done. The standard library alone is used here, in a syntax that old Pythons can read, so
that they too print a sentence rather than a traceback.
"""

import hashlib
import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path

if sys.version_info < (3, 11):  # noqa: UP036 - here to speak to the Pythons that are too old
    sys.exit(
        f"Axlewright needs Python 3.11 or newer; this is Python {sys.version_info[0]}."
        f"{sys.version_info[1]} ({sys.executable}).\n"
        "Run the same command with a newer one, for example: python3.12 .ci/bootstrap.py ..."
    )

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / ".ci" / "requirements.lock"
VENV = ROOT / ".venv"
STAMP = VENV / "axlewright-setup.json"
SECTIONS = ("runtime", "build", "test", "checks", "clients")
LAST_SECTION = {"demo": "build", "test": "test"}
# Each worker starts a PostgreSQL of its own, hence not more of them than that. A worker takes whole
# files, so that what a file's tests share is made once, in the order of tests/conftest.py.
WHOLE_FILES = ("--dist", "loadscope", "--no-loadscope-reorder")
ON_EVERY_CORE = ("-n", "auto", "--maxprocesses", "8", *WHOLE_FILES)
# Wheels only: a source archive would fetch its build tools unpinned and unchecked.
HASHED_WHEELS = ("--require-hashes", "--no-deps", "--only-binary=:all:")


def executable(name: str) -> str:
    """Path of a command inside the virtual environment."""
    if os.name == "nt":
        return str(VENV / "Scripts" / (name + ".exe"))
    return str(VENV / "bin" / name)


def digest(*files: Path) -> str:
    """SHA-256 over the contents of files, in the order given."""
    total = hashlib.sha256()
    for file in files:
        total.update(file.read_bytes())
    return total.hexdigest()


def locked(section: str) -> str:
    """Requirements of the lock from its top down to the end of one section."""
    kept, wanted = [], SECTIONS[: SECTIONS.index(section) + 1]
    for line in LOCK.read_text(encoding="utf-8").splitlines(keepends=True):
        if line.startswith("# == ") and line[5:].strip() not in wanted:
            break
        kept.append(line)
    return "".join(kept)


def finished() -> dict[str, str]:
    """What the stamp of the last set-up says, empty when there is none."""
    try:
        return dict(json.loads(STAMP.read_text(encoding="utf-8")))
    except (OSError, ValueError):
        return {}


def pip(*arguments: str) -> None:
    """Run the virtual environment's pip; a failure ends the set-up with its exit code."""
    command = [executable("python"), "-m", "pip", "--disable-pip-version-check", *arguments]
    code = subprocess.run(command, check=False, cwd=ROOT).returncode
    if code:
        sys.exit(f"Set-up stopped: pip ended with exit code {code}; its own message is above.")


def create() -> None:
    """Make an empty .venv, in place of one that is unfinished, foreign or out of date."""
    if importlib.util.find_spec("venv") is None or importlib.util.find_spec("ensurepip") is None:
        sys.exit(
            "This Python cannot make a virtual environment: its `venv` or `ensurepip` is missing.\n"
            "On Debian and Ubuntu both come with: apt install python3-venv"
        )
    print(f"Making {VENV}", flush=True)
    command = [sys.executable, "-m", "venv", "--clear", str(VENV)]
    if subprocess.run(command, check=False).returncode:
        sys.exit("Set-up stopped: the virtual environment could not be made; see above.")


def install(section: str) -> None:
    """Bring .venv up to one section of the lock and the project itself, doing only what is left."""
    lock_state = {"python": sys.version, "lock": digest(LOCK)}
    project_state = digest(ROOT / "pyproject.toml", ROOT / "service" / "__init__.py")
    done = finished()
    if any(done.get(key) != value for key, value in lock_state.items()):
        create()
        done = dict(lock_state)
    STAMP.unlink(missing_ok=True)  # until the end of this function the set-up is unfinished
    have = done.get("section", "")
    if have not in SECTIONS or SECTIONS.index(have) < SECTIONS.index(section):
        print(f"Installing the lock down to its section {section!r}", flush=True)
        wanted = VENV / "requirements.txt"
        wanted.write_text(locked(section), encoding="utf-8")
        pip("install", "-q", *HASHED_WHEELS, "-r", str(wanted))
        done["section"] = section
    if done.get("project") != project_state:
        print("Installing the project itself", flush=True)
        pip("install", "-q", "--no-deps", "--no-build-isolation", "--editable", str(ROOT))
        done["project"] = project_state
    STAMP.write_text(json.dumps(done, indent=1), encoding="utf-8")


def hand_over(command: list[str]) -> int:
    """Become the command where the system can, so that signals reach it and not this script."""
    sys.stdout.flush()
    if os.name != "nt":
        os.execv(command[0], command)  # does not return
    return subprocess.run(command, check=False).returncode


def main(arguments: list[str]) -> int:
    """Dispatch one of the jobs named in the module's text."""
    job, rest = (arguments[0] if arguments else ""), arguments[1:]
    if job == "setup" and len(rest) < 2 and (not rest or rest[0] in SECTIONS):
        install(rest[0] if rest else "test")
        return 0
    if job not in LAST_SECTION:
        print(__doc__, file=sys.stderr)
        return 2
    install(LAST_SECTION[job])
    if job == "demo":
        return hand_over([executable("axlewright"), "demo", *rest])
    os.chdir(ROOT)
    return hand_over([executable("python"), "-m", "pytest", *ON_EVERY_CORE, *rest])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
