"""TLS spoken by the server itself, with a certificate made by openssl for the test."""

import asyncio
import os
import shutil
import socket
import ssl
import subprocess
from pathlib import Path

import httpx
import pytest
from running import serving

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
