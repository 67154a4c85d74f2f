"""A real Redis for tests: started from Debian's `redis-server`, gone with the test.

Where there is none, tests are skipped by name; with CI=true they fail instead.
"""

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator

import pytest

MISSING = "no Redis: install redis-server (Debian: apt install redis-server)"


class RedisServer:
    """A server on a port of its own, to be stopped and started again."""

    def __init__(self) -> None:
        with socket.socket() as one:
            one.bind(("127.0.0.1", 0))
            self.port = int(one.getsockname()[1])
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def start(self) -> None:
        binary = shutil.which("redis-server")
        assert binary is not None
        options = ["--port", str(self.port), "--bind", "127.0.0.1", "--save", ""]
        folder = tempfile.gettempdir()
        command = [binary, *options, "--appendonly", "no", "--dir", folder]
        self._process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
        for _ in range(200):
            with socket.socket() as one:
                if one.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        raise AssertionError("redis-server did not start")

    def stop(self) -> None:
        if self._process is not None:
            self._process.terminate()
            self._process.wait(20)
            self._process = None


@pytest.fixture
def redis_server() -> Iterator[RedisServer]:
    """A running Redis of this test alone."""
    if shutil.which("redis-server") is None:
        if os.environ.get("CI") == "true":
            pytest.fail(MISSING)
        pytest.skip(MISSING)
    server = RedisServer()
    server.start()
    try:
        yield server
    finally:
        server.stop()
