"""Where settings are read from: the environment, and beneath it a TOML file."""

import os
import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, NamedTuple

import msgspec

from service.setting_rules import PREFIX, SettingsError, fault
from service.settings import HINTS, LISTS, NAMES, SECRETS, Settings

FILE = PREFIX + "SETTINGS"
"""Environment variable that names the TOML file."""


class Read(NamedTuple):
    """Settings, where each that was set comes from, and names that mean nothing."""

    settings: Settings
    origins: dict[str, str]
    ignored: list[str]


def settings_from(environment: Mapping[str, str] = os.environ) -> Settings:
    """Read the settings; a name that is set and cannot be used raises `SettingsError`."""
    return read_settings(environment).settings


def read_settings(environment: Mapping[str, str] = os.environ) -> Read:
    """The same, with where each value comes from; the environment wins over the file."""
    path = environment.get(FILE)
    in_file = _from_file(Path(path)) if path else {}
    in_environment = _from_environment(environment)
    origins = dict.fromkeys(in_file, f"file {path}") | dict.fromkeys(in_environment, "environment")
    try:
        settings = msgspec.convert({**in_file, **in_environment}, Settings, strict=False)
    except msgspec.ValidationError as error:
        raise SettingsError(_named(error)) from None
    return Read(settings, origins, _unknown(environment))


def _from_file(path: Path) -> dict[str, Any]:
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError(f"{FILE}: the file cannot be read: {error.strerror}.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsError(f"{FILE}: the file is not TOML: {error}.") from None
    for name in given:
        if name not in NAMES:
            raise SettingsError(f"{FILE}: there is no setting {name!r}.{_meant(name)}")
    return given


def _from_environment(environment: Mapping[str, str]) -> dict[str, Any]:
    given: dict[str, Any] = {}
    for name in NAMES:
        variable = PREFIX + name.upper()
        text = environment.get(variable)
        if text is None and name in SECRETS:
            text = _from_secret_file(variable + "_FILE", environment)
        if text is None:
            continue
        parts = [part.strip() for part in text.split(",")]
        given[name] = [part for part in parts if part] if name in LISTS else text
    return given


def _from_secret_file(variable: str, environment: Mapping[str, str]) -> str | None:
    """What the file of a mounted secret holds, so that it need not stand in the environment."""
    if variable not in environment:
        return None
    try:
        return Path(environment[variable]).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        raise SettingsError(f"{variable}: there is no such file that can be read.") from None


def _unknown(environment: Mapping[str, str]) -> list[str]:
    """Names with the prefix that set nothing; an orchestrator puts some there by itself."""
    known = {PREFIX + name.upper() for name in NAMES} | {FILE}
    known |= {f"{PREFIX}{name.upper()}_FILE" for name in SECRETS}
    return [
        f"{name} sets nothing.{_meant(name.removeprefix(PREFIX).lower())}"
        for name in sorted(environment)
        if name.startswith(PREFIX) and name not in known
    ]


def _meant(name: str) -> str:
    close = get_close_matches(name, NAMES, 1, 0.75)
    if not close:
        return " `axlewright settings` lists them."
    return f" Did you mean {close[0]} ({PREFIX}{close[0].upper()} in the environment)?"


def _named(error: msgspec.ValidationError) -> str:
    """The setting that cannot be used and how it is written; never its value, which may be secret.

    What msgspec says of a value is in terms of Python's types; our own rules say what they mean.
    """
    reason, _, place = str(error).partition(" - at `$.")
    if not place:
        return reason if reason.endswith(".") else f"{reason}."
    name = place.partition("[")[0].rstrip("`")
    return fault(name, HINTS[name])
