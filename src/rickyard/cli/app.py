"""Entry point of the `rickyard` command: puts the commands together and turns every failure into one line.

Bad input ends with exit code 2 and, with `--json`, one error object on standard error; never a traceback.
"""

from __future__ import annotations

import gc
import json
import logging
import os
import sys
from collections.abc import Sequence
from typing import Annotated, Any

import typer
from typer.exceptions import Abort, Exit, TyperException

from rickyard import __version__
from rickyard.cli.typed import said_as_typed
from rickyard.errors import InputError, RickyardError

# After so many new objects Python looks for circles that nobody holds. After its usual 700, that is a tenth of the time
# of every start and of every deed, and finds next to nothing.
COLLECT_AFTER = 50_000

app = typer.Typer(
    name="rickyard",
    help="From the log at the gate to dry wood at the household.",
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"rickyard {__version__}")
        raise Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    """From the log at the gate to dry wood at the household."""


def _assemble() -> None:
    """Each module adds its commands; imported late so that `--version` and mistakes answer at once."""
    from rickyard.cli import books, cutting, forecasts, identify, offers, people, rules, serve, skies, wood

    for module in (wood, identify, cutting, offers, forecasts, skies, rules, serve, people, books):
        module.add_to(app)


def main(arguments: Sequence[str] | None = None) -> None:
    """Runs a command and exits with its code: 0, 2 for bad input, 1 for anything unforeseen."""
    seldom_look_for_waste()
    sys.exit(run(sys.argv[1:] if arguments is None else list(arguments)))


def seldom_look_for_waste() -> None:
    gc.set_threshold(COLLECT_AFTER, *gc.get_threshold()[1:])


def run(arguments: list[str]) -> int:
    as_json = "--json" in arguments
    try:
        if not app.registered_commands:
            _assemble()
        result = app(arguments, prog_name="rickyard", standalone_mode=False)
    except Exit as ending:
        return int(ending.exit_code)
    except RickyardError as error:
        said = said_as_typed(error, arguments) if isinstance(error, InputError) else error.as_dict()
        _complain(as_json, **said)
        return 2
    except TyperException as error:
        _complain(as_json, "usage", _option_name(error), _usage_message(error))
        return 2
    except Abort:
        return 130
    except BrokenPipeError:
        # The reader (head, say) has gone; nothing is wrong on our side.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:  # the last door: a person must never meet a traceback
        logging.getLogger(__name__).debug("unforeseen", exc_info=True)
        if os.environ.get("RICKYARD_TRACEBACK"):
            raise
        _complain(
            as_json,
            "unforeseen",
            "",
            f"Something went wrong that should not: {type(error).__name__}: {error}. "
            "Set RICKYARD_TRACEBACK=1, run it again, and report what it prints.",
        )
        return 1
    return int(result) if isinstance(result, int) else 0


def _complain(as_json: bool, code: str, field: str, message: str, **more: Any) -> None:
    """The error object, with what an error adds to it (such as every bad line of a list), or one line."""
    if as_json:
        body: Any = {"error": {"code": code, "field": field, "message": message, **more}}
        print(json.dumps(body, ensure_ascii=False), file=sys.stderr)
    else:
        print(f"rickyard: {message}", file=sys.stderr)


def _option_name(error: TyperException) -> str:
    param = getattr(error, "param", None)
    name = getattr(param, "name", None) or getattr(error, "option_name", None) or ""
    return str(name).lstrip("-").replace("-", "_")


def _usage_message(error: TyperException) -> str:
    said = error.format_message() if hasattr(error, "format_message") else str(error)
    return f"{said.rstrip('.')}. See 'rickyard --help', or COMMAND --help."
