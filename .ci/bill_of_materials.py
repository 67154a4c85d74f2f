"""Write the bill of materials (CycloneDX 1.6, JSON) of what the image installs.

    python .ci/bill_of_materials.py [file, default build/sbom.json]

It is made from the section `runtime` of the lock, so it lists what is shipped, with hashes and
without what tests and checks need. The same lock gives the same bytes.
"""

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def runtime_pins() -> str:
    """The lock down to the end of its section `runtime`."""
    lock = (ROOT / ".ci" / "requirements.lock").read_text(encoding="utf-8")
    return lock.partition("\n# == build\n")[0]


def main(arguments: list[str]) -> int:
    """Write the file; fails where a pin of the lock is missing from it."""
    target = Path(arguments[0]) if arguments else ROOT / "build" / "sbom.json"
    target.parent.mkdir(parents=True, exist_ok=True)
    tool = str(Path(sys.executable).with_name("cyclonedx-py"))
    command = [tool, "requirements", "--pyproject", str(ROOT / "pyproject.toml")]
    command += ["--mc-type", "application", "--output-reproducible", "--spec-version", "1.6"]
    command += ["--output-format", "JSON", "--output-file", str(target), "-"]
    code = subprocess.run(command, check=False, input=runtime_pins(), text=True).returncode
    if code:
        return code
    text = target.read_text(encoding="utf-8")
    names = re.findall(r"^([a-z0-9][\w.-]*)==", runtime_pins(), flags=re.MULTILINE)
    missing = [name for name in names if f'"{name}"' not in text]
    print(f"{target}: {len(names)} components", *[f"missing: {name}" for name in missing], sep="\n")
    return int(bool(missing) or not names)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
