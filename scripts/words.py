"""Collects every translatable sentence into messages.pot and brings the catalogues up to date.

    python scripts/words.py            write messages.pot and update every .po
    python scripts/words.py --check    write nothing; fail if they are stale or a translation is broken

The words of the tree key, of pests and of woods come from their tables.
Sentences come from `T_("...")` and the gettext functions in Python, and from templates (`{% trans %}`, `_()`).
Places are kept without line numbers, so that moving code does not make the catalogue stale.
"""

from __future__ import annotations

import argparse
import csv
import io
import re
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po
from jinja2 import TemplateSyntaxError

ROOT = Path(__file__).resolve().parent.parent
DOMAIN = "rickyard"
LANGUAGES = ("fr",)
KEYWORDS: dict[str, Any] = {
    "T_": None,
    "_": None,
    "gettext": None,
    "ngettext": (1, 2),
    "pgettext": ((1, "c"), 2),
    "npgettext": ((1, "c"), 2, 3),
}
METHODS = [("**.py", "python"), ("**/templates/**.html", "jinja2"), ("**/templates/**.txt", "jinja2")]
# As the web's own environment reads them (`rickyard.web.visit`), or a sentence over two lines is not found.
TEMPLATES = {
    "encoding": "utf-8",
    "silent": "false",
    "extensions": "jinja2.ext.do",
    "trim_blocks": "true",
    "lstrip_blocks": "true",
}
OPTIONS = {"**/templates/**.html": TEMPLATES, "**/templates/**.txt": TEMPLATES}
# The files carry no clock: the same sentences give the same file.
EPOCH = datetime(2026, 1, 1, tzinfo=UTC)
_PLACES = re.compile(r"\{([^{}:!]*)[^{}]*\}|%\((\w+)\)")


def collect(source: Path) -> Catalog:
    """All sentences under a source folder, in order of file and place."""
    catalogue = Catalog(project="Rickyard", creation_date=EPOCH, charset="utf-8", fuzzy=False)
    catalogue.header_comment = "# Sentences of Rickyard. Made by scripts/words.py."
    reading: list[str] = []
    try:
        found = list(
            extract_from_dir(
                source,
                METHODS,
                OPTIONS,
                keywords=KEYWORDS,
                comment_tags=("L10N:",),
                callback=lambda file, method, options: reading.append(file),
                strip_comment_tags=True,
            )
        )
    except TemplateSyntaxError as error:
        raise SystemExit(f"{reading[-1]}:{error.lineno}: {error.message}") from error
    for file, _line, message, comments, context in sorted(found, key=lambda item: (item[0], item[1])):
        catalogue.add(message, None, [(file, 0)], auto_comments=comments, context=context)
    for table, message, context in of_the_tables(source):
        catalogue.add(message, None, [(table, 0)], context=context)
    return catalogue


def of_the_tables(source: Path) -> Iterator[tuple[str, str, str | None]]:
    """Table, sentence and context of what packaged tables say; a state is known by its character ("none" of thorns)."""
    said = {
        "identify/data/characters.csv": (
            ("question", None),
            ("how_to_look", None),
            ("state_label", "character_id"),
        ),
        "identify/data/lookalikes.csv": (("plain_note", None),),
        "rules/data/pests.csv": (("name", None), ("signs", None), ("says", None), ("handling", None)),
        "wood/data/cautions.csv": (("says", None),),
        "wood/data/service_life.csv": (("says", None), ("where", None)),
    }
    for table, columns in said.items():
        if not (source / table).exists():
            continue
        with (source / table).open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                # What only practitioners say is in the table and on no screen.
                if row.get("basis") == "practitioner":
                    continue
                for column, context in columns:
                    yield table, row[column], row[context] if context else None


def as_text(catalogue: Catalog) -> str:
    written = io.BytesIO()
    write_po(written, catalogue, width=100, include_lineno=False, ignore_obsolete=True)
    # Headers that name a person, an address or a version of the tool say nothing here.
    return re.sub(
        r'"(?:Generated-By|Last-Translator|Language-Team|Report-Msgid-Bugs-To|PO-Revision-Date): .*"\n',
        "",
        written.getvalue().decode("utf-8"),
    )


def brought_up_to_date(template: Catalog, po: str | None, language: str) -> Catalog:
    """The catalogue of a language with the template's sentences; known translations are kept.

    A sentence that is close to a translated one gets that translation marked fuzzy, which is not shown.
    """
    if po is None:
        catalogue = Catalog(locale=language, project="Rickyard", charset="utf-8", fuzzy=False)
        catalogue.header_comment = f"# Sentences of Rickyard in {language}."
    else:
        catalogue = read_po(io.StringIO(po), locale=language, domain=DOMAIN)
    catalogue.update(template, no_fuzzy_matching=False)
    for message in catalogue:
        # A sentence near one that has no translation either takes nothing over, so it is not in doubt.
        if message.id and not any(_texts(message.string)):
            message.flags.discard("fuzzy")
            if not message.python_format:
                message.flags.discard("python-format")
    catalogue.creation_date = catalogue.revision_date = EPOCH
    return catalogue


def _places(text: str) -> set[str]:
    return {first or second for first, second in _PLACES.findall(text)}


def _texts(of: Any) -> tuple[str, ...]:
    return tuple(of) if isinstance(of, (list, tuple)) else (of,)


def broken(catalogue: Catalog) -> Iterator[str]:
    """Translations whose places to fill differ from the sentence's own."""
    message: Message
    for message in catalogue:
        if not message.id or message.fuzzy:
            continue
        wanted = set().union(*(_places(text) for text in _texts(message.id)))
        for translation in _texts(message.string):
            # A plural form may leave the count unsaid (un jour), never name a place that is not there.
            given = _places(translation) if translation else wanted
            missing = wanted - given if not message.pluralizable else set()
            if given - wanted or missing:
                yield f"{_texts(message.id)[0]!r}: places {sorted(wanted)}, translated {sorted(given)}"


def main(arguments: list[str] | None = None, *, root: Path = ROOT) -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--check", action="store_true", help="write nothing; fail if anything is stale")
    check = parser.parse_args(arguments).check
    source = root / "src" / "rickyard"
    folder = source / "show" / "locale"
    template = collect(source)
    wanted = {folder / "messages.pot": as_text(template)}
    problems: list[str] = []
    for language in LANGUAGES:
        path = folder / language / "LC_MESSAGES" / f"{DOMAIN}.po"
        old = path.read_text("utf-8") if path.exists() else None
        catalogue = brought_up_to_date(template, old, language)
        problems += [f"{path.relative_to(root)}: {problem}" for problem in broken(catalogue)]
        wanted[path] = as_text(catalogue)
        done = sum(
            1 for message in catalogue if message.id and all(_texts(message.string)) and not message.fuzzy
        )
        print(f"{language}: {done} of {len(catalogue)} sentences translated")
    for path, text in wanted.items():
        if check:
            if not path.exists() or path.read_text("utf-8") != text:
                problems.append(f"{path.relative_to(root)} is stale: run `make words`")
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")
    for problem in problems:
        print(problem, file=sys.stderr)
    return 1 if problems else 0


if __name__ == "__main__":
    raise SystemExit(main())
