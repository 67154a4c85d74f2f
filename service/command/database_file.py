"""Whether the file of an embedded database can be had, told before anything is opened."""

import os
from pathlib import Path

from service.setting_rules import SettingsError, fault

SQLITE = b"SQLite format 3\0"
"""How every such file begins that is not empty."""
WRITE = (
    "write sqlite:///file.sqlite3 for a file in the folder of the start, sqlite:////folder/"
    "file.sqlite3, with four slashes, for any other"
)


def require_database_file(url: str) -> None:
    """Refuse an embedded database whose file cannot be written or is something else.

    A server is not asked here: it may come back, a folder that is not there does not.
    """
    # Read here by its form, which the settings have made sure of: a start has nothing of the store
    # imported yet.
    kind, _, rest = url.partition(":///")
    wrong = _wrong_with(Path(rest.partition("?")[0])) if kind.startswith("sqlite") else ""
    if wrong:
        raise SettingsError(fault("database_url", f"{wrong}; {WRITE}"))


def _wrong_with(file: Path) -> str:
    folder = file.parent.absolute()
    if not folder.is_dir():
        return f"there is no folder {folder} for {file.name}"
    # The folder, too, for SQLite keeps what was committed last in a file beside.
    if not os.access(folder, os.W_OK | os.X_OK):
        return f"nothing can be written in the folder {folder}"
    if not file.exists():
        return ""
    if not file.is_file():
        return f"{file} is not a file"
    if not os.access(file, os.R_OK | os.W_OK):
        return f"{file} cannot be read and written"
    with file.open("rb") as opened:
        head = opened.read(len(SQLITE))
    return "" if head in (b"", SQLITE) else f"{file} is not a database of SQLite"
