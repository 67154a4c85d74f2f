"""One set of counts for the processes that share a port: whichever is asked answers for all.

Each process writes its counts into a folder once a second. What a process that has died had counted
stays in the sums, since a counter must not fall; its gauges do not.
"""

import os
from contextlib import suppress
from pathlib import Path

import msgspec

from service.api import metrics

_encode = msgspec.json.Encoder().encode
_decode = msgspec.json.Decoder(metrics.Counts).decode


class SharedCounts:
    """The folder where processes of one service tell each other what they have counted."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._own = folder / f"{os.getpid()}.json"

    def tell(self, own: metrics.Counts) -> None:
        """Write this process's counts, whole or not at all."""
        fresh = self._own.with_suffix(".new")
        with suppress(OSError):
            fresh.write_bytes(_encode(own))
            fresh.replace(self._own)

    def with_others(self, own: metrics.Counts) -> metrics.Counts:
        """This process's counts as they are now, and what the others last told."""
        total = own
        for file in self._folder.glob("*.json"):
            if file == self._own:
                continue
            with suppress(OSError, msgspec.DecodeError):
                told = _decode(file.read_bytes())
                if not _runs(int(file.stem)):
                    told.gauges = {}
                total = total.plus(told)
        return total


def _runs(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
