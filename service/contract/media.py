"""Which media types a client takes (RFC 9110 section 12.5.1)."""

from functools import lru_cache


@lru_cache(maxsize=256)
def acceptable(accept: bytes, produced: tuple[str, ...]) -> bool:
    """Whether an `Accept` header admits one of the media types an operation can answer in.

    The most specific range decides, and `q=0` refuses. An empty header admits everything.
    """
    return chosen(accept, produced) is not None


@lru_cache(maxsize=256)
def chosen(accept: bytes, produced: tuple[str, ...]) -> str | None:
    """The media type a client likes best among those produced; the first of equals."""
    ranges = _ranges(accept)
    if not ranges:
        return produced[0]
    ranked = [(_quality(media_type, ranges), media_type) for media_type in produced]
    quality, best = max(ranked, key=lambda pair: pair[0])
    return best if quality > 0 else None


def _ranges(accept: bytes) -> dict[str, float]:
    """Media ranges of a header with their quality, without their other parameters."""
    ranges: dict[str, float] = {}
    for part in accept.decode("latin-1").lower().split(","):
        name, *parameters = (piece.strip() for piece in part.split(";"))
        quality = 1.0
        for parameter in parameters:
            if parameter.startswith("q="):
                quality = _number(parameter[2:])
        if name:
            ranges[name] = quality
    return ranges


def _number(text: str) -> float:
    try:
        return min(max(float(text), 0.0), 1.0)
    except ValueError:
        return 0.0


def _quality(media_type: str, ranges: dict[str, float]) -> float:
    family = media_type.partition("/")[0] + "/*"
    for name in (media_type, family, "*/*"):
        if name in ranges:
            return ranges[name]
    return 0.0
