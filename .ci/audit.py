"""Ask the advisory database (osv.dev) about every pin of the lock.

Exit code 0: no pin has a known advisory. 1: some have; they are printed. 75: the database could
not be asked, and nothing is known. Whoever reads a 75 as a pass deceives himself, so it has a name
of its own in the summary of `.ci/run`.
"""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCK = ROOT / ".ci" / "requirements.lock"
COULD_NOT_ASK = 75
UNREACHABLE = ("ConnectionError", "NameResolutionError", "ConnectTimeout", "ReadTimeout")


def main() -> int:
    """Run pip-audit over the lock as it stands: nothing is resolved and nothing installed."""
    tool = str(Path(sys.executable).with_name("pip-audit"))
    command = [tool, "--strict", "--no-deps", "--disable-pip", "--vulnerability-service", "osv"]
    command += ["--progress-spinner", "off", "--requirement", str(LOCK)]
    done = subprocess.run(command, check=False, capture_output=True, text=True)
    if done.returncode and any(word in done.stderr for word in UNREACHABLE):
        print("NOT AUDITED: the advisory database at api.osv.dev cannot be reached from here.")
        return COULD_NOT_ASK
    print(done.stdout + done.stderr, end="")
    return done.returncode


if __name__ == "__main__":
    sys.exit(main())
