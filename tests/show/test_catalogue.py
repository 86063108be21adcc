"""The script that collects sentences, and the files it keeps."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import jinja2
import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def script():
    spec = importlib.util.spec_from_file_location("words_script", ROOT / "scripts" / "words.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def tree(tmp_path):
    """A small source tree with every kind of sentence."""
    source = tmp_path / "src" / "rickyard"
    (source / "web" / "templates").mkdir(parents=True)
    (source / "a.py").write_text(
        "from rickyard.text import T_\n"
        'x = T_("Check {field}.", field=1)\n'
        'y = voice.ngettext("{n} stack", "{n} stacks", 2)\n'
        'z = pgettext("button", "Open")\n'
        'w = T_("one "\n       "sentence")\n'
        'not_a_sentence = "raw"\n',
        "utf-8",
    )
    (source / "web" / "templates" / "page.html").write_text(
        "<h1>{% trans %}Today{% endtrans %}</h1>{{ _('Save') }}"
        "{% trans n=2 %}{{ n }} log{% pluralize %}{{ n }} logs{% endtrans %}"
        "{% trans %}\n  two lines\n{% endtrans %}",
        "utf-8",
    )
    return tmp_path


def locale_file(tree: Path, name: str) -> Path:
    return tree / "src" / "rickyard" / "show" / "locale" / name


def test_every_kind_of_sentence_is_collected(script, tree):
    found = {
        (message.context, message.id) for message in script.collect(tree / "src" / "rickyard") if message.id
    }
    assert found == {
        (None, "Check {field}."),
        (None, ("{n} stack", "{n} stacks")),
        ("button", "Open"),
        (None, "one sentence"),
        (None, "Today"),
        (None, "Save"),
        (None, "  two lines\n"),
        (None, ("%(n)s log", "%(n)s logs")),
    }


def test_sentences_are_collected_as_the_web_looks_them_up(script, tree):
    """The same template, set up as the web does, asks for exactly the sentences that were collected."""
    asked: list[str] = []
    environment = jinja2.Environment(trim_blocks=True, lstrip_blocks=True, extensions=["jinja2.ext.i18n"])
    environment.install_gettext_callables(  # type: ignore[attr-defined]
        lambda message: asked.append(message) or message,
        lambda one, many, n: asked.append((one, many)) or many,
        newstyle=True,
    )
    template = tree / "src" / "rickyard" / "web" / "templates" / "page.html"
    environment.from_string(template.read_text("utf-8")).render()
    collected = {message.id for message in script.collect(tree / "src" / "rickyard")}
    assert len(asked) == 4
    assert set(asked) <= collected


def test_check_fails_until_the_files_are_written_and_again_when_a_sentence_changes(script, tree, capsys):
    assert script.main(["--check"], root=tree) == 1
    assert "messages.pot is stale" in capsys.readouterr().err
    assert script.main([], root=tree) == 0
    assert script.main(["--check"], root=tree) == 0
    source = tree / "src" / "rickyard" / "a.py"
    source.write_text("\n\n" + source.read_text("utf-8"), "utf-8")
    assert script.main(["--check"], root=tree) == 0  # moved lines change nothing
    source.write_text(source.read_text("utf-8").replace("Check {field}.", "Look at {field}."), "utf-8")
    assert script.main(["--check"], root=tree) == 1


def test_translations_are_kept_and_a_changed_sentence_becomes_fuzzy(script, tree):
    script.main([], root=tree)
    po = locale_file(tree, "fr/LC_MESSAGES/rickyard.po")
    text = po.read_text("utf-8").replace(
        'msgid "Check {field}."\nmsgstr ""', 'msgid "Check {field}."\nmsgstr "Vérifiez {field}."'
    )
    assert "Vérifiez" in text
    po.write_text(text, "utf-8")
    assert script.main([], root=tree) == 0
    assert po.read_text("utf-8") == text
    source = tree / "src" / "rickyard" / "a.py"
    source.write_text(source.read_text("utf-8").replace("Check {field}.", "Check {field} now."), "utf-8")
    script.main([], root=tree)
    entry = po.read_text("utf-8").split('msgid "Check {field} now."')
    assert "fuzzy" in entry[0].rpartition("\n\n")[2]
    assert entry[1].startswith('\nmsgstr "Vérifiez {field}."')


def test_a_sentence_near_an_untranslated_one_is_not_in_doubt(script, tree):
    """One and many of no translation are none, so nothing is lent; and a second run changes nothing."""
    script.main([], root=tree)
    source = tree / "src" / "rickyard" / "a.py"
    source.write_text(source.read_text("utf-8").replace("Check {field}.", "{n} stack!"), "utf-8")
    script.main([], root=tree)
    text = locale_file(tree, "fr/LC_MESSAGES/rickyard.po").read_text("utf-8")
    assert 'msgid "{n} stack!"' in text
    assert "fuzzy" not in text
    assert script.main(["--check"], root=tree) == 0


def test_a_translation_that_loses_a_place_is_reported(script, tree, capsys):
    script.main([], root=tree)
    po = locale_file(tree, "fr/LC_MESSAGES/rickyard.po")
    po.write_text(
        po.read_text("utf-8").replace(
            'msgid "Check {field}."\nmsgstr ""', 'msgid "Check {field}."\nmsgstr "Vérifiez."'
        ),
        "utf-8",
    )
    assert script.main(["--check"], root=tree) == 1
    assert "'Check {field}.': places ['field'], translated []" in capsys.readouterr().err


def test_the_catalogue_of_this_source_is_up_to_date(script, capsys):
    """Run `make words` after changing a sentence."""
    assert script.main(["--check"]) == 0, capsys.readouterr().err
