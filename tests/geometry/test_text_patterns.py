"""A published pattern matches a text of at most 40 characters exactly when the parser reads it.

Excepted are what no pattern can count: a size beyond its bound and a mixed number whose fraction
is 1 or more; there the parser alone refuses.
"""

import json
import random
import re
import shutil
import subprocess
from collections.abc import Callable
from functools import partial

import jsonschema_rs
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.geometry.angle_text import ANGLE_PATTERN, parse_angle
from service.geometry.length_text import LENGTH_PATTERN, TAPE_PATTERN, parse_length, parse_tape
from service.geometry.quantity import LONGEST_TEXT, QuantityError
from service.geometry.toe_text import TOE_PATTERN, parse_toe

Parser = Callable[[str], object]

PUBLISHED: dict[str, tuple[str, Parser]] = {
    "length": (LENGTH_PATTERN, partial(parse_length, unit="in")),
    "tape": (TAPE_PATTERN, partial(parse_tape, unit="mm")),
    "angle": (ANGLE_PATTERN, parse_angle),
    "toe": (TOE_PATTERN, partial(parse_toe, unit="in")),
}
NUMBERS_ALONE = ("longer than 100 m", "more than 360 degrees", "steeper than", "not smaller than 1")
every_kind = pytest.mark.parametrize("kind", PUBLISHED)


def fate(parse: Parser, text: str) -> str:
    try:
        parse(text)
    except QuantityError as error:
        return "numbers" if any(words in error.reason for words in NUMBERS_ALONE) else "refused"
    return "read"


def assert_agreed(kind: str, text: str) -> None:
    pattern, parse = PUBLISHED[kind]
    matched = re.fullmatch(pattern, text) is not None
    assert matched == (fate(parse, text) != "refused")


@every_kind
@given(data=st.data())
def test_a_text_made_from_the_pattern_is_read(kind: str, data: st.DataObject) -> None:
    pattern, _ = PUBLISHED[kind]
    text = data.draw(st.from_regex(pattern, fullmatch=True))
    assume(len(text) <= LONGEST_TEXT and not text.endswith("\n"))
    assert_agreed(kind, text)


ALPHABET = "0123456789./⁄∕+-−‐‑ \u00a0\u2009\u202f'′’‘\"″”“½⅛°º˚iInNcChHeEsSfFtToOmMdDgGrR,x\n٣"
PIECES = [
    *ALPHABET, "31", "3/4", "in", "ft", "feet", "mm", "cm", "inches", "deg", "degrees", "min",
    "sec", "mm/m", "''", "59", "60", "11", "12", "0", "00", "/0", "1/064", ".5", " - ", "2'",
    "0°15'",
]  # fmt: skip


@every_kind
@given(text=st.lists(st.sampled_from(PIECES), max_size=12).map("".join) | st.text(max_size=42))
def test_a_text_of_the_alphabet_is_read_when_it_matches_and_only_then(kind: str, text: str) -> None:
    assume(len(text) <= LONGEST_TEXT)
    assert_agreed(kind, text)


@every_kind
@given(data=st.data())
def test_a_text_one_slip_away_is_read_when_it_matches_and_only_then(
    kind: str, data: st.DataObject
) -> None:
    text = data.draw(st.from_regex(PUBLISHED[kind][0], fullmatch=True))
    place = data.draw(st.integers(0, len(text)))
    slip = data.draw(st.sampled_from(["", *PIECES]))
    text = text[:place] + slip + text[place + data.draw(st.integers(0, 2)) :]
    assume(len(text) <= LONGEST_TEXT)
    assert_agreed(kind, text)


@every_kind
def test_a_line_break_at_the_end_is_refused_by_the_parser(kind: str) -> None:
    """Python's `$` would let it through; that of ECMA-262 does not."""
    _, parse = PUBLISHED[kind]
    assert fate(parse, "0.25") == "read"
    assert fate(parse, "0.25\n") == "refused"


@every_kind
def test_a_pattern_keeps_to_what_all_engines_read_alike(kind: str) -> None:
    pattern, _ = PUBLISHED[kind]
    assert pattern.startswith("^")
    assert pattern.endswith("$")
    assert set(re.findall(r"\\.", pattern)) == {r"\."}
    assert set(re.findall(r"\(\?.", pattern)) == {"(?:"}
    assert not re.search(r"[{}]|[*+?][+?]", pattern)


EXAMPLES = [
    "31 3/4", "-31-3/4 in", "2' 7 3/4\"", "2 FT. 7 ¾ Inches", "806.5 mm", "−1/16", "3⁄32", "½",
    "2' - 7 3/4''", "0.25", "0°15'", "-0° 15' 30\"", "0 deg 15 min 30 sec", "15.5'", "3 1/2°",
    "1.5 mm/m", "0.09 deg", "1/16”", "31\u00a03/4", ".80645 M", "2'11.5", "1/0064",
]  # fmt: skip


def corpus() -> list[str]:
    """The examples, and each of them with up to three slips; the same in every run."""
    draw = random.Random(20)
    texts = list(EXAMPLES)
    for example in EXAMPLES * 60:
        text = example
        for _ in range(draw.randint(1, 3)):
            place = draw.randint(0, len(text))
            text = text[:place] + draw.choice(["", *PIECES]) + text[place + draw.randint(0, 1) :]
        texts.append(text)
    return texts


def matched_here(pattern: str) -> list[bool]:
    return [re.fullmatch(pattern, text) is not None for text in corpus()]


@every_kind
def test_the_regular_expressions_of_rust_match_the_same_texts(kind: str) -> None:
    """Reference: the regex engine behind jsonschema-rs, which validates against the document."""
    pattern, _ = PUBLISHED[kind]
    validator = jsonschema_rs.validator_for({"type": "string", "pattern": pattern})
    matched = matched_here(pattern)
    assert [validator.is_valid(text) for text in corpus()] == matched
    assert 50 < sum(matched) < len(matched) - 50


NODE = shutil.which("node")
SCRIPT = """
const [pattern, texts] = JSON.parse(require("fs").readFileSync(0, "utf8"));
const matches = flags => texts.map(text => new RegExp(pattern, flags).test(text));
console.log(JSON.stringify([matches("u"), matches("")]));
"""


@pytest.mark.skipif(NODE is None, reason="no JavaScript engine on this machine")
@every_kind
def test_the_regular_expressions_of_javascript_match_the_same_texts(kind: str) -> None:
    """Reference: ECMA-262 as V8 does it, with and without the `u` flag."""
    pattern, _ = PUBLISHED[kind]
    answer = subprocess.run(
        [str(NODE), "-e", SCRIPT],
        input=json.dumps([pattern, corpus()]).encode(),
        capture_output=True,
        check=True,
    )
    assert json.loads(answer.stdout) == [matched_here(pattern)] * 2


@every_kind
@settings(max_examples=15, deadline=None)
@given(
    prefix=st.sampled_from([" ", "0", "1", "1 ", "1/", "- ", "1' ", "1° ", "1.", "1/0"]),
    repeated=st.sampled_from(" 01/'\u00a0°."),
)
def test_no_long_text_makes_a_matcher_backtrack(kind: str, prefix: str, repeated: str) -> None:
    """This would take hours if the steps grew with the square of the length."""
    pattern, _ = PUBLISHED[kind]
    assert not re.search(pattern, prefix + repeated * 200_000 + "x")
