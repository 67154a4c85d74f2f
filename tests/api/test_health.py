"""`/health`: live says that the process runs, ready that everything it needs is there."""

import logging

import pytest
from asking import ask

import service
from service.app import create_app
from service.settings import Settings


async def there() -> None:
    """A check that passes."""


async def gone() -> None:
    """A check that fails."""
    raise ConnectionError("password swordfish was refused by db.internal")


def test_a_running_process_is_live_and_names_its_version() -> None:
    answer = ask(create_app(Settings()), "GET", "/health/live", headers=[])
    assert (answer.status, answer.json) == (200, {"status": "live", "version": service.__version__})


def test_a_service_that_needs_nothing_is_ready() -> None:
    answer = ask(create_app(Settings(), readiness={}), "GET", "/health/ready", headers=[])
    assert (answer.status, answer.json) == (200, {"status": "ready", "checks": []})


def test_readiness_names_what_it_looked_at() -> None:
    app = create_app(Settings(), readiness={"database": there, "disk": there})
    assert ask(app, "GET", "/health/ready").json["checks"] == ["database", "disk"]


def test_a_failed_check_is_a_503_that_names_it_and_nothing_of_its_inside(
    caplog: pytest.LogCaptureFixture,
) -> None:
    app = create_app(Settings(), readiness={"database": gone, "disk": there})
    with caplog.at_level(logging.WARNING, "service"):
        answer = ask(app, "GET", "/health/ready", headers=[])
    assert (answer.status, answer.slug) == (503, "unavailable")
    assert int(answer.headers["retry-after"]) > 0
    assert answer.pointers == ["database"]
    assert "swordfish" not in answer.body.decode()
    assert "swordfish" in caplog.text


def test_a_process_stays_live_while_a_check_fails() -> None:
    app = create_app(Settings(), readiness={"database": gone})
    assert ask(app, "GET", "/health/live").status == 200
