"""Which of our languages a reader likes best (RFC 9110 section 12.5.4)."""

from functools import lru_cache

from service.locale.catalogue import ENGLISH, LANGUAGES

LONGEST = 400
"""Characters of a header that are looked at: ranges beyond them are none that a browser sends."""


@lru_cache(maxsize=512)
def language_of(accept_language: str) -> str:
    """The language for an `Accept-Language` header; English where it admits none of ours.

    `es-MX` and `es` both mean Spanish: there is one catalogue a language. The earlier of two
    ranges with the same quality wins.
    """
    best, liked = ENGLISH, 0.0
    for part in accept_language[:LONGEST].lower().split(","):
        tag, *parameters = (piece.strip() for piece in part.split(";"))
        language = tag.partition("-")[0]
        quality = _quality(parameters)
        if quality > liked and (language in LANGUAGES or tag == "*"):
            best, liked = (ENGLISH if tag == "*" else language), quality
    return best


def _quality(parameters: list[str]) -> float:
    for parameter in parameters:
        if parameter.startswith("q="):
            try:
                return min(max(float(parameter[2:]), 0.0), 1.0)
            except ValueError:
                return 0.0
    return 1.0
