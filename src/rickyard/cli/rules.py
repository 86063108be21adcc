"""`rickyard rules measure` and `rules wording`: what a place's law says of units, words and tickets."""

from __future__ import annotations

from typing import Annotated

import typer

from rickyard.cli.output import Json, give

Place = Annotated[str, typer.Argument(help="Country or country-subdivision, e.g. CA-NB or US-MN.")]


def add_to(app: typer.Typer) -> None:
    rules = typer.Typer(help="What the law says where.", no_args_is_help=True, rich_markup_mode=None)
    rules.command("measure")(measure)
    rules.command("wording")(wording)
    app.add_typer(rules, name="rules")


def measure(place: Place, json_: Json = False) -> None:
    """Units allowed, words forbidden, what a cord is, and what a ticket must carry."""
    from rickyard.rules import place_rules

    found = place_rules(place)
    fields = [item.name for item in found.ticket_fields if item.required]
    give(
        {
            "units_allowed": found.units_allowed,
            "words_forbidden": found.words_forbidden,
            "cord_ft3": found.cord_ft3,
            "ticket_fields": found.ticket_fields,
            "sources": found.sources,
            "read_on": found.read_on,
        },
        [
            f"units: {', '.join(found.units_allowed)}",
            f"words not to use: {', '.join(found.words_forbidden) or 'none read'}",
            f"a ticket carries: {', '.join(fields) or 'no rule read'}",
            str(found.advice),
        ],
        json_,
    )


def wording(
    place: Place,
    text: Annotated[str, typer.Argument(help="The advertisement, label or ticket text.")],
    language: Annotated[str, typer.Option(help="en or fr.")] = "en",
    json_: Json = False,
) -> None:
    """Whether a text breaks a rule that was read for the place."""
    from rickyard.rules import check_wording

    problems = check_wording(place, text, language=language)
    give(
        {
            "ok": not problems,
            "problems": [{"word": p.word, "rule": str(p.rule), "instead": str(p.instead)} for p in problems],
        },
        [f"{p.word}: {p.rule} Instead: {p.instead}" for p in problems]
        or ["No rule that was read is broken."],
        json_,
    )
