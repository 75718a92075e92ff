"""Reading a page back: every element with its attributes, in order, and a check that the tags close as they opened."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"meta", "wbr", "br", "link", "img", "input"}


class Page(HTMLParser):
    """Elements, text and the style sheet of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.words: list[str] = []
        self.words_of: dict[str, list[str]] = {}
        self._open: list[str] = []
        self._section: str | None = None
        self.feed(text)
        self.close()
        assert not self._open, f"never closed: {self._open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = [name for name, _ in attrs]
        assert len(names) == len(set(names)), f"{tag} has an attribute twice: {names}"
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag == "section":
            self._section = self.elements[-1][1]["id"]
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self._open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self._open, f"</{tag}> closes nothing"
        opened = self._open.pop()
        assert opened == tag, f"<{opened}> closed by </{tag}>"
        self._section = None if tag == "section" else self._section

    def handle_data(self, data: str) -> None:
        if not {"style", "script"} & set(self._open):
            self.words.append(data)
            if self._section is not None:
                self.words_of.setdefault(self._section, []).append(data)

    @property
    def text(self) -> str:
        """All words of the page, single spaces between them."""
        return " ".join("".join(self.words).split())

    def section(self, anchor: str) -> str:
        """All words of one section, plain spaces between them."""
        return " ".join("".join(self.words_of[anchor]).replace("\u00a0", " ").split())

    def all(self, tag: str) -> list[dict[str, str]]:
        """Attributes of every element of that name."""
        return [attributes for name, attributes in self.elements if name == tag]
