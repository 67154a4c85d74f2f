"""The service behind its real server: within the test's event loop, or as a process to signal."""

import asyncio
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, NamedTuple

import httpx

from service.api.door import Door
from service.app import create_app
from service.command.listening import listening
from service.command.server import Server, config_of
from service.settings import Settings

ROOT = Path(__file__).resolve().parents[1]


class Running(NamedTuple):
    """A server within this process."""

    port: int
    server: Server
    door: Door

    async def raw(self, *pieces: bytes, pause: float = 0.0, patience: float = 20.0) -> bytes:
        """All that comes back for pieces sent one after another, until the server closes."""
        reader, writer = await asyncio.open_connection("127.0.0.1", self.port)
        try:
            for piece in pieces:
                writer.write(piece)
                await writer.drain()
                await asyncio.sleep(pause)
            return await asyncio.wait_for(reader.read(), patience)
        except ConnectionError:
            return b""
        finally:
            writer.close()


@asynccontextmanager
async def serving(settings: Settings, door: Door | None = None) -> AsyncIterator[Running]:
    """Serve an application on a free port of this process."""
    door = door or create_app(settings)
    server = Server(config_of(door, settings), door, settings)
    sockets = listening(settings, port=0)
    task = asyncio.create_task(server._serve(sockets))
    while not server.started:
        if task.done():
            await task
        await asyncio.sleep(0.01)
    try:
        yield Running(sockets[0].getsockname()[1], server, door)
    finally:
        server.should_exit = True
        await asyncio.wait_for(task, 60)


class Process:
    """`axlewright serve` in a process of its own; its log lines are gathered as they come."""

    def __init__(self, folder: Path, port: int, **settings: str) -> None:
        self.port = port
        given = {f"AXLEWRIGHT_{name.upper()}": value for name, value in settings.items()}
        clean = {k: v for k, v in os.environ.items() if not k.startswith("AXLEWRIGHT_")}
        database = {"AXLEWRIGHT_DATABASE_URL": f"sqlite:///{folder / 'served.sqlite3'}"}
        self.popen = subprocess.Popen(
            [sys.executable, "-m", "service", "serve", "--port", str(port)],
            env={**clean, "PYTHONPATH": str(ROOT), **database, **given},
            cwd=folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
        )
        self.lines: list[dict[str, Any]] = []
        self.errors: queue.Queue[str] = queue.Queue()
        self._readers = [
            threading.Thread(target=self._read_lines, daemon=True),
            threading.Thread(target=self._read_errors, daemon=True),
        ]
        for reader in self._readers:
            reader.start()

    def _read_lines(self) -> None:
        assert self.popen.stdout is not None
        for line in self.popen.stdout:
            self.lines.append(json.loads(line))

    def _read_errors(self) -> None:
        assert self.popen.stderr is not None
        for line in self.popen.stderr:
            self.errors.put(line.decode())

    def url(self, path: str = "", scheme: str = "http") -> str:
        """An address of the served API."""
        return f"{scheme}://127.0.0.1:{self.port}{path}"

    def wait_until_ready(self, scheme: str = "http", seconds: float = 90.0) -> None:
        """Return once `/health/ready` is 200."""
        until = time.monotonic() + seconds
        with httpx.Client(verify=False) as client:
            while time.monotonic() < until:
                assert self.popen.poll() is None, self.told()
                try:
                    if client.get(self.url("/health/ready", scheme)).status_code == 200:
                        return
                except httpx.TransportError:
                    pass
                time.sleep(0.05)
        raise AssertionError("the server was not ready in time")

    def told(self) -> str:
        """What came on the error stream until now."""
        found = []
        while not self.errors.empty():
            found.append(self.errors.get())
        return "".join(found)

    def stop(self, by: signal.Signals = signal.SIGTERM, seconds: float = 60.0) -> int:
        """Signal the process and wait for its end; returns its exit code."""
        if self.popen.poll() is None:
            self.popen.send_signal(by)
        try:
            code = self.popen.wait(seconds)
        except subprocess.TimeoutExpired:
            self.popen.kill()
            raise
        for reader in self._readers:
            reader.join(10)
        return code
