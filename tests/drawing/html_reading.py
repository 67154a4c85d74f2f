"""Reads a sheet back from its HTML, by the standard library's parser."""

from html.parser import HTMLParser

VOID = frozenset({"meta", "path", "rect", "circle"})


class Reader(HTMLParser):
    """What an HTML file holds: elements with their attributes, texts, and what is left open."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.open: list[str] = []
        self.wrong: list[str] = []
        self.content = ""
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if len(dict(attrs)) != len(attrs):
            self.wrong.append(f"{tag} has an attribute twice")
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open[-1] != tag:
            self.wrong.append(f"</{tag}> closes {self.open[-1:]}")
        else:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        if self.open[-1:] == ["script"]:
            self.content += data
        elif self.open[-1:] != ["style"]:
            self.texts.append(data)

    @property
    def tags(self) -> list[str]:
        """Names of the elements in order."""
        return [tag for tag, _ in self.elements]

    @property
    def text(self) -> str:
        """All texts, one a line."""
        return "\n".join(self.texts)
