"""The language for an `Accept-Language` header (RFC 9110 section 12.5.4)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.locale.catalogue import LANGUAGES
from service.locale.negotiation import language_of


@pytest.mark.parametrize(
    ("header", "language"),
    [
        ("", "en"),
        ("es", "es"),
        ("es-MX", "es"),
        ("FR-ca", "fr"),
        ("de", "en"),
        ("de, fr;q=0.3", "fr"),
        ("en;q=0.4, es;q=0.9", "es"),
        ("es;q=0, fr;q=0", "en"),
        ("fr, es", "fr"),
        ("*", "en"),
        ("es;q=0.5, *;q=0.8", "en"),
        ("es;q=nonsense, fr;q=0.1", "fr"),
        ("esperanto", "en"),
        (" es ; q=1 ", "es"),
    ],
)
def test_a_header_chooses_a_language(header: str, language: str) -> None:
    assert language_of(header) == language


@given(st.text(max_size=500))
def test_any_header_chooses_one_of_our_languages(header: str) -> None:
    assert language_of(header) in LANGUAGES
