"""Forms about a part of some wood: all of it, half of it, or an amount in trade units, each with what that is."""

from __future__ import annotations

from dataclasses import dataclass

from rickyard.desk.moving import LEAST_SHARE, MOST_OF_A_PART, share_told
from rickyard.desk.moving_views import Wood
from rickyard.show import Voice
from rickyard.text import T_, Text
from rickyard.web.forms import Form

WHOLE = (1.0, 0.75, 0.5, 0.25)
PART = (0.75, 0.5, 0.25)
_WORDS: dict[float, Text] = {
    1.0: T_("all of it"),
    0.75: T_("three quarters"),
    0.5: T_("half of it"),
    0.25: T_("a quarter"),
}


@dataclass(frozen=True)
class Told:
    """How much was told: a share, or a stacked volume of which the book finds the share when the deed is done.

    A phone that sends a form again must send the same deed, whatever the book holds by then.
    """

    share: float
    ranked_m3: float | None = None

    def of(self, wood: Wood, *, most: float = 1.0) -> float:
        """The share as things stand; InputError if that is more than there is."""
        return share_told(self.share, self.ranked_m3, wood.ranked_m3.mid, most=most)


def stacked(voice: Voice, wood: Wood, share: float = 1.0) -> str:
    """A share of some wood as stacked volume, with its range."""
    part = wood.ranked_m3.scaled(share)
    return voice.volume_range(part.low, part.mid, part.high)


def share_options(voice: Voice, wood: Wood, shares: tuple[float, ...]) -> list[tuple[str, str]]:
    """(value, "half of it · 1.1 cords (0.9 to 1.3)") for each share that can be tapped."""
    found = []
    for share in shares:
        words = voice.text(_WORDS[share])
        if wood.ranked_m3.mid > 0:
            words = f"{words} · {stacked(voice, wood, share)}"
        found.append((f"{share:g}", words))
    return found


def read_amount(form: Form, wood: Wood, shares: tuple[float, ...]) -> Told:
    """The share that was tapped; an amount that was typed (a volume, or percent of what is there) goes before it."""
    part = 1.0 not in shares
    typed = form.text("other_amount")
    if not typed:
        tapped = form.choice("share_of", [f"{share:g}" for share in shares])
        return Told(shares[0] if form.errors("share_of") else float(tapped))
    if "%" in typed:
        high = MOST_OF_A_PART if part else 1.0
        return Told(form.percent("other_amount", low=LEAST_SHARE, high=high))
    volume = form.volume("other_amount")
    return Told(shares[0], wood.ranked_of(volume.m3, loose=volume.unit in ("loose_m3", "loose_ft3")))
