"""What a line of a list becomes, in the user's words and units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from markupsafe import Markup, escape

from rickyard.desk.lists import Fact, PlannedLine
from rickyard.desk.wood_in import Harvest
from rickyard.show import Voice
from rickyard.text import T_
from rickyard.web.names import NAMES
from rickyard.web.visit import data, harvest_words, woods
from rickyard.wood import get_species


def value_words(voice: Voice, fact: Fact, value: Any) -> Markup | str:
    """One value; what people typed is marked as theirs."""
    if value is None or value == "":
        return voice.text(T_("green")) if fact.how == "moisture" else voice.text(T_("nothing"))
    if fact.how == "money":
        return voice.money(value)
    if fact.how == "moisture":
        return voice.moisture_short(value, 1)
    if fact.how in ("length", "thickness", "side"):
        return {"length": voice.length, "thickness": voice.thickness, "side": voice.dimension}[fact.how](
            value
        )
    if fact.how == "sides":
        return "; ".join(voice.dimension(side) for side in value)
    if fact.how == "volume":
        return voice.volume(*value)
    if fact.how == "word":
        return voice.text(NAMES[fact.group][value])
    if fact.how == "species":
        names = [voice.species(get_species(item)) for item in value]
        return voice.list_of(names) if names else voice.text(T_("any wood"))
    if fact.how == "shares":
        return woods(voice, [(get_species(item), share) for item, share in value])
    if fact.how == "day":
        return voice.date(value)
    if fact.how == "yes":
        return voice.text(T_("yes") if value else T_("no"))
    if fact.how == "count":
        return voice.whole(value)
    if fact.how == "harvest":
        country, subdivision, county, certificate = value
        return harvest_words(
            voice,
            Harvest(country=country, subdivision=subdivision, county=county, certificate=certificate),
        )
    return data(value)


def becomes(voice: Voice, line: PlannedLine) -> list[Markup]:
    """Of a new thing all that will stand in the book, of a changed one what changes."""
    facts: Sequence[Fact] = line.changes if line.state == "change" else line.facts
    words = []
    for fact in facts:
        if fact.id == "name" and line.state != "change":
            continue
        values: dict[str, Any] = {
            "what": escape(voice.text(fact.label)),
            "value": escape(value_words(voice, fact, fact.value)),
        }
        if fact.changes:
            values["was"] = escape(value_words(voice, fact, fact.was))
            sentence = T_("{what}: {was} becomes {value}", **values)
        else:
            sentence = T_("{what}: {value}", **values)
        # All that is filled in is escaped; the sentence itself is ours.
        words.append(Markup(voice.text(sentence)))
    return words
