"""The pseudo-language `en_XA`, and the search for English that never went through the catalogue.

In `en_XA` every translated string is wrapped in ⟦ ⟧ and all its letters carry accents,
so a page shown in it gives away each word that was written straight into a template.
Places to fill (`{name}`, `%(name)s`), markup and entities stay as they are.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from html.parser import HTMLParser

PSEUDO_LOCALE = "en_XA"
OPEN, CLOSE = "⟦", "⟧"

_PLAIN = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
_ACCENTED = "áƀçđéƒǧĥíĵķĺɱñóþɋŕšţúṽŵẋýžÁƁÇĐÉƑǦĤÍĴĶĹṀÑÓÞɊŔŠŢÚṼŴẊÝŽ"
_ACCENTS = str.maketrans(_PLAIN, _ACCENTED)

# What must survive: doubled braces and percents, both kinds of places to fill, tags, entities.
_KEPT = re.compile(
    r"\{\{|\}\}|\{[^{}]*\}|%%|%\([A-Za-z_]\w*\)[#0\- +]*\d*(?:\.\d+)?[a-zA-Z]|%[sdif]|<[^<>]*>|&#?\w+;"
)


def accent(text: str) -> str:
    """The text with every ASCII letter accented, without the brackets; nothing else changes."""
    return text.translate(_ACCENTS)


def pseudo(message: str) -> str:
    """The message in the pseudo-language. An empty message stays empty.

    A message that ends or begins with blanks keeps them outside the brackets.
    """
    core = message.strip()
    if not core:
        return message
    before, _, after = message.partition(core)
    parts: list[str] = []
    last = 0
    for kept in _KEPT.finditer(core):
        parts += [accent(core[last : kept.start()]), kept.group()]
        last = kept.end()
    parts.append(accent(core[last:]))
    return f"{before}{OPEN}{''.join(parts)}{CLOSE}{after}"


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


# Symbols that are the same in every language, or come from the tables of units; never words.
UNIT_SYMBOLS = _words(
    "m cm mm km in ft pi po yd lb kg g t L dm MJ GJ kWh MWh Btu MBtu MMBtu W K kW Pa hPa mc "
    "CAD USD EUR GBP CA US NB QC ON A4 A5 CSV PDF QR JSON API URL C F"
)

_SKIPPED = frozenset({"script", "style", "code", "kbd", "samp"})
_VOID = _words("area base br col embed hr img input link meta source track wbr")
_BLOCKS = _words(
    "address article aside blockquote body button caption dd details dialog div dl dt fieldset figcaption "
    "figure footer form h1 h2 h3 h4 h5 h6 header html label legend li main nav ol option p section select "
    "summary table tbody td text textarea tfoot th thead title tr ul"
)
_SPOKEN = ("alt", "aria-label", "aria-description", "aria-roledescription", "placeholder", "title", "label")
_WORD = re.compile(r"[^\W\d_¹²³¼½¾]+(?:['’\-][^\W\d_¹²³¼½¾]+)*")
_ASCII_LETTER = re.compile(r"[A-Za-z]")


class _Reader(HTMLParser):
    """Collects (text, inside the brackets?) pieces that a person would see or hear."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.pieces: list[tuple[str, bool]] = []
        self.unclosed: list[str] = []
        self._quiet: list[tuple[str, bool]] = []
        self._depth = 0
        self._since = ""

    @property
    def _silent(self) -> bool:
        return any(quiet for _, quiet in self._quiet)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in _BLOCKS:
            self._end_block()
        facts = {name: value or "" for name, value in attrs}
        quiet = tag in _SKIPPED or facts.get("translate") == "no"
        if not quiet and not self._silent:
            for name in _SPOKEN:
                self._alone(facts.get(name, ""))
            if tag == "input" and facts.get("type") in ("submit", "button", "reset"):
                self._alone(facts.get("value", ""))
            if tag == "meta" and facts.get("name") in ("description", "application-name"):
                self._alone(facts.get("content", ""))
        if tag not in _VOID:
            self._quiet.append((tag, quiet))

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in _VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in _BLOCKS:
            self._end_block()
        for index in range(len(self._quiet) - 1, -1, -1):
            if self._quiet[index][0] == tag:
                del self._quiet[index:]
                return

    def handle_data(self, data: str) -> None:
        if self._silent:
            return
        for part in re.split(f"([{OPEN}{CLOSE}])", data):
            if part == OPEN:
                self._depth += 1
                self._since = self._since or data.strip()
            elif part == CLOSE:
                self._depth = max(0, self._depth - 1)
                if self._depth == 0:
                    self._since = ""
            elif part:
                self.pieces.append((part, self._depth > 0))

    def close(self) -> None:
        super().close()
        self._end_block()

    def _alone(self, text: str) -> None:
        depth = 0
        for part in re.split(f"([{OPEN}{CLOSE}])", text):
            depth += {OPEN: 1, CLOSE: -1}.get(part, 0)
            if part and part not in (OPEN, CLOSE):
                self.pieces.append((part, depth > 0))

    def _end_block(self) -> None:
        # A sentence cut off by the end of its block would hide everything after it.
        if self._depth:
            self.unclosed.append(self._since)
        self._depth, self._since = 0, ""


def find_raw_english(html: str, allowed: Iterable[str] = (), *, strict: bool = False) -> list[str]:
    """The pieces of a page in the pseudo-language that did not come from the catalogue, in order.

    Skipped: scripts, styles, code, whatever is marked `translate="no"`, numbers, and the symbols of units.
    Looked at as well: words inside drawings, alternative texts, labels, titles, placeholders, button values.

    Parameters
    ----------
    html
        A whole page or a part of one.
    allowed
        Data that may stand there as it is: names of people, places, stacks, scientific names.
    strict
        Also report unaccented words inside ⟦ ⟧, that is, values filled into a sentence untranslated.
    """
    reader = _Reader()
    reader.feed(html)
    reader.close()
    names = sorted({name for name in allowed if name}, key=len, reverse=True)
    found = [f"unclosed {OPEN}: {text}" for text in reader.unclosed]
    for text, inside in reader.pieces:
        if inside and not strict:
            continue
        rest = text
        for name in names:
            rest = re.sub(rf"(?<!\w){re.escape(name)}(?!\w)", " ", rest)
        words = [word for word in _WORD.findall(rest) if _ASCII_LETTER.search(word)]
        if any(word not in UNIT_SYMBOLS for word in words):
            found.append(" ".join(text.split()))
    return found
