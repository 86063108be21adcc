"""What the journal keeps of a measurement, in words: places, forms, methods, quantities in their units."""

from __future__ import annotations

from datetime import UTC, datetime

from markupsafe import Markup, escape

from rickyard.desk.entries import PostingLine
from rickyard.show import Voice
from rickyard.text import T_, Text
from rickyard.web.names import REASONS
from rickyard.web.visit import data

PLACES: dict[str, Text] = {
    "outside": T_("from outside, or differences"),
    "loss": T_("losses"),
    "own_use": T_("own use"),
    "gate": T_("a buyer at the gate"),
    "household": T_("a household"),
}
FORMS: dict[str, Text] = {
    "log": T_("logs"),
    "round": T_("rounds"),
    "split": T_("split wood"),
    "kindling": T_("kindling"),
    "bark": T_("bark"),
    "kerf": T_("sawdust"),
    "waste": T_("waste"),
}
# How the journal says it was measured; other words are shown as they stand there.
METHODS: dict[str, Text] = {
    "rough stacked_m3": T_("the load by eye, stacked volume"),
    "rough loose_m3": T_("the load by eye, loose volume"),
    "rough solid_m3": T_("the load by its solid volume"),
    "rough green_kg": T_("the load by its green weight"),
    "log formulas": T_("logs measured one by one"),
    "bark ratio of the species": T_("bark ratio of the species"),
    "what the load gave": T_("what the load gave"),
    "bark fallen": T_("bark fallen"),
    "kerf of the saw": T_("kerf of the saw"),
    "share of the wood": T_("share of the wood"),
    "outside dimensions": T_("outside dimensions"),
    "share as told": T_("share as told"),
    "volume as told": T_("volume as told"),
    "share of the measured stack": T_("share of the measured stack"),
    "measures joined by their spreads": T_("measures joined by their spreads"),
    "named later": T_("named later"),
    "nothing is left": T_("nothing is left"),
}
_LOGS_LESS = "log formulas, less"


def place_words(voice: Voice, line: PostingLine) -> Markup:
    """The place, with a link where it has a page."""
    place = line.place
    if place.kind == "stack":
        return _link(f"/stacks/{place.id}", voice.text(T_("Stack {name}", name=place.name)))
    if place.kind == "load":
        return _link(f"/wood-in/{place.id}", voice.text(T_("Load {number}", number=place.name)))
    return escape(voice.text(PLACES[place.kind])) if place.kind in PLACES else data(place.kind)


def form_words(voice: Voice, form: str) -> str:
    return voice.text(FORMS[form])


def method_words(voice: Voice, method: str) -> Markup:
    if method.startswith(_LOGS_LESS):
        return escape(voice.text(T_("logs measured one by one, less rot and defects")))
    return escape(voice.text(METHODS[method])) if method in METHODS else data(method)


def reason_words(voice: Voice, reason: str) -> Markup:
    return escape(voice.text(REASONS[reason])) if reason in REASONS else data(reason)


def quantity_words(voice: Voice, line: PostingLine) -> str:
    """The measurement as taken, in the reader's units; empty where none was kept."""
    if line.quantity is None:
        return ""
    if line.unit == "share":
        return voice.text(T_("{share} of what was there", share=voice.percent(line.quantity, 1)))
    if line.unit == "green_kg":
        return voice.text(T_("{mass} green", mass=voice.mass(line.quantity)))
    piled = {"stacked_m3": "ranked", "loose_m3": "loose", "solid_m3": "solid"}[line.unit]
    return voice.volume(line.quantity, piled)


def range_words(voice: Voice, line: PostingLine) -> str:
    """From the 10th to the 90th percentile of the mass, where its spread is known."""
    if line.sd_kg is None:
        return ""
    mid, half = abs(line.mass_kg), 1.2816 * line.sd_kg
    low, high = voice.mass(max(0.0, mid - half)), voice.mass(mid + half)
    return voice.text(T_("between {low} and {high}", low=low, high=high))


def in_utc(moment: datetime) -> Markup:
    """The moment as the book keeps it."""
    return data(moment.astimezone(UTC).strftime("%Y-%m-%d %H:%M UTC"))


def _link(address: str, words: str) -> Markup:
    return Markup('<a class="tap" href="{}">{}</a>').format(address, words)
