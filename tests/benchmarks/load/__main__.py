"""Load on the service, from outside: `python tests/benchmarks/load [PART ...]`.

compare    the solve endpoint beside bare Litestar handlers and FastAPI with pydantic
scale      solving on one process and on two
mix        what a shop system asks, on SQLite and PostgreSQL, one process, two, and two replicas
           in network namespaces of their own behind nginx
kill       a replica is killed under load: what was acknowledged, lost, refused
memory     resident memory over many requests
start      from the start of the process to its first answer

Without a name all of them, one after the other. wrk makes the load; nginx and the right to make
network namespaces (`ip netns`, root) are used where they are there, and it is said where not.
`--smoke` runs everything for a second or so, to see that it works; its numbers mean nothing.
"""

import argparse
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from benchmarks.load import compare, kill, memory, mix, scale, wrk  # noqa: E402

PARTS = ("compare", "scale", "mix", "kill", "memory", "start")


def main() -> None:
    """Run the parts that were named."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("parts", nargs="*", metavar="PART", help=", ".join(PARTS))
    parser.add_argument("--seconds", type=float, default=4.0, help="of one run")
    parser.add_argument("--rounds", type=int, default=9, help="runs of each that take turns")
    parser.add_argument("--requests", type=int, default=200_000, help="of the part memory")
    parser.add_argument("--no-rival", action="store_true", help="leave FastAPI out")
    parser.add_argument("--smoke", action="store_true", help="only see that everything works")
    options = parser.parse_args()
    unknown = set(options.parts) - set(PARTS)
    if unknown:
        parser.error(f"there is no part {', '.join(sorted(unknown))}")
    if not wrk.is_there():
        sys.exit("wrk is not installed: apt-get install wrk")
    if options.smoke:
        options.seconds, options.rounds, options.requests = 1.0, 1, 200
    with tempfile.TemporaryDirectory(prefix="axw-load-") as folder:
        for part in options.parts or PARTS:
            print(f"\n== {part}", flush=True)
            carry_out(part, Path(folder), options)


def carry_out(part: str, folder: Path, options: argparse.Namespace) -> None:
    """Run one part."""
    own = folder / part
    own.mkdir()
    if part == "compare":
        compare.compare(own, options.seconds, options.rounds, not options.no_rival)
    elif part == "scale":
        scale.scale(own, options.seconds, options.rounds)
    elif part == "mix":
        mix.mix(own, options.seconds, options.rounds)
    elif part == "kill":
        kill.kill(own, max(6.0, options.seconds * 3))
    elif part == "memory":
        memory.memory(own, options.requests)
    else:
        memory.start(own, options.rounds)


if __name__ == "__main__":
    main()
