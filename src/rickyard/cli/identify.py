"""`rickyard identify`: which tree is it, from whatever can be seen."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any

import typer

from rickyard.cli.books import BookOption, DatabaseOption, book_target
from rickyard.cli.output import Json, give, table
from rickyard.errors import InputError, UnknownNameError
from rickyard.text import T_

if TYPE_CHECKING:
    from rickyard.identify import Key


def add_to(app: typer.Typer) -> None:
    app.command("identify")(identify)


def identify(
    answers: Annotated[
        list[str] | None,
        typer.Argument(
            help="What was seen: CHARACTER=STATE, states parted by |, with ? (fairly sure) or ?? (a guess).",
            metavar="CHARACTER=STATE[|STATE][?|??]",
            show_default=False,
        ),
    ] = None,
    situation: Annotated[
        list[str] | None,
        typer.Option(
            help="leaf, winter, log, split or lens; may be said more than once.", show_default=False
        ),
    ] = None,
    region: Annotated[str | None, typer.Option(help="NE, LS, SE, GP, RM, SW or PC.")] = None,
    street_tree: Annotated[
        bool, typer.Option("--street-tree", help="It stood in a street or garden: planted trees count more.")
    ] = False,
    count: Annotated[
        list[str] | None,
        typer.Option(help="How often the yard has met a species, as NAME=N; may be said more than once."),
    ] = None,
    exponent: Annotated[
        float | None,
        typer.Option(
            help="Calibration exponent, fitted from confirmed records (1 if not said).", show_default=False
        ),
    ] = None,
    book: BookOption = None,
    database: DatabaseOption = None,
    json_: Json = False,
) -> None:
    """Which tree is it: every species with its probability, what may be said, and what to look at next.

    With --book the yard's confirmed trees count, and its own exponent, where neither is said.
    """
    from rickyard.identify import Prior, checked_situations, posterior, read_answer, report, the_key

    key = the_key()
    present = checked_situations(situation or ())
    counts = dict(_count(key, text) for text in count or ())
    if book is not None or database is not None:
        counts, exponent = _of_yard(book_target(book, database), counts, exponent)
    exponent = 1.0 if exponent is None else exponent
    prior = Prior(region=region, counts=counts, street=street_tree)
    post = posterior(key, [read_answer(key, text) for text in answers or ()], prior, exponent=exponent)
    result = report(post, present)
    give(result, _lines(result), json_)


def _of_yard(target: str, counts: dict[str, float], exponent: float | None) -> tuple[dict[str, float], float]:
    """What the book's yard has taught, where nothing else was said."""
    from rickyard.desk.housekeeping import open_book
    from rickyard.desk.seen import UNTAUGHT, taught
    from rickyard.desk.yards import open_desk

    book = open_book(target)
    try:
        desk = open_desk(book)
        known = taught(desk) if desk else UNTAUGHT
    finally:
        book.close()
    return counts or dict(known.counts), known.exponent if exponent is None else exponent


def _count(key: Key, text: str) -> tuple[str, float]:
    """Reads NAME=N: the short id, and the number."""
    name, _, number = text.rpartition("=")
    try:
        times = float(number)
    except ValueError:
        times = math.nan
    if not name or not math.isfinite(times):
        raise InputError(
            "count",
            wanted=T_("NAME=N"),
            got=text,
            next_move=T_("Write, for example, {example}.", example="sugar maple=12"),
        )
    species = key.named(name)
    if species is None:
        names = [one.common_en for one in key.species if name.casefold() in one.common_en.casefold()]
        raise UnknownNameError("count", wanted=T_("one species of the key"), got=name, nearest=names[:5])
    return species.key_id, times


def _lines(result: dict[str, Any]) -> list[str]:
    said = result["verdict"]
    lines = []
    if said["level"] == "undecided":
        lines.append(f"Undecided; the likeliest has {said['probability']:.0%}.")
    else:
        lines.append(f"{said['name']} ({said['level']}, {said['probability']:.0%})")
    if result["not_listed"] > 0.2:
        lines.append(f"It may be a tree that is not in this list ({result['not_listed']:.0%}).")
    lines += [f"Look again at {item['character']}: {item['why']}" for item in result["look_again"]]
    lines += [item["why"] for item in result["contradictions"]]
    rows = [
        [row["common_en"], row["scientific"], f"{row['probability']:.3f}"] for row in result["ranking"][:5]
    ]
    lines += table(rows, ["name", "scientific", "probability"])
    if result["note"]:
        lines.append(result["note"])
    lines += [
        f"Next: {look['character']} ({look['gain_bits']:.2f} bit): {look['question']} {look['how_to_look']}"
        f" [{', '.join(look['states'])}]"
        for look in result["look_next"]
    ]
    if said["advice"] and not said["stop"]:
        lines.append(said["advice"])
    if said["stop"] and said["level"] == "undecided":
        lines.append("Twelve answers have not settled it; more will hardly do.")
    return lines
