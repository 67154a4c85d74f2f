"""`docker/`: linted, held to its specifications, and its steps repeated without an engine.

No container engine is asked for here: the image's own RUN steps are read out of the Dockerfile and
run in an empty folder with an empty HOME, and the service is served from what they leave.
"""

import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import compose_spec
import promql_parser
import pytest
import yaml
from asking import ask
from dockerfile_parse import DockerfileParser

from service.api import metrics
from service.app import create_app
from service.setting_sources import read_settings
from service.settings import NAMES, Settings

ROOT = Path(__file__).resolve().parents[2]
DOCKER = ROOT / "docker"
DOCKERFILE = (DOCKER / "Dockerfile").read_text("utf-8")
COMPOSE: dict[str, Any] = yaml.safe_load((DOCKER / "compose.yaml").read_text("utf-8"))
ALERTS: list[dict[str, Any]] = yaml.safe_load((DOCKER / "alerts.yaml").read_text("utf-8"))[
    "groups"
][0]["rules"]
DASHBOARD: dict[str, Any] = json.loads((DOCKER / "dashboard.json").read_text("utf-8"))


class Step(NamedTuple):
    """One instruction of a stage."""

    name: str
    value: str


def stages(tmp_path: Path) -> list[list[Step]]:
    parser = DockerfileParser(path=str(tmp_path))
    parser.content = DOCKERFILE
    found: list[list[Step]] = []
    for one in parser.structure:
        step = Step(one["instruction"], one["value"])
        if step.name == "FROM":
            found.append([])
        if found and step.name != "COMMENT":
            found[-1].append(step)
    return found


def values(stage: list[Step], name: str) -> list[str]:
    return [step.value for step in stage if step.name == name]


def test_the_linter_has_no_objection_to_the_dockerfile() -> None:
    linter = Path(sys.executable).with_name("hadolint")
    command = [str(linter), "--no-color", str(DOCKER / "Dockerfile")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.stdout + done.stderr == ""
    assert done.returncode == 0


def test_the_linter_objects_to_a_planted_fault(tmp_path: Path) -> None:
    (tmp_path / "Dockerfile").write_text("FROM python:latest\nRUN cd / && sudo pip install x\n")
    linter = Path(sys.executable).with_name("hadolint")
    command = [str(linter), str(tmp_path / "Dockerfile")]
    assert subprocess.run(command, capture_output=True, check=False).returncode != 0


def test_the_image_runs_nothing_as_root_and_builds_nothing_in_its_last_stage(
    tmp_path: Path,
) -> None:
    build, last = stages(tmp_path)
    assert values(last, "RUN") == []
    assert values(last, "USER") == ["10001:10001"]
    assert all(copy.startswith("--from=build ") for copy in values(last, "COPY"))
    assert not any("/tools" in copy for copy in values(last, "COPY"))
    assert values(last, "STOPSIGNAL") == ["SIGTERM"]
    assert values(build, "FROM") == ["${BASE} AS build"]


def test_whatever_the_image_installs_is_pinned_and_hash_checked(tmp_path: Path) -> None:
    build, _ = stages(tmp_path)
    installs = re.findall(r"pip[^&]*? install ([^&]*)", " ".join(values(build, "RUN")))
    assert len(installs) == 3
    for install in installs:
        own = "--no-index /wheel/*.whl" in " ".join(install.split())
        assert own or "--require-hashes" in install
        assert own or "--only-binary=:all:" in install


def test_the_health_check_is_a_program_that_asks_whether_the_process_lives(tmp_path: Path) -> None:
    _, last = stages(tmp_path)
    [check] = values(last, "HEALTHCHECK")
    program = json.loads(check[check.index("CMD ") + 4 :])
    assert program[:2] == ["python", "-c"]
    compile(program[2], "healthcheck", "exec")
    assert "/health/live" in program[2]


def test_only_what_is_copied_reaches_the_builder() -> None:
    ignored = (DOCKER / "Dockerfile.dockerignore").read_text("utf-8").splitlines()
    assert "**" in ignored
    copied = [
        word
        for line in re.findall(r"^COPY (?!--from)(.*)$", DOCKERFILE, re.MULTILINE)
        for word in line.split()[:-1]
    ]
    assert {f"!{name}" for name in copied} == {line for line in ignored if line.startswith("!")}


def interpolated() -> str:
    """The compose file with its variables put in, as an engine does before it looks further."""
    text = re.sub(r"\$\{\w+:-([^}]*)\}", r"\1", json.dumps(COMPOSE))
    return re.sub(r"\$\{\w+:\?[^}]*\}", "secret", text)


def test_the_compose_file_keeps_the_compose_specification() -> None:
    composed = compose_spec.PyCompose.from_json(interpolated())
    composed.validate()
    composed.to_spec()
    assert set(composed.service_names()) == {
        "database",
        "limits",
        "migrate",
        "proxy",
        "service-1",
        "service-2",
    }


def test_a_planted_fault_in_the_compose_file_is_found() -> None:
    text = interpolated().replace('"restart":', '"restarts":')
    with pytest.raises(ValueError, match="restarts"):
        compose_spec.PyCompose.from_json(text).validate()


def services() -> dict[str, Any]:
    found: dict[str, Any] = COMPOSE["services"]
    return found


@pytest.mark.parametrize("name", ["service-1", "service-2", "migrate"])
def test_a_container_of_ours_can_write_nothing_and_gain_nothing(name: str) -> None:
    one = services()[name]
    assert one["read_only"] is True
    assert one["cap_drop"] == ["ALL"]
    assert one["security_opt"] == ["no-new-privileges:true"]
    assert "ports" not in one


def test_migration_is_a_step_of_its_own_that_the_replicas_wait_for() -> None:
    assert services()["migrate"]["command"] == ["migrate"]
    for name in ("service-1", "service-2"):
        wait = services()[name]["depends_on"]["migrate"]
        assert wait == {"condition": "service_completed_successfully"}


def test_a_replica_has_time_to_finish_before_it_is_killed() -> None:
    drain = float(services()["service-1"]["environment"]["AXLEWRIGHT_DRAIN_SECONDS"])
    grace = float(services()["service-1"]["stop_grace_period"].removesuffix("s"))
    assert grace > drain + Settings().finish_seconds


def test_what_compose_sets_are_settings_and_its_values_can_be_used() -> None:
    given = {
        name: re.sub(r"\$\{AXLEWRIGHT_PROCESSES:-1\}", "1", value)
        .replace("${", "x")
        .replace("}", "")
        for name, value in services()["service-1"]["environment"].items()
    }
    given["AXLEWRIGHT_DATABASE_URL"] = "postgresql://axlewright:x@database/axlewright"
    read = read_settings(given)
    assert read.ignored == []
    assert set(read.origins) <= set(NAMES)


def test_the_example_of_the_environment_sets_what_compose_asks_for() -> None:
    text = (DOCKER / "compose.yaml").read_text("utf-8")
    asked = set(re.findall(r"\$\{([A-Z_]+)", text))
    example = (DOCKER / ".env.example").read_text("utf-8")
    assert set(re.findall(r"^([A-Z_]+)=", example, re.MULTILINE)) == asked
    assert re.search(r"^POSTGRES_PASSWORD=$", example, re.MULTILINE)  # no password ships


def test_replicas_trust_the_proxy_and_the_proxy_knows_the_replicas() -> None:
    def address(name: str) -> str:
        return str(services()[name]["networks"]["inside"]["ipv4_address"])

    trusted = services()["service-1"]["environment"]["AXLEWRIGHT_TRUSTED_PROXIES"]
    assert trusted == f"{address('proxy')}/32"
    config = (DOCKER / "nginx.conf").read_text("utf-8")
    servers = re.findall(r"server (10\.[\d.]+):8410", config)
    assert servers == [address("service-1"), address("service-2")]


def metric_names() -> set[str]:
    """Every series of the page, with all that the page can show."""
    for event, label in (
        ("rate_limited", "key"),
        ("turned_away", "at_once"),
        ("cut_off", "head"),
        ("deliveries", "failed"),
        ("store_failures", ""),
    ):
        metrics.count(event, label, 0)
    app = create_app(Settings())
    ask(app, "GET", "/health/live")

    class Writer:
        waiting = dropped = 0

        def write(self, line: bytes) -> None: ...

    app.watch.log_to(Writer())  # type: ignore[arg-type]

    class Open:
        def gauges(self) -> dict[str, float]:
            names = ("connections_in_use", "connections_open", "work_waiting")
            return {f"database_{name}": 0.0 for name in names}

        async def outbox(self) -> tuple[int, float]:
            return 0, 0.0

    app.app.state["store"] = app.watch.store = Open()
    page = ask(app, "GET", "/metrics", headers=[]).body.decode()
    return set(re.findall(r"^([a-z_]+)(?:\{| )", page, re.MULTILINE)) | {"up"}


def selected(expression: str) -> set[str]:
    """Names of the series that a query reads; raises where it is not PromQL."""
    promql_parser.parse(expression)
    bare = re.sub(r"\{[^}]*\}|\[[^\]]*\]", "", expression)
    return set(re.findall(r"\b(?:axlewright|process)_[a-z_]+|\bup\b", bare))


QUERIES = {rule["alert"]: rule["expr"] for rule in ALERTS} | {
    f"{panel['title']} {target['refId']}": target["expr"].replace("$__rate_interval", "5m")
    for panel in DASHBOARD["panels"]
    for target in panel["targets"]
}


@pytest.fixture(scope="module")
def series() -> set[str]:
    return metric_names()


@pytest.mark.parametrize("query", QUERIES.values(), ids=QUERIES)
def test_a_query_is_promql_over_series_that_the_service_has(query: str, series: set[str]) -> None:
    names = selected(query)
    assert names
    assert names <= series


def test_every_series_of_our_own_is_on_the_dashboard(series: set[str]) -> None:
    ours = {name for name in series if name.startswith("axlewright_")}
    ours -= {name for name in ours if name.endswith(("_sum", "_count", "_created"))}
    shown = {name for query in QUERIES.values() for name in selected(query)}
    assert ours <= shown


def test_an_alert_says_what_is_wrong_and_what_to_do() -> None:
    for rule in ALERTS:
        assert set(rule["annotations"]) == {"summary", "action"}
        assert rule["labels"]["severity"] in ("warning", "critical")


def test_the_dashboard_has_what_grafana_asks_for() -> None:
    assert {"title", "uid", "schemaVersion", "panels", "templating", "time"} <= set(DASHBOARD)
    places = [tuple(panel["gridPos"][k] for k in "xywh") for panel in DASHBOARD["panels"]]
    assert len(set(places)) == len(places)
    assert all(x + w <= 24 for x, _, w, _ in places)
    assert len({panel["id"] for panel in DASHBOARD["panels"]}) == len(places)


NGINX_MISSING = "no nginx: install it (Debian: apt install nginx-light)"


@pytest.fixture
def nginx() -> str:
    found = shutil.which("nginx", path=os.environ.get("PATH", "") + ":/usr/sbin")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail(NGINX_MISSING)
        pytest.skip(NGINX_MISSING)
    return found


def test_nginx_takes_the_configuration(nginx: str, tmp_path: Path) -> None:
    text = (DOCKER / "nginx.conf").read_text("utf-8")
    for folder in ("/var/cache/nginx/", "/run/"):
        text = text.replace(folder, f"{tmp_path}/")
    (tmp_path / "nginx.conf").write_text(text)
    command = [nginx, "-t", "-e", "stderr", "-p", str(tmp_path), "-c", str(tmp_path / "nginx.conf")]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "[warn]" not in done.stderr


@pytest.fixture(scope="module")
def image(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that stands for the image's root, after every step of its first stage."""
    root = tmp_path_factory.mktemp("image")
    build, _ = stages(tmp_path_factory.mktemp("parse"))
    (root / "src").mkdir()
    clean = {"PATH": f"{root}/bin:/usr/bin:/bin", "HOME": str(root / "home"), "LANG": "C.UTF-8"}
    clean |= {k: v for k, v in os.environ.items() if k.startswith(("PIP_", "SSL_", "REQUESTS_"))}
    (root / "home").mkdir()
    (root / "bin").mkdir()
    base = Path(getattr(sys, "_base_executable", sys.executable)).resolve()
    (root / "bin" / "python").symlink_to(base)
    for step in build:
        if step.name == "COPY":
            *sources, target = step.value.split()
            for source in sources:
                copy_in(source, root / "src" / target)
        elif step.name == "RUN":
            script = re.sub(
                r"(?<=[ >=])/(?=(tools|opt|build\.lock|runtime\.lock|wheel|data)\b)",
                f"{root}/",
                f" {step.value}",
            )
            command = ["sh", "-e", "-c", script]
            done = subprocess.run(
                command, cwd=root / "src", env=clean, capture_output=True, text=True, check=False
            )
            assert done.returncode == 0, f"{step.value}\n{done.stdout}{done.stderr}"
    return root


def copy_in(source: str, target: Path) -> None:
    """COPY as a builder does: a folder's content into a folder, a file into a folder or as one."""
    place = ROOT / source
    if place.is_dir():
        ignore = shutil.ignore_patterns("__pycache__")
        shutil.copytree(place, target, ignore=ignore, dirs_exist_ok=True)
    else:
        file = target / place.name if target.is_dir() else target
        file.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(place, file)


@pytest.mark.long
def test_the_steps_leave_the_service_without_pip_or_tools(image: Path) -> None:
    packages = next((image / "opt" / "axlewright" / "lib").glob("python*/site-packages"))
    names = {path.name.lower() for path in packages.iterdir()}
    assert "service" in names
    assert not names & {"pip", "setuptools", "wheel", "hatchling", "pytest", "ruff"}
    code = sorted(packages.rglob("*.pyc"))
    assert len(code) > 500
    flags = {int.from_bytes(file.read_bytes()[4:8], "little") for file in code[:50]}
    assert flags == {1}  # PEP 552: by hash, unchecked


@pytest.fixture
def served(image: Path, tmp_path: Path) -> Iterator[int]:
    """Port of the service, served from the image's folder in an empty HOME."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = int(one.getsockname()[1])
    process = subprocess.Popen(
        [str(image / "opt/axlewright/bin/axlewright"), "serve"],
        cwd=tmp_path,
        env={
            "PATH": f"{image}/opt/axlewright/bin:/usr/bin:/bin",
            "HOME": str(tmp_path),
            "PYTHONDONTWRITEBYTECODE": "1",
            "AXLEWRIGHT_PORT": str(port),
        },
        stdout=subprocess.DEVNULL,
    )
    try:
        for _ in range(600):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/health/ready").close()
                break
            except OSError:
                assert process.poll() is None
                time.sleep(0.1)
        yield port
    finally:
        process.send_signal(signal.SIGTERM)
        assert process.wait(60) == 0


@pytest.mark.long
def test_what_the_steps_leave_serves_and_passes_its_health_check(
    image: Path, served: int, tmp_path: Path
) -> None:
    body = (ROOT / "openapi/examples/solution-request.json").read_bytes()
    headers = {"Content-Type": "application/json"}
    asked = urllib.request.Request(f"http://127.0.0.1:{served}/v1/solutions", body, headers)
    with urllib.request.urlopen(asked) as answer:
        assert json.load(answer)["axles"]
    with urllib.request.urlopen(f"http://127.0.0.1:{served}/docs") as answer:
        assert answer.status == 200
    _, last = stages(tmp_path)
    [check] = values(last, "HEALTHCHECK")
    program = json.loads(check[check.index("CMD ") + 4 :])
    environment = {"AXLEWRIGHT_PORT": str(served)}
    python = str(image / "opt/axlewright/bin/python")
    assert subprocess.run([python, *program[1:]], env=environment, check=False).returncode == 0


@pytest.mark.long
def test_the_image_holds_what_the_lock_says_and_no_more(image: Path) -> None:
    packages = next((image / "opt" / "axlewright" / "lib").glob("python*/site-packages"))
    have = {
        re.sub(r"[-_.]+", "-", path.name.split("-")[0]).lower()
        for path in packages.glob("*.dist-info")
    }
    lock = (ROOT / ".ci" / "requirements.lock").read_text("utf-8")
    runtime = lock.partition("\n# == runtime\n")[2].partition("\n# == ")[0]
    pinned = {
        re.sub(r"[-_.]+", "-", name).lower()
        for name in re.findall(r"^([A-Za-z0-9][\w.-]*)==", runtime, re.MULTILINE)
    }
    other_systems = {"colorama", "tzdata", "greenlet", "async-timeout"}
    assert have - {"axlewright"} <= pinned
    assert pinned - have <= other_systems
