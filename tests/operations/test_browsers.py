"""What browsers are told: nothing may be framed, guessed or called unless an operator says so."""

import pytest
from asking import ask
from served import READINGS

from service.app import create_app
from service.settings import Settings

SHOP = b"https://shop.example"
PREFLIGHT = [
    (b"origin", SHOP),
    (b"access-control-request-method", b"POST"),
    (b"access-control-request-headers", b"authorization, content-type"),
]
CLOSED = create_app(Settings())
OPENED = create_app(Settings(cors_origins=("https://Shop.example", "https://other.example")))
ANY = create_app(Settings(cors_origins=("*",)))


@pytest.mark.parametrize("path", ["/health/live", "/v1/target-sets", "/nothing", "/v1/solutions/"])
def test_every_answer_forbids_guessing_and_framing(path: str) -> None:
    headers = ask(CLOSED, "GET", path).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert "frame-ancestors 'none'" in headers["content-security-policy"]


def test_a_page_keeps_its_own_policy() -> None:
    headers = ask(CLOSED, "GET", "/docs", headers=[]).headers
    assert "script-src 'self'" in headers["content-security-policy"]


def test_what_a_key_reads_is_kept_by_no_cache() -> None:
    headers = [(b"authorization", b"Bearer axw_wrong")]
    assert ask(CLOSED, "GET", "/v1/vehicles", headers=headers).headers["cache-control"] == (
        "no-store"
    )


def test_only_an_answer_over_tls_demands_tls() -> None:
    assert "strict-transport-security" not in ask(CLOSED, "GET", "/health/live").headers
    app = create_app(Settings(trusted_proxies=("127.0.0.0/8",)))
    over = ask(app, "GET", "/health/live", headers=[(b"x-forwarded-proto", b"https")])
    assert over.headers["strict-transport-security"] == "max-age=31536000"


def test_unless_set_no_page_of_another_origin_is_allowed_anything() -> None:
    for method, headers in (("GET", [(b"origin", SHOP)]), ("OPTIONS", PREFLIGHT)):
        answer = ask(CLOSED, method, "/v1/target-sets", headers=headers)
        assert not [name for name in answer.headers if name.startswith("access-control")]


def test_a_page_of_a_named_origin_may_call_and_read() -> None:
    answer = ask(OPENED, "GET", "/v1/target-sets", headers=[(b"origin", SHOP)])
    assert answer.headers["access-control-allow-origin"] == SHOP.decode()
    assert "ratelimit" in answer.headers["access-control-expose-headers"]
    assert answer.headers["vary"] == "origin"
    assert "access-control-allow-credentials" not in answer.headers


def test_a_problem_can_be_read_by_the_page_that_caused_it() -> None:
    answer = ask(OPENED, "GET", "/nothing", headers=[(b"origin", SHOP)])
    assert answer.status == 404
    assert answer.headers["access-control-allow-origin"] == SHOP.decode()


def test_a_preflight_names_methods_and_headers() -> None:
    answer = ask(OPENED, "OPTIONS", "/v1/solutions", headers=PREFLIGHT)
    assert answer.status == 204
    assert "POST" in answer.headers["access-control-allow-methods"]
    assert "authorization" in answer.headers["access-control-allow-headers"]
    assert answer.headers["access-control-allow-origin"] == SHOP.decode()


@pytest.mark.parametrize(
    "origin", [b"https://shop.example.evil", b"http://shop.example", b"null", b"https://evil"]
)
def test_a_stranger_is_told_nothing(origin: bytes) -> None:
    answer = ask(OPENED, "GET", "/v1/target-sets", headers=[(b"origin", origin)])
    assert "access-control-allow-origin" not in answer.headers
    assert answer.headers["vary"] == "origin"


def test_where_origins_differ_every_answer_says_so_to_caches() -> None:
    assert ask(OPENED, "GET", "/v1/target-sets").headers["vary"] == "origin"
    assert "vary" not in ask(CLOSED, "GET", "/v1/target-sets").headers


def test_any_origin_can_be_allowed_on_purpose() -> None:
    answer = ask(ANY, "GET", "/v1/target-sets", headers=[(b"origin", b"https://evil")])
    assert answer.headers["access-control-allow-origin"] == "*"


def test_the_readings_of_a_test_solve_behind_all_of_it() -> None:
    import msgspec

    assert ask(OPENED, "POST", "/v1/solutions", msgspec.json.encode(READINGS)).status == 200
