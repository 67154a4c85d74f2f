"""The texts of one language, by message id."""

import gettext
from functools import cache
from pathlib import Path

LANGUAGES = ("en", "es", "fr")
ENGLISH = "en"
DOMAIN = "axlewright"
FOLDER = Path(__file__).resolve().parent


class Catalogue:
    """Every text in one language.

    Templates take named fields only. What a shop or a customer wrote is a field and never a
    template, so braces in it stay braces.
    """

    __slots__ = ("_find", "_found", "language")

    def __init__(self, language: str) -> None:
        self.language = language
        self._find = gettext.translation(DOMAIN, FOLDER, [language]).gettext
        self._found: dict[str, str] = {}

    def say(self, message: str, /, **fields: object) -> str:
        """The text of a message id with its fields filled in; KeyError for an unknown id."""
        text = self._found.get(message) or self._looked_up(message)
        return text.format_map(fields) if fields else text

    def _looked_up(self, message: str) -> str:
        """The template of a message; kept, since gettext takes several times as long."""
        text = self._find(message)
        if text == message:
            raise KeyError(message)
        return self._found.setdefault(message, text)


@cache
def catalogue(language: str) -> Catalogue:
    """The catalogue of one of `LANGUAGES`, read once; FileNotFoundError for any other."""
    return Catalogue(language)
