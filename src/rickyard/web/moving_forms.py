"""Forms about a part of some wood: all of it, half of it, or an amount in trade units, each with what that is."""

from __future__ import annotations

from rickyard.desk.moving_views import Wood
from rickyard.errors import InputError
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
# The desk takes no smaller and (of a part) no larger share.
LEAST, MOST_OF_A_PART = 0.001, 0.999
# So much more than the book holds is a rounding of what was typed; the rest is asked about.
ROUNDING = 1.02


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


def read_share(form: Form, wood: Wood, shares: tuple[float, ...]) -> float:
    """The share that was tapped; an amount that was typed (a volume, or percent of what is there) goes before it."""
    most = 1.0 if 1.0 in shares else MOST_OF_A_PART
    typed = form.text("other_amount")
    if not typed:
        tapped = form.choice("share_of", [f"{share:g}" for share in shares])
        return most if form.errors("share_of") else float(tapped)
    if "%" in typed:
        return form.percent("other_amount", low=LEAST, high=most)
    volume = form.volume("other_amount")
    if form.errors("other_amount"):
        return most
    there = wood.ranked_m3.mid
    if there <= 0:
        # The book holds nothing: whatever was taken, it cannot say which part that was.
        return most
    share = wood.ranked_of(volume.m3, loose=volume.unit in ("loose_m3", "loose_ft3")) / there
    if share > (ROUNDING if most == 1.0 else most):
        _beyond(form, there, typed, T_("Type less, or measure what is there first."))
    elif share < LEAST:
        _beyond(form, there, typed, T_("Type more, such as 1/4 cord."))
    return min(most, max(LEAST, share))


def _beyond(form: Form, there_m3: float, typed: str, next_move: Text) -> None:
    form.complain(
        InputError(
            "other_amount",
            wanted=T_(
                "a part of the {volume} that are there by the book", volume=form.voice.volume(there_m3)
            ),
            got=typed,
            next_move=next_move,
        )
    )
