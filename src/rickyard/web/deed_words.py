"""Where the thing of a deed is looked at, and what was read of it, for the list of who did what."""

from __future__ import annotations

from typing import Final

from rickyard.desk.audit import DeedLine
from rickyard.show import Voice
from rickyard.text import T_
from rickyard.web.names import NAMES

# Where a thing is looked at; what has no page of its own is shown on that of its kind.
_PATHS: Final = {
    "ticket": "/tickets/{id}",
    "order": "/orders/{id}",
    "offer": "/offers/{id}",
    "stack": "/stacks/{id}",
    "load": "/wood-in/{id}",
    "cut_sheet": "/cutting/{id}",
    "splitting_sheet": "/splitting/{id}",
    "household": "/households/{id}",
    "ware": "/wares/{id}",
    "naming": "/tree/seen/{id}",
    "clash": "/clashes/{id}",
    "work": "/splitting/times",
    "weather": "/weather",
    "photo": "/photos/{id}",
    "person": "/people",
    "sign_in": "/people",
    "yard": "/yard",
}


def path_of(deed: DeedLine) -> str:
    """The page of what the deed was about; empty if there is none."""
    if deed.thing is None:
        return ""
    if deed.kind == "set_costs":
        return "/yard/costs"
    return _PATHS.get(deed.thing.kind, "").format(id=deed.thing.id)


def read_words(voice: Voice, kind: str, value: float) -> str:
    """A reading as it was entered: what it means in the wood is said on the stack's page."""
    if kind == "oven":
        return voice.moisture(value, 1)
    if kind == "weighed":
        return voice.text(T_("{share} of the weight when marked", share=voice.percent(value, 1)))
    shown = voice.text(T_("{percent} shown", percent=voice.decimal(value, 1, strip=True) + " %"))
    return f"{voice.text(NAMES['reading'][kind])}, {shown}"
