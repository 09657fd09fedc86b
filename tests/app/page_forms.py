"""The forms of a page as a browser without script would send them."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser


@dataclass
class PageForm:
    """A form: where it goes, and its fields as they are shown, unchanged."""

    action: str
    fields: dict[str, list[str]] = field(default_factory=dict)

    def sent(self, **changes: str | list[str]) -> dict[str, list[str]]:
        """Return what is sent, with these fields filled in otherwise."""
        return self.fields | {k: [v] if isinstance(v, str) else v for k, v in changes.items()}


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.forms: list[PageForm] = []
        self._open: PageForm | None = None
        self._area: str | None = None
        self._words: list[str] = []
        self._select: tuple[str, list[tuple[str, bool]]] | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._open = PageForm(found.get("action", ""))
            self.forms.append(self._open)
        elif tag == "input":
            self._input(found)
        elif tag == "textarea":
            self._area, self._words = found["name"], []
        elif tag == "select":
            self._select = (found["name"], [])
        elif tag == "option" and self._select is not None:
            self._select[1].append((found.get("value", ""), "selected" in found))

    def _input(self, found: dict[str, str]) -> None:
        kind = found.get("type", "text")
        if kind in ("checkbox", "radio") and "checked" not in found:
            return
        if kind != "file":
            self._add(found.get("name", ""), found.get("value", ""))

    def handle_data(self, data: str) -> None:
        if self._area is not None:
            self._words.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea" and self._area is not None:
            self._add(self._area, "".join(self._words))
            self._area = None
        elif tag == "select" and self._select is not None:
            name, options = self._select
            chosen = [value for value, selected in options if selected] or [options[0][0]]
            self._add(name, chosen[-1])
            self._select = None
        elif tag == "form":
            self._open = None

    def _add(self, name: str, value: str) -> None:
        if self._open is not None and name:
            # A browser sends the lines of a text area with CR and LF.
            self._open.fields.setdefault(name, []).append(value.replace("\n", "\r\n"))


def forms_of(page: str) -> list[PageForm]:
    """Return the forms of a page, in their order."""
    reader = _Reader()
    reader.feed(page)
    return reader.forms


def form_to(page: str, action: str) -> PageForm:
    """Return the form of a page that goes to this address."""
    found = [form for form in forms_of(page) if form.action == action]
    assert found, f"no form goes to {action}: {[form.action for form in forms_of(page)]}"
    return found[0]
