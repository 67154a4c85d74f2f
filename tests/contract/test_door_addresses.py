"""Queries, methods, addresses and media types of answers: what holds for every resource."""

import pytest
from asking import Answer, ask
from contract.door_app import APP, BODY

# Queries


def problem_of_query(query: bytes) -> Answer:
    answer = ask(APP, "GET", "/receipts", query=query)
    assert (answer.status, answer.slug) == (400, "bad-query")
    assert all(error["hint"] for error in answer.json["errors"])
    return answer


def test_a_known_query_parameter_is_read() -> None:
    assert ask(APP, "GET", "/receipts", query=b"limit=5").json == {"count": 5.0}


def test_an_unknown_query_parameter_is_refused_by_name() -> None:
    answer = problem_of_query(b"limti=5")
    assert answer.pointers == ["?limti"]
    assert "limit" in answer.json["errors"][0]["hint"]


def test_a_query_where_none_is_taken_is_refused() -> None:
    answer = ask(APP, "POST", "/receipts", BODY, query=b"limit=5")
    assert (answer.status, answer.pointers) == (400, ["?limit"])


def test_a_repeated_query_parameter_is_refused_by_name() -> None:
    assert problem_of_query(b"limit=5&limit=5").pointers == ["?limit"]


def test_a_query_parameter_that_is_a_list_may_be_repeated() -> None:
    assert ask(APP, "GET", "/receipts", query=b"colour=a&colour=b").json == {"count": 2.0}


@pytest.mark.parametrize("value", [b"x", b"", b"0", b"10", b"1.5", b"NaN"])
def test_a_query_parameter_that_cannot_be_read_is_refused_by_name(value: bytes) -> None:
    assert problem_of_query(b"limit=" + value).pointers == ["?limit"]


@pytest.mark.parametrize("query", [b"limit=%ff", b"%c3%28=1", b"limit=\xff"])
def test_a_query_that_is_not_utf_8_is_refused(query: bytes) -> None:
    problem_of_query(query)


# Methods and addresses


def test_head_is_answered_as_get_without_its_content() -> None:
    head, whole = ask(APP, "HEAD", "/receipts"), ask(APP, "GET", "/receipts")
    assert (head.status, head.body) == (200, b"")
    for name in ("content-type", "content-length"):
        assert head.headers[name] == whole.headers[name]


def test_head_of_nothing_is_a_404_without_content() -> None:
    answer = ask(APP, "HEAD", "/nothing")
    assert (answer.status, answer.body) == (404, b"")


ALLOWED = {
    "/receipts": "GET, HEAD, POST, OPTIONS",
    "/receipts/4": "GET, HEAD, PATCH, OPTIONS",
    "/ready-made": "POST, OPTIONS",
}


@pytest.mark.parametrize("path", ALLOWED)
def test_options_lists_the_methods_of_every_handler(path: str) -> None:
    answer = ask(APP, "OPTIONS", path)
    assert (answer.status, answer.headers["allow"], answer.body) == (204, ALLOWED[path], b"")


def test_options_says_what_post_takes() -> None:
    assert ask(APP, "OPTIONS", "/receipts").headers["accept-post"] == "application/json"


def test_options_of_nothing_is_a_404() -> None:
    assert ask(APP, "OPTIONS", "/nothing").slug == "not-found"


@pytest.mark.parametrize("method", ["DELETE", "PUT", "TRACE", "CONNECT", "BREW", "get"])
@pytest.mark.parametrize("path", ALLOWED)
def test_a_method_that_an_address_does_not_take_is_a_405_with_those_it_takes(
    method: str, path: str
) -> None:
    answer = ask(APP, method, path)
    assert (answer.status, answer.slug) == (405, "method-not-allowed")
    assert answer.headers["allow"] == ALLOWED[path]


def test_head_where_there_is_no_get_is_a_405() -> None:
    assert ask(APP, "HEAD", "/ready-made").status == 405


@pytest.mark.parametrize(
    "path",
    [
        "/nothing",
        "/receipts/x",
        "/receipts/1/2",
        "/",
        "",
        "*",
        "/%00",
        "/receipts\x00",
        "/é",
        "/..",
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST", "OPTIONS", "PATCH"])
def test_an_address_that_names_nothing_is_a_404(path: str, method: str) -> None:
    answer = ask(APP, method, path, BODY)
    assert (answer.status, answer.slug) == (404, "not-found")


def test_a_path_parameter_out_of_its_bounds_names_nothing() -> None:
    answer = ask(APP, "GET", "/receipts/100")
    assert (answer.status, answer.slug, answer.pointers) == (404, "not-found", ["{number}"])


@pytest.mark.parametrize("path", ["/receipts/", "//receipts", "/receipts//4", "/receipts/4/"])
@pytest.mark.parametrize("method", ["GET", "OPTIONS"])
def test_a_thing_has_one_address_and_a_slash_more_names_nothing(path: str, method: str) -> None:
    answer = ask(APP, method, path)
    assert answer.slug == "not-found"
    clean = "/" + "/".join(part for part in path.split("/") if part)
    assert f"Did you mean {clean}?" in answer.json["detail"]


# Media types of the answer

WANTED = [
    b"*/*",
    b"application/*",
    b"application/json",
    b"text/html, application/json;q=0.1",
    b"text/html;q=1, */*;q=0.01",
    b"",
]


@pytest.mark.parametrize("accept", WANTED)
def test_json_is_answered_to_whom_it_is_acceptable(accept: bytes) -> None:
    assert ask(APP, "GET", "/receipts", headers=[(b"accept", accept)]).status == 200


UNWANTED = [b"text/html", b"application/xml", b"application/json;q=0", b"*/*;q=0", b"x"]


@pytest.mark.parametrize("accept", UNWANTED)
def test_an_accept_that_cannot_be_met_is_a_406_and_still_a_problem(accept: bytes) -> None:
    answer = ask(APP, "GET", "/receipts", headers=[(b"accept", accept)])
    assert (answer.status, answer.slug) == (406, "not-acceptable")


def test_a_resource_that_is_no_json_is_not_acceptable_to_whom_takes_json_only() -> None:
    for accept, status in ((b"application/json", 406), (b"image/svg+xml", 200), (b"image/*", 200)):
        assert ask(APP, "GET", "/drawing", headers=[(b"accept", accept)]).status == status
