"""What a page leaves out for whoever may not use it: links, forms and buttons that would only be refused.

Templates are written as for the owner. Before a page goes out to anybody else, `open_doors` takes out of it what the
table of permissions closes to them, so that no template repeats the table:

- a form that they may not send goes as a whole, and so does a button with an address of its own;
- a link goes if it is a door by itself (a button, a tile, a tap, one of a menu); in a sentence or a row its words stay,
  without the picture at the row's end that says where a tap leads;
- what a part of the page would fetch for itself is no longer fetched;
- a wrapper that held nothing else goes too, and so does a section of nothing but its title and its explanation.

What is left stands as it was written, letter by letter.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from html.parser import HTMLParser
from typing import Final
from urllib.parse import urlsplit

from rickyard.web.permissions import Access

# Links with one of these classes are doors by themselves; without one they stand in a sentence or a row.
DOORS: Final = frozenset({"button", "tile", "tap", "choice"})
FETCHES: Final = {"hx-get": "GET", "hx-post": "POST"}

# Without an end, or with one that may be left out.
_UNCLOSED = frozenset("area base br col embed hr img input link meta option source track wbr".split())
_WRAPPERS = frozenset({"p", "li", "ul", "ol", "div", "nav", "span", "small"})
_PARTS = frozenset({"section", "details"})
_TITLES = frozenset({"summary", "h2", "h3"})
_EXPLANATIONS = frozenset({"quiet", "hint"})
_SHOWS = frozenset({"img", "input", "select", "textarea", "figure", "canvas", "button"})


def open_doors(html: str, access: Access, path: str) -> str:
    """The page at `path` (or a part of it) as this person sees it."""
    if access.may_all:
        return html
    keeper = _Keeper(access, path)
    keeper.feed(html)
    keeper.close()
    return "".join(keeper.kept)


@dataclass
class _Element:
    """An element that is open at this place of the page."""

    tag: str
    began: int
    classes: frozenset[str]
    closes_as: str
    closed_row: bool = False
    """Whether it was a link that is a whole row of a list."""
    lost: bool = False
    words: bool = False
    """Whether anything is shown in it."""
    substance: bool = False
    """Whether anything is shown in it besides titles and explanations."""


class _Keeper(HTMLParser):
    """Reads a page and keeps what may stay."""

    def __init__(self, access: Access, path: str) -> None:
        super().__init__(convert_charrefs=False)
        self.access = access
        self.path = path
        self.kept: list[str] = []
        self._open: list[_Element] = []
        self._skipping: str | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if self._skipping is not None:
            # Neither links nor forms nor buttons nor pictures stand within their own kind, so the next end is theirs.
            return
        named = {name: value or "" for name, value in attrs}
        classes = frozenset(named.get("class", "").split())
        text, closes_as, closed = self.get_starttag_text() or "", tag, False
        if tag == "svg" and self._open and self._open[-1].closed_row:
            self._skipping = tag
            return
        if self._leaves_out(tag, named, classes):
            self._skipping = tag
            if self._open:
                self._open[-1].lost = True
            return
        if tag == "a" and not self._may(named.get("href"), "GET"):
            text, closes_as = _start("span", {"class": named["class"]} if "class" in named else {}), "span"
            closed = True
        elif any(name in named and not self._may(named[name], method) for name, method in FETCHES.items()):
            text = _start(tag, {name: value for name, value in attrs if not name.startswith("hx-")})
        began = len(self.kept)
        self.kept.append(text)
        if tag in _SHOWS:
            self._shown()
        if tag not in _UNCLOSED:
            self._open.append(_Element(tag, began, classes, closes_as, closed and "row" in classes))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if self._skipping is None:
            self.kept.append(self.get_starttag_text() or "")

    def handle_endtag(self, tag: str) -> None:
        if self._skipping is not None:
            if tag == self._skipping:
                self._skipping = None
            return
        if not any(element.tag == tag for element in self._open):
            self.kept.append(f"</{tag}>")
            return
        while self._open:
            element = self._open.pop()
            if element.tag == tag:
                break
        self.kept.append(f"</{element.closes_as}>")
        above = self._open[-1] if self._open else None
        if element.lost and (
            (element.tag in _WRAPPERS and not element.words)
            or (element.tag in _PARTS and not element.substance)
        ):
            del self.kept[element.began :]
            if above is not None:
                above.lost = True
        elif above is not None:
            above.lost |= element.lost
            above.words |= element.words
            above.substance |= element.substance and not (
                element.tag in _TITLES or element.classes & _EXPLANATIONS
            )

    def handle_data(self, data: str) -> None:
        self._text(data, shown=bool(data.strip()))

    def handle_entityref(self, name: str) -> None:
        self._text(f"&{name};", shown=True)

    def handle_charref(self, name: str) -> None:
        self._text(f"&#{name};", shown=True)

    def handle_comment(self, data: str) -> None:
        self._text(f"<!--{data}-->", shown=False)

    def handle_decl(self, decl: str) -> None:
        self._text(f"<!{decl}>", shown=False)

    def _text(self, text: str, *, shown: bool) -> None:
        if self._skipping is None:
            self.kept.append(text)
            if shown:
                self._shown()

    def _shown(self) -> None:
        if self._open:
            self._open[-1].words = self._open[-1].substance = True

    def _leaves_out(self, tag: str, named: dict[str, str], classes: frozenset[str]) -> bool:
        if tag == "form":
            return not self._may(named.get("action"), named.get("method", "get").upper())
        if tag == "button":
            return any(
                name in named and not self._may(named[name], method)
                for name, method in {"formaction": "POST", **FETCHES}.items()
            )
        in_menu = any(element.tag == "nav" for element in self._open)
        return tag == "a" and (in_menu or bool(classes & DOORS)) and not self._may(named.get("href"), "GET")

    def _may(self, address: str | None, method: str) -> bool:
        parts = urlsplit(address or "")
        if parts.scheme or parts.netloc:
            # Not of this yard: a telephone's number, a source that is cited.
            return True
        return self.access.opens(parts.path or self.path, method)


def _start(tag: str, attrs: dict[str, str | None]) -> str:
    written = (name if value is None else f'{name}="{escape(value)}"' for name, value in attrs.items())
    return f"<{' '.join((tag, *written))}>"
