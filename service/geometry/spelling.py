"""Pieces of regular expression that the texts of lengths, angles and toe are spelled with.

The published patterns and the parsers are made from the same pieces, so that a client that checks
a text by the pattern and the service that reads it cannot disagree. Units are read in capitals too,
which a phone's keyboard likes to write. The pieces keep to what
ECMA-262 (with the `u` flag), Python, RE2 and Rust's regex all read alike: no `\\d`, no classes by
Unicode property, no look-around, and never two repetitions of the same character side by side, so
that no text makes a matcher backtrack.
"""

import re

SPACE = "[ \u00a0\u2009\u202f]"  # also no-break, thin and narrow no-break space
SIGN = "[+\u2212-]"  # also the minus sign proper
HYPHEN = "[\u2010\u2011-]"  # also the typographic and the no-break hyphen
SLASH = "[/\u2044\u2215]"  # also the fraction slash and the division slash
VULGAR = "[¼-¾⅐-⅞]"  # both runs are whole: U+00BC-BE, U+2150-215E

DIGITS = "[0-9]+"
FRACTION = f"{DIGITS}{SPACE}*{SLASH}{SPACE}*0*[1-9][0-9]*"

SINGLE_PRIME = "['\u2032\u2019\u2018]"
DOUBLE_PRIME = "(?:[\"\u2033\u201d\u201c]|''|\u2032\u2032|\u2019\u2019)"


def number(whole: str = DIGITS) -> str:
    """Pattern of an unsigned number, decimal or fraction, whose whole part matches `whole`."""
    fraction = f"(?:{whole}(?:{SPACE}+|{HYPHEN}))?{FRACTION}"
    vulgar = f"(?:{whole}(?:{SPACE}*|{HYPHEN}))?{VULGAR}"
    return rf"(?:{fraction}|{vulgar}|{whole}(?:\.{DIGITS})?|\.{DIGITS})"


INCH = rf"(?:[Ii][Nn](?:[Cc][Hh](?:[Ee][Ss])?|\.)?|{DOUBLE_PRIME})"
FOOT = rf"(?:[Ff](?:[Tt]\.?|[Oo][Oo][Tt]|[Ee][Ee][Tt])|{SINGLE_PRIME})"
METRIC = "[MmCc]?[Mm]"
DEGREE = "(?:[°º˚]|[Dd][Ee][Gg](?:[Rr][Ee][Ee][Ss]?)?)"  # also the ordinal mark and the ring
MINUTE = f"(?:{SINGLE_PRIME}|[Mm][Ii][Nn])"
SECOND = f"(?:{DOUBLE_PRIME}|[Ss][Ee][Cc])"
SLOPE = f"[Mm][Mm]{SPACE}*{SLASH}{SPACE}*[Mm]"

UP_TO_11 = "0*(?:1[01]|[0-9])"
UP_TO_59 = "0*[0-5]?[0-9]"


def signed(body: str) -> str:
    """Pattern of `body` with an optional sign before it and spaces around."""
    return f"^{SPACE}*(?:(?P<sign>{SIGN}){SPACE}*)?(?:{body}){SPACE}*$"


def unsigned(body: str) -> str:
    """Pattern of `body` with spaces around and no sign."""
    return f"^{SPACE}*(?:{body}){SPACE}*$"


def published(pattern: str) -> str:
    """The pattern without the names of its groups, as it goes into the OpenAPI document."""
    return re.sub(r"\(\?P<[a-z_]+>", "(?:", pattern)
