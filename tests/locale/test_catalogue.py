"""The catalogues of texts: complete in every language, compiled, and used."""

import ast
import gettext
import io
import re
import string
import struct
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po

from service.locale.catalogue import DOMAIN, FOLDER, LANGUAGES, catalogue

SERVICE = FOLDER.parent
COMPILE = "pybabel compile --directory service/locale --domain axlewright"

ALIKE = {
    # Symbols, shapes without words, and words that two of the languages share.
    "change.because", "condition.no", "estimate.tilt.zero", "estimate.toe.zero", "fact.date",
    "fact.vin", "head.verdict", "list.more", "plan.value", "reading.value", "result.verdict",
    "sheet.conditions", "sheet.sign.date", "sheet.signatures", "step.mark", "unbilled.what",
    "vehicle.dolly",
}  # fmt: skip
"""Messages whose translation may be the same as the English."""


def folder(language: str) -> Path:
    return FOLDER / language / "LC_MESSAGES"


def source(language: str) -> Catalog:
    with (folder(language) / f"{DOMAIN}.po").open("rb") as file:
        return read_po(file, locale=language, abort_invalid=True)


def texts(language: str) -> dict[str, str]:
    return {message.id: message.string for message in source(language) if message.id}


def fields(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_catalogue_has_every_message_of_the_english_one_and_no_other(language: str) -> None:
    assert list(texts(language)) == list(texts("en"))


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_message_is_empty_doubtful_or_out_of_use(language: str) -> None:
    catalog = source(language)
    assert all(message.string.strip() for message in catalog if message.id)
    assert not [message.id for message in catalog if message.id and message.fuzzy]
    assert not catalog.obsolete


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_has_the_fields_of_the_english_text_by_name(language: str) -> None:
    english = texts("en")
    wrong = {
        message: fields(text)
        for message, text in texts(language).items()
        if fields(text) != fields(english[message])
    }
    assert wrong == {}
    assert all(name.isidentifier() for text in english.values() for name in fields(text))


@pytest.mark.parametrize("language", ["es", "fr"])
def test_nothing_was_left_in_english(language: str) -> None:
    english = texts("en")
    same = {m for m, text in texts(language).items() if text == english[m]}
    assert same - ALIKE == set()


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_compiled_catalogue_is_what_babel_makes_of_its_source(language: str) -> None:
    """Its header may name another release of Babel."""
    shipped = (folder(language) / f"{DOMAIN}.mo").read_bytes()
    (count,) = struct.unpack_from("<I", shipped, 8)
    find = gettext.GNUTranslations(io.BytesIO(shipped)).gettext
    wrong = [m for m, text in texts(language).items() if find(m) != text]
    assert (wrong, count) == ([], len(texts(language)) + 1), f"out of date; run: {COMPILE}"


def said() -> tuple[set[str], set[str]]:
    """Ids that the code asks for: literals, and patterns of f-strings, a field as anything."""
    literals, patterns = set(), set()
    folders = ("api", "drawing", "pricing")
    for file in [one for folder in folders for one in (SERVICE / folder).glob("*.py")]:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                literals.add(node.value)
            elif isinstance(node, ast.JoinedStr):
                parts = [
                    re.escape(part.value) if isinstance(part, ast.Constant) else "[^ ]+"
                    for part in node.values
                ]
                if isinstance(node.values[0], ast.Constant):  # else it would match anything
                    patterns.add("".join(parts))
    return literals, patterns


def test_every_message_is_asked_for_somewhere() -> None:
    literals, patterns = said()
    any_of_them = re.compile("|".join(patterns))
    unused = {m for m in texts("en") if m not in literals and not any_of_them.fullmatch(m)}
    assert unused == set()


def test_every_message_that_is_asked_for_by_its_full_id_is_there() -> None:
    english, missing = texts("en"), []
    for file in [*SERVICE.glob("drawing/*.py"), *SERVICE.glob("pricing/*.py")]:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("say"):
                first = node.args[0]
                if isinstance(first, ast.Constant) and first.value not in english:
                    missing.append((file.name, first.value))
    assert missing == []


def test_an_unknown_message_is_an_error_rather_than_an_id_on_paper() -> None:
    with pytest.raises(KeyError, match=r"no\.such"):
        catalogue("en").say("no.such")


def test_braces_in_what_a_shop_wrote_stay_braces() -> None:
    told = catalogue("en").say("sheet.number", number="{0.__class__} {hash}")
    assert told == "Sheet {0.__class__} {hash}"


def test_there_is_no_fourth_language() -> None:
    assert sorted(one.name for one in FOLDER.iterdir() if (one / "LC_MESSAGES").is_dir()) == sorted(
        LANGUAGES
    )
    with pytest.raises(FileNotFoundError):
        catalogue("de")
