"""Look for secrets in every file under version control; what looks like one must be explained.

`.ci/not-secret.json` names what only looks like a secret, by file and by the SHA-1 that
detect-secrets gives it, with the reason. An entry that no longer occurs is an objection too.
"""

import json
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
EXPLAINED = ROOT / ".ci" / "not-secret.json"
# Digests of packages and files, minified script, and the compiled texts: nothing is typed there.
EXCLUDED = r"requirements\.lock$|package-lock\.json$|SHA256SUMS$|\.min\.|\.po$|not-secret\.json$"


def found() -> dict[tuple[str, str], str]:
    """What looks like a secret: its kind and line by file and digest."""
    tool = str(Path(sys.executable).with_name("detect-secrets"))
    command = [tool, "scan", "--exclude-files", EXCLUDED]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    return {
        (name, one["hashed_secret"]): f"{one['type']}, line {one['line_number']}"
        for name, listed in json.loads(done.stdout)["results"].items()
        for one in listed
    }


def explained() -> set[tuple[str, str]]:
    """What is known to be none; a reason that says nothing does not count."""
    entries = json.loads(EXPLAINED.read_text(encoding="utf-8"))
    return {(one["file"], one["sha1"]) for one in entries if one["reason"].strip()}


def main() -> int:
    """0 where every finding is explained and every explanation is needed."""
    here, known = found(), explained()
    for key in sorted(here.keys() - known):
        print(f"{key[0]}: {here[key]}, sha1 {key[1]}")
    for name, digest in sorted(known - here.keys()):
        print(f"{name}: {digest} no longer occurs; take it out of {EXPLAINED.name}")
    print(f"{len(here)} look like secrets, {len(here.keys() & known)} of them are explained")
    return int(here.keys() != known)


if __name__ == "__main__":
    sys.exit(main())
