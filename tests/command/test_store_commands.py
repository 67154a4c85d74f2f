"""`migrate`, `keys`, `export` and `import` at the command line, on both databases."""

import asyncio
import os
import sys
from collections.abc import Callable
from pathlib import Path
from uuid import UUID

import pytest

from service.__main__ import main
from service.store import keys
from service.store.database import open_store
from service.store.keys import KeyRecord


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """Settings that name a database which is not there yet."""
    url = f"sqlite:///{tmp_path / 'shop.sqlite3'}"
    monkeypatch.setenv("AXLEWRIGHT_DATABASE_URL", url)
    return url


def known(url: str, text: str) -> KeyRecord | None:
    async def look() -> KeyRecord | None:
        store = open_store(url)
        await store.open()
        token = keys.read_token(text)
        assert token is not None
        found = await store.read(token.shop, lambda s: keys.check(s, token))
        await store.close()
        return found

    return asyncio.run(look())


def test_migrate_check_says_what_is_missing_and_migrate_mends_it(
    settings: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["migrate", "--check"]) == 1
    assert "revision none" in capsys.readouterr().err
    assert main(["migrate"]) == 0
    assert main(["migrate", "--check"]) == 0
    assert "up to date" in capsys.readouterr().out


def test_a_key_is_made_listed_and_revoked(
    settings: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The token alone goes to the output stream, so that a script can keep it."""
    made = main(["keys", "create", "--new-shop", "Invented", "--name", "till", "--scope", "read"])
    assert made == 0
    token = capsys.readouterr().out.strip()
    record = known(settings, token)
    assert record is not None
    assert (record.name, record.scopes) == ("till", "read")
    assert main(["keys", "list"]) == 0
    listed = capsys.readouterr().out
    assert str(record.id) in listed
    assert token not in listed
    assert main(["keys", "revoke", str(record.id)]) == 0
    assert known(settings, token) is None


def test_a_key_may_be_made_for_some_days(settings: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["keys", "create", "--new-shop", "Invented", "--days", "0"]) == 2
    assert "--days" in capsys.readouterr().err
    assert main(["keys", "create", "--new-shop", "Invented", "--days", "30"]) == 0
    record = known(settings, capsys.readouterr().out.strip())
    assert record is not None
    assert record.expires_at is not None
    assert (record.expires_at - record.created_at).days in (29, 30)
    assert main(["keys", "list"]) == 0
    assert f"until {record.expires_at:%Y-%m-%d}" in capsys.readouterr().out


def test_with_no_shop_or_several_the_command_says_what_to_say(
    settings: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["keys", "list"]) == 2
    assert "--new-shop" in capsys.readouterr().err
    for name in ("One", "Two"):
        assert main(["keys", "create", "--new-shop", name]) == 0
    capsys.readouterr()
    assert main(["keys", "list"]) == 2
    said = capsys.readouterr().err
    assert "--shop" in said
    shop = UUID(said.split()[-1])
    assert main(["keys", "list", "--shop", str(shop)]) == 0
    assert main(["keys", "revoke", "nonsense", "--shop", str(shop)]) == 2


@pytest.mark.parametrize("name", ["", " "])
def test_a_new_shop_without_a_name_is_refused_for_that(
    name: str, settings: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["keys", "create", "--new-shop", name]) == 2
    told = 'axlewright: the name of the new shop is empty; write --new-shop "Name"\n'
    assert capsys.readouterr().err == told
    assert list(tmp_path.iterdir()) == []


def test_a_shop_goes_out_to_a_file_and_into_the_other_database(
    settings: str,
    migrated_postgres_url: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["keys", "create", "--new-shop", "Moving (invented)"]) == 0
    first, second = tmp_path / "first.ndjson", tmp_path / "second.ndjson"
    assert main(["export", str(first)]) == 0
    shop = first.read_text().split('"shop":"')[1][:36]
    monkeypatch.setenv("AXLEWRIGHT_DATABASE_URL", migrated_postgres_url)
    assert main(["import", str(first)]) == 0
    assert "Moving (invented)" in capsys.readouterr().out
    assert main(["export", str(second), "--shop", shop]) == 0
    assert second.read_bytes() == first.read_bytes()


def test_a_file_comes_through_a_pipe_too(
    settings: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pipe cannot be gone through twice, so it is kept; the database takes it in the same."""
    assert main(["keys", "create", "--new-shop", "Moving (invented)"]) == 0
    first, second = tmp_path / "first.ndjson", tmp_path / "second.ndjson"
    assert main(["export", str(first)]) == 0
    reading, writing = os.pipe()
    assert os.write(writing, first.read_bytes()) == first.stat().st_size
    os.close(writing)
    with open(reading) as pipe:
        monkeypatch.setattr(sys, "stdin", pipe)
        monkeypatch.setenv("AXLEWRIGHT_DATABASE_URL", f"sqlite:///{tmp_path / 'to.sqlite3'}")
        assert main(["import", "-"]) == 0
    assert main(["export", str(second)]) == 0
    assert second.read_bytes() == first.read_bytes()


@pytest.mark.parametrize("action", [["migrate"], ["migrate", "--check"], ["keys", "list"]])
def test_a_database_that_is_away_is_said_in_one_line(
    action: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("AXLEWRIGHT_DATABASE_URL", "postgresql://nobody@127.0.0.1:1/nowhere")
    assert main(action) == 2
    assert capsys.readouterr().err == "axlewright: The store cannot be reached now.\n"


def test_a_torn_file_is_refused_and_named(
    settings: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    torn = tmp_path / "torn.ndjson"
    torn.write_bytes(b'{"format":"something else"}\n')
    assert main(["import", str(torn)]) == 2
    assert "line 1" in capsys.readouterr().err


def not_a_folder(folder: Path) -> str:
    (folder / "file").write_text("")
    return "file/x.sqlite3"


def not_a_database(folder: Path) -> str:
    (folder / "x.sqlite3").write_bytes(b"a letter, and no database at all")
    return "x.sqlite3"


FILES: dict[str, tuple[Callable[[Path], str], str]] = {
    "no folder": (lambda _: "no/such/x.sqlite3", "there is no folder {}/no/such for x.sqlite3"),
    "a file in its place": (not_a_folder, "there is no folder {}/file for x.sqlite3"),
    "a folder": (lambda _: ".", "{} is not a file"),
    "no database": (not_a_database, "{}/x.sqlite3 is not a database of SQLite"),
}


@pytest.mark.parametrize(
    "command",
    [
        ["serve"],
        ["migrate"],
        ["migrate", "--check"],
        ["keys", "create", "--new-shop", "Invented"],
        ["export", "-"],
    ],
    ids=" ".join,
)
@pytest.mark.parametrize("case", FILES)
def test_a_file_that_cannot_be_a_database_is_refused_by_setting_and_reason_in_one_line(
    case: str,
    command: list[str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    make, wrong = FILES[case]
    name = make(tmp_path)
    monkeypatch.setenv("AXLEWRIGHT_DATABASE_URL", f"sqlite:///{tmp_path}/{name}")
    assert main(command) == 2
    told = capsys.readouterr().err
    assert told.startswith(f"axlewright: AXLEWRIGHT_DATABASE_URL: {wrong.format(tmp_path)}; write")
    assert "with four slashes" in told
    assert told.count("\n") == 1


@pytest.mark.parametrize(
    ("closed", "wrong"),
    [
        (".", "nothing can be written in the folder {}"),
        ("x.sqlite3", "{}/x.sqlite3 cannot be read and written"),
    ],
)
def test_a_file_or_folder_without_the_right_to_write_is_refused_by_setting_and_reason(
    closed: str,
    wrong: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """What the system says of rights is put in its place: a superuser has them all."""
    (tmp_path / "x.sqlite3").touch()
    shut = tmp_path / closed

    def access(path: Path, mode: int) -> bool:
        return path != shut or not mode & os.W_OK

    monkeypatch.setattr(os, "access", access)
    monkeypatch.setenv("AXLEWRIGHT_DATABASE_URL", f"sqlite:///{tmp_path}/x.sqlite3")
    assert main(["migrate"]) == 2
    told = capsys.readouterr().err
    assert told.startswith(f"axlewright: AXLEWRIGHT_DATABASE_URL: {wrong.format(tmp_path)}; write")
