"""What is handed to others: the wheel, the lock, the names at the top of the repository."""

import ast
import json
import os
import re
import subprocess
import sys
import tomllib
import zipfile
from collections.abc import Iterator
from importlib.metadata import PackageNotFoundError, packages_distributions, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from service import __version__
from service.shipped import shipped

ROOT = Path(__file__).resolve().parent.parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LOCK = (ROOT / ".ci" / "requirements.lock").read_text(encoding="utf-8")
OWN_MODULES = {
    "service",
    "axlewright_client",
    *(file.stem for file in (ROOT / "tests").iterdir()),
    *(file.stem for file in (ROOT / "tests" / "benchmarks").rglob("*.py")),
}
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "service",
    "migrations",
    "openapi",
    "tests",
    "docker",
}


def tracked_files() -> list[str]:
    """Paths under version control; the tests that need them are skipped outside a clone."""
    if not (ROOT / ".git").exists():
        pytest.skip("not a clone: there is no list of tracked files")
    command = ["git", "-c", f"safe.directory={ROOT}", "ls-files", "-z"]
    listed = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True).stdout
    return [name for name in listed.split("\0") if name and (ROOT / name).is_file()]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from this checkout by the locked build back end."""
    return build_wheel(tmp_path_factory.mktemp("wheel"))


def build_wheel(folder: Path) -> Path:
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that holds the unpacked wheel and nothing of the checkout."""
    folder = tmp_path_factory.mktemp("installed")
    zipfile.ZipFile(wheel).extractall(folder)
    return folder


def run_installed(installed: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Run Python from outside the checkout with the unpacked wheel first on its path."""
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=installed.parent,
        env={**os.environ, "PYTHONPATH": str(installed)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_wheel_holds_the_package_and_nothing_else(wheel: Path) -> None:
    tops = {name.split("/")[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert tops == {"service", f"axlewright-{__version__}.dist-info"}


@pytest.mark.parametrize("folder", ["migrations", "openapi"])
def test_the_wheel_ships_every_tracked_file_of(wheel: Path, folder: str) -> None:
    tracked = [name for name in tracked_files() if name.startswith(f"{folder}/")]
    assert tracked
    in_wheel = set(zipfile.ZipFile(wheel).namelist())
    assert {f"service/_shipped/{name}" for name in tracked} <= in_wheel


def test_the_wheel_ships_the_contract(wheel: Path) -> None:
    inside = zipfile.ZipFile(wheel).read("service/_shipped/openapi/openapi.json")
    assert inside == (ROOT / "openapi" / "openapi.json").read_bytes()


def test_the_same_checkout_gives_the_same_wheel_bytes(wheel: Path, tmp_path: Path) -> None:
    assert build_wheel(tmp_path).read_bytes() == wheel.read_bytes()


def test_an_installed_wheel_finds_its_own_contract_file(installed: Path) -> None:
    program = "from service.shipped import shipped; print(shipped('openapi/openapi.json'))"
    done = run_installed(installed, "-c", program)
    assert done.returncode == 0, done.stderr
    found = Path(done.stdout.strip())
    assert found == installed.resolve() / "service/_shipped/openapi/openapi.json"


def test_a_checkout_finds_the_contract_file_beside_the_package() -> None:
    assert shipped("openapi/openapi.json") == ROOT / "openapi" / "openapi.json"


@pytest.mark.parametrize("path", ["tests/test_packaging.py", "openapi/../pyproject.toml", ""])
def test_only_the_two_folders_that_ship_can_be_asked_for(path: str) -> None:
    with pytest.raises(ValueError, match="does not ship"):
        shipped(path)


def test_a_file_that_is_not_there_is_named_in_the_error() -> None:
    with pytest.raises(FileNotFoundError, match=r"openapi/none\.json"):
        shipped("openapi/none.json")


def test_the_wheel_gives_the_console_command_axlewright(installed: Path) -> None:
    """The entry point is loaded from the installed metadata and asked for its help."""
    program = (
        "import sys; from importlib.metadata import distribution\n"
        "(entry,) = distribution('axlewright').entry_points.select(group='console_scripts')\n"
        "sys.argv = [entry.name, '--help']; print(entry.name); sys.exit(entry.load()())"
    )
    done = run_installed(installed, "-c", program)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[0] == "axlewright"
    assert all(command in done.stdout for command in ("serve", "solve", "convert", "demo"))


def test_the_version_is_the_same_in_the_package_the_wheel_and_the_contract(wheel: Path) -> None:
    contract = json.loads((ROOT / "openapi" / "openapi.json").read_text(encoding="utf-8"))
    assert wheel.name == f"axlewright-{__version__}-py3-none-any.whl"
    assert contract["info"]["version"] == __version__


def test_nothing_else_is_visible_at_the_top_of_the_repository() -> None:
    tops = {name.split("/")[0] for name in tracked_files()}
    assert {name for name in tops if not name.startswith(".")} == TOP_LEVEL


def forbidden_words() -> re.Pattern[str]:
    """What must not be found in a tracked file; put together here so that this file passes too."""
    words = ["trans" + "cript", "seed" + " document", "domain" + "-facts", "contract" + "-notes"]
    words += ["design" + " card", r"\bissue" + r" #?\d", "shared" + "/design"]
    paths = [rf"(?<![\w.}}])/{top}/[a-z]" for top in ("work", "tmp", "root", "home")]
    hosts = [host.replace("~", r"\.") for host in ("pythonhosted~", "pypi~org/s", "npmjs~")]
    return re.compile("|".join(words + paths + hosts), re.IGNORECASE)


def test_no_tracked_file_names_this_machine_a_package_host_or_a_private_source() -> None:
    pattern, found = forbidden_words(), []
    for name in tracked_files():
        text = (ROOT / name).read_bytes().decode("utf-8", errors="replace")
        found += [f"{name}: {match[0]!r}" for match in pattern.finditer(text)]
    assert found == []


@pytest.mark.parametrize(
    "planted",
    [
        "the Trans" + "cript says",
        "/" + "tmp/x",
        " /" + "home/someone",
        "files.python" + "hosted.org",
    ],
)
def test_the_search_for_such_words_finds_a_planted_one(planted: str) -> None:
    assert forbidden_words().search(planted)


def requirement_lists() -> dict[str, list[str]]:
    """Every list of requirements in pyproject.toml by the section of the lock that covers it."""
    extras = PROJECT["project"]["optional-dependencies"]
    return {
        "runtime": PROJECT["project"]["dependencies"],
        "build": PROJECT["build-system"]["requires"],
        **extras,
    }


def pins_of(section: str) -> Iterator[Requirement]:
    """Pins of the lock from its top down to the end of a section, as an installer reads them."""
    wanted = list(requirement_lists())
    wanted = wanted[: wanted.index(section) + 1]
    for part in LOCK.split("\n# == ")[1:]:
        title, _, body = part.partition("\n")
        if title in wanted:
            for line in re.findall(r"^[a-z0-9][^\\\n]*", body, flags=re.MULTILINE):
                yield Requirement(line)


@pytest.mark.parametrize(
    ("section", "line"),
    [(section, line) for section, lines in requirement_lists().items() for line in lines],
)
def test_the_lock_covers_a_requirement_of_pyproject(section: str, line: str) -> None:
    wanted = Requirement(line)
    section = "test" if section == "otel" else section  # the tests try the extra
    pins = [p for p in pins_of(section) if canonicalize_name(p.name) == wanted.name.lower()]
    assert pins
    for pin in pins:
        (exact,) = pin.specifier
        assert exact.operator == "=="
        assert wanted.specifier.contains(exact.version)


@pytest.mark.parametrize("section", ["runtime", "build", "test"])
def test_a_section_of_the_lock_needs_nothing_from_below_it(section: str) -> None:
    """By the metadata of what is installed, so that an image made of the top part is complete."""
    pins = [p for p in pins_of(section) if p.marker is None or p.marker.evaluate()]
    names, missing = {canonicalize_name(pin.name) for pin in pins}, []
    for pin in pins:
        try:
            needed = [Requirement(line) for line in requires(pin.name) or []]
        except PackageNotFoundError:
            pytest.fail(f"{pin.name} of the lock is not installed: run .ci/bootstrap.py test")
        needed = [n for n in needed if n.marker is None or n.marker.evaluate({"extra": ""})]
        missing += [(pin.name, n.name) for n in needed if canonicalize_name(n.name) not in names]
    assert missing == []


def imported_distributions(folder: str) -> set[str]:
    """Distributions that the Python files of a folder import, by their normalised names."""
    known = packages_distributions()
    found: set[str] = set()
    for file in (ROOT / folder).rglob("*.py"):
        if (file.parent / "requirements.txt").exists():
            continue  # it runs in an environment of its own, made from that list
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and not node.level:
                names.append(node.module or "")
            tops = {name.split(".")[0] for name in names} - sys.stdlib_module_names - OWN_MODULES
            for top in tops:
                # What is not installed is no less imported: it counts under its module's name.
                ones = {canonicalize_name(one) for one in known.get(top, [top])}
                # Of distributions that share a name, such as `opentelemetry`, one may be meant.
                found |= (ones & declared(*requirement_lists())) or ones if len(ones) > 1 else ones
    return found


def declared(*lists: str) -> set[str]:
    """Names in some of the requirement lists of pyproject.toml."""
    lines = [line for name in lists for line in requirement_lists()[name]]
    return {canonicalize_name(Requirement(line).name) for line in lines}


@pytest.mark.parametrize("folder", ["service", "migrations"])
def test_what_ships_imports_only_what_it_declares(folder: str) -> None:
    """What another package happens to bring along may be gone with its next version."""
    assert imported_distributions(folder) - declared("runtime", "otel") == set()


@pytest.mark.parametrize("folder", ["tests", ".ci"])
def test_the_tests_and_checks_import_only_what_they_declare(folder: str) -> None:
    assert imported_distributions(folder) - declared("runtime", "build", "test") == set()


def test_every_pin_of_the_lock_carries_a_hash_and_no_line_names_an_index() -> None:
    body = LOCK[LOCK.index("\n# == ") :]
    pins = re.split(r"^(?=[a-z0-9])", body, flags=re.MULTILINE)[1:]
    assert all("--hash=sha256:" in pin for pin in pins)
    assert not re.search(r"^\s*-(?!-hash=)|://", body, flags=re.MULTILINE)


def test_every_dependency_says_why_it_is_there() -> None:
    """A comment of at least three words stands beside each, in the line itself."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    for line in [line for lines in requirement_lists().values() for line in lines]:
        if line in PROJECT["build-system"]["requires"] and line not in text.split("[project]")[1]:
            continue
        beside = re.search(re.escape(f'"{line}",') + r"[^\S\n]*#\s*(.+)", text)
        assert beside, f"no reason beside {line}"
        assert len(beside[1].split()) >= 3, f"{line}: {beside[1]}"


def test_every_contract_tool_says_why_it_is_there_and_is_pinned_exactly() -> None:
    tools = json.loads((ROOT / ".ci" / "node" / "package.json").read_text(encoding="utf-8"))
    assert tools["devDependencies"].keys() == tools["reasons"].keys()
    assert all(re.fullmatch(r"[\d.]+", version) for version in tools["devDependencies"].values())


def test_the_lock_of_the_contract_tools_has_hashes_and_names_no_registry() -> None:
    lock = json.loads((ROOT / ".ci" / "node" / "package-lock.json").read_text(encoding="utf-8"))
    packages = {name: entry for name, entry in lock["packages"].items() if name}
    assert packages
    assert not [name for name, entry in packages.items() if "resolved" in entry]
    unhashed = [n for n, e in packages.items() if "integrity" not in e and not e.get("inBundle")]
    assert unhashed == []
