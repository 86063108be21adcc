"""The pseudo-language and the search for raw English."""

from __future__ import annotations

import re
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rickyard.show import find_raw_english, pseudo


def test_letters_are_accented_places_and_markup_kept():
    assert pseudo("Stack {name}: <b class='x'>%(n)s</b> &amp; {d:.2f} 100%%") == (
        "⟦Šţáçķ {name}: <b class='x'>%(n)s</b> &amp; {d:.2f} 100%%⟧"
    )
    assert pseudo("") == ""
    assert pseudo("  two blanks ") == "  ⟦ţŵó ƀĺáñķš⟧ "


@given(st.text(string.ascii_letters + " .,", min_size=1))
def test_no_ascii_letter_is_left(text):
    assert not re.search("[A-Za-z]", pseudo(text))


@given(
    st.lists(
        st.sampled_from(["{a}", "{b:.2f}", "%(c)s", "word", "<i>", "</i>", "{{", "}}", "%%"]), min_size=1
    )
)
def test_every_place_survives_in_order(parts):
    kept = r"\{\{|\}\}|\{\w+[^{}]*\}|%%|%\(\w+\)s|</?i>"
    assert re.findall(kept, pseudo(" ".join(parts))) == re.findall(kept, " ".join(parts))


CLEAN = """<!doctype html><html lang="en"><head><title>⟦Ţóđáý⟧</title><style>p{color:red}</style>
<script>let word = "hello"</script></head><body>
<h1>⟦Šţáçķš⟧</h1><p>⟦Ĥéĺĺó <b>⟦ŵóŕĺđ⟧</b>, 3 <i>çóŕđš</i>⟧ 16 in, 5 m³, 20 °C, CAD</p>
<p translate="no">Rosalie <b>Thibodeau</b></p><code>raw</code>
<svg><title>⟦á çĥáŕţ⟧</title><text>⟦íñ đŕáŵíñǧš⟧</text></svg>
<input type="submit" value="⟦Šáṽé⟧" placeholder="⟦ñáɱé⟧"><input type="text" value="typed by a person">
<img alt="⟦á þíçţúŕé⟧"><br></body></html>"""


def test_a_clean_page_has_nothing():
    assert find_raw_english(CLEAN) == []
    assert find_raw_english(CLEAN, strict=True) == []


@pytest.mark.parametrize(
    ("before", "after", "found"),
    [
        ("⟦Šţáçķš⟧", "Stacks", ["Stacks"]),
        ("⟦Ţóđáý⟧", "Today", ["Today"]),
        ("⟦Šáṽé⟧", "Save", ["Save"]),
        ("⟦ñáɱé⟧", "your name", ["your name"]),
        ("⟦á þíçţúŕé⟧", "a picture", ["a picture"]),
        ('translate="no"', "", ["Rosalie", "Thibodeau"]),
        ("⟦íñ đŕáŵíñǧš⟧", "in drawings", ["in drawings"]),
        ("16 in", "16 inches", ["16 inches, 5 m³, 20 °C, CAD"]),
        (" 3 ", "⟧ and ⟦ 3 ", ["and"]),
    ],
)
def test_raw_words_are_found_wherever_they_stand(before, after, found):
    assert before in CLEAN
    assert find_raw_english(CLEAN.replace(before, after, 1)) == found


def test_names_may_be_allowed_but_only_whole():
    page = "<p>Rosalie Thibodeau</p><p>Rosalie Thibodeaus</p>"
    assert find_raw_english(page, ["Rosalie Thibodeau"]) == ["Rosalie Thibodeaus"]


def test_a_sentence_cut_off_does_not_hide_what_follows():
    assert find_raw_english("<p>⟦Ĥéĺĺó</p><p>Hello</p>") == ["unclosed ⟦: ⟦Ĥéĺĺó", "Hello"]


def test_strict_finds_values_filled_in_untranslated():
    page = "<p>⟦Óŕđéŕ 12 íš delivered⟧</p>"
    assert find_raw_english(page) == []
    assert find_raw_english(page, strict=True) == ["Óŕđéŕ 12 íš delivered"]
