"""TLS spoken by the server itself, with a certificate made by openssl for the test."""

import asyncio
import json
import os
import shutil
import socket
import ssl
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
from running import ROOT, serving

from service.settings import Settings

pytestmark = pytest.mark.anyio

MISSING = "no certificate can be made: install openssl"


@pytest.fixture
def certificate(tmp_path: Path) -> tuple[str, str]:
    """Files of a certificate for 127.0.0.1 and of its key."""
    if shutil.which("openssl") is None:
        if os.environ.get("CI") == "true":
            pytest.fail(MISSING)
        pytest.skip(MISSING)
    chain, key = str(tmp_path / "chain.pem"), str(tmp_path / "key.pem")
    made = ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1"]
    name = [
        "-nodes",
        "-days",
        "2",
        "-subj",
        "/CN=127.0.0.1",
        "-addext",
        "subjectAltName=IP:127.0.0.1",
    ]
    command = ["openssl", *made, *name, "-keyout", key, "-out", chain]
    subprocess.run(command, check=True, capture_output=True)
    return chain, key


async def test_the_server_speaks_tls_and_demands_it_from_then_on(
    sqlite_url: str, certificate: tuple[str, str]
) -> None:
    chain, key = certificate
    given = Settings(database_url=sqlite_url, tls_certificate=chain, tls_key=key)
    context = ssl.create_default_context(cafile=chain)
    async with serving(given) as running, httpx.AsyncClient(verify=context) as client:
        answer = await client.get(f"https://127.0.0.1:{running.port}/health/live")
        assert answer.status_code == 200
        assert "max-age" in answer.headers["strict-transport-security"]


HEALTH_CHECK: list[str] = json.loads(
    (ROOT / "docker" / "Dockerfile")
    .read_text("utf-8")
    .partition("--retries=3 \\\n    CMD ")[2]
    .partition("\n")[0]
)


@pytest.mark.parametrize("where", ["environment", "file"])
async def test_the_health_check_of_the_image_asks_by_tls_where_it_is_set(
    where: str, sqlite_url: str, certificate: tuple[str, str], tmp_path: Path
) -> None:
    chain, key = certificate
    given = Settings(database_url=sqlite_url, tls_certificate=chain, tls_key=key)
    file = tmp_path / "settings.toml"
    file.write_text(f'tls_certificate = "{chain}"\ntls_key = "{key}"\n')
    told = {"AXLEWRIGHT_SETTINGS": str(file)}
    if where == "environment":
        told = {"AXLEWRIGHT_TLS_CERTIFICATE": chain, "AXLEWRIGHT_TLS_KEY": key}
    async with serving(given) as running:
        assert await health_checked(running.port, told) == 0
        assert await health_checked(running.port, {}) != 0


async def test_the_health_check_of_the_image_asks_without_tls_where_none_is_set(
    sqlite_url: str,
) -> None:
    async with serving(Settings(database_url=sqlite_url)) as running:
        assert await health_checked(running.port, {}) == 0
    assert await health_checked(running.port, {}) != 0


async def health_checked(port: int, told: dict[str, str]) -> int:
    """Exit code of the image's health check with these settings."""
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        *HEALTH_CHECK[1:],
        env={**told, "PYTHONPATH": str(ROOT), "AXLEWRIGHT_PORT": str(port)},
        stderr=asyncio.subprocess.DEVNULL,
    )
    return await asyncio.wait_for(process.wait(), 60)


async def test_versions_before_1_2_are_refused(
    sqlite_url: str, certificate: tuple[str, str]
) -> None:
    chain, key = certificate
    given = Settings(database_url=sqlite_url, tls_certificate=chain, tls_key=key)
    old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    old.check_hostname, old.verify_mode = False, ssl.CERT_NONE
    old.set_ciphers("ALL:@SECLEVEL=0")
    old.minimum_version = old.maximum_version = ssl.TLSVersion.TLSv1_1
    async with serving(given) as running:

        def shake() -> None:
            with (
                socket.create_connection(("127.0.0.1", running.port), 10) as plain,
                old.wrap_socket(plain),
            ):
                pass

        with pytest.raises((ssl.SSLError, ConnectionError)):
            await asyncio.to_thread(shake)


async def test_a_handshake_that_stops_half_way_is_cut_off(
    sqlite_url: str, certificate: tuple[str, str]
) -> None:
    chain, key = certificate
    given = Settings(database_url=sqlite_url, tls_certificate=chain, tls_key=key, head_seconds=0.5)
    async with serving(given) as running:
        assert await running.raw(b"\x16\x03\x01", patience=10) == b""
