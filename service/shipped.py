"""Where the files that travel with the service lie: migrations and the OpenAPI document."""

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_FOLDERS = ("migrations", "openapi")


def shipped(path: str) -> Path:
    """Path of a file or folder below `migrations` or `openapi`, in a wheel and in a checkout alike.

    A wheel carries both folders inside the package; in a checkout they lie beside it.
    Raises ValueError for any other folder and FileNotFoundError where nothing lies there.
    """
    parts = path.split("/")
    if parts[0] not in _FOLDERS or ".." in parts:
        raise ValueError(f"{path!r} does not ship; write a path below {' or '.join(_FOLDERS)}")
    for root in (_PACKAGE / "_shipped", _PACKAGE.parent):
        if (root / parts[0]).is_dir():
            found = root.joinpath(*parts)
            break
    else:
        raise FileNotFoundError(f"this installation is incomplete: it has no folder {parts[0]!r}")
    if not found.exists():
        raise FileNotFoundError(f"this installation has no file {path!r}")
    return found
