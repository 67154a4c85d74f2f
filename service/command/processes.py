"""Several processes that serve one port: started, watched, and stopped together.

Each is a fork of this one, made after the application's modules were imported, so that they share
their memory and start at once. One that dies is replaced; one that dies before it has served ends
them all, since the next would fare no better.
"""

import gc
import os
import shutil
import signal
import sys
import tempfile
import time
from types import FrameType

from service.command.listening import listening
from service.command.server import CANNOT_START, serve_on
from service.setting_rules import SettingsError, fault
from service.settings import Settings

SIGNALS = (signal.SIGINT, signal.SIGTERM)
YOUNG_SECONDS = 2.0
"""A process that ends by itself within this time is taken to be unable to start."""


class Together:
    """The processes of one port, by their ids, with the time that each was started at."""

    def __init__(self, settings: Settings, port: int, folder: str) -> None:
        self._settings = settings
        self._port = port
        self._folder = folder
        self._began: dict[int, float] = {}
        self._stopping = False
        self._code = 0

    def run(self) -> int:
        """Serve until a signal has stopped every process; returns the exit code."""
        for one in SIGNALS:
            signal.signal(one, self._pass_on)
        for _ in range(self._settings.processes):
            self._start()
        while self._began:
            self._bury(*os.wait())
        return self._code

    def _pass_on(self, number: int, _frame: FrameType | None) -> None:
        self._stopping = True
        for process in list(self._began):
            _signal(process, number)

    def _start(self) -> None:
        signal.pthread_sigmask(signal.SIG_BLOCK, SIGNALS)
        process = os.fork()
        if not process:  # until it serves, a signal simply ends it
            for one in SIGNALS:
                signal.signal(one, signal.SIG_DFL)
        signal.pthread_sigmask(signal.SIG_UNBLOCK, SIGNALS)
        if process:
            self._began[process] = time.monotonic()
            if self._stopping:
                _signal(process, signal.SIGTERM)
            return
        code = 70
        try:
            sockets = listening(self._settings, shared=True, port=self._port)
            code = serve_on(sockets, self._settings, self._folder)
        except BaseException as error:
            print(f"axlewright: a process could not serve: {error!r}", file=sys.stderr)
        finally:
            sys.stdout.flush()
            os._exit(code)  # what is registered to run at the exit is the parent's

    def _bury(self, process: int, status: int) -> None:
        began = self._began.pop(process, None)
        if began is None or self._stopping:
            return
        code = os.waitstatus_to_exitcode(status)
        print(f"axlewright: process {process} ended ({code})", file=sys.stderr, flush=True)
        young = time.monotonic() - began < YOUNG_SECONDS
        if code == CANNOT_START or (code >= 0 and young):
            self._code = code or 1
            self._pass_on(signal.SIGTERM, None)
            return
        if young:
            time.sleep(0.5)  # something kills it at once: do not spend the machine on trying
        self._start()


def _signal(process: int, number: int) -> None:
    try:
        os.kill(process, number)
    except ProcessLookupError:
        return


def serve_together(settings: Settings) -> int:
    """Serve one port by as many processes as the settings say."""
    if not hasattr(os, "fork"):
        raise SettingsError(fault("processes", "this system can run one process only; write 1"))
    for probe in listening(settings):  # fails where somebody else listens already
        probe.close()
    held = listening(settings, shared=True)  # never listens: it keeps the port ours
    folder = tempfile.mkdtemp(prefix="axlewright-")
    gc.freeze()  # so that collecting does not copy what the forks share
    try:
        return Together(settings, held[0].getsockname()[1], folder).run()
    finally:
        shutil.rmtree(folder, ignore_errors=True)
