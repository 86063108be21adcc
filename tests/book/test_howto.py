"""docs/server.md is followed literally: its commands are taken out of the page and run in an empty home folder."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import ssl
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest
import typer
from scripts.private_postgres import PrivateServer, find_server_programs

from rickyard.book import Book, check
from rickyard.cli import books, people, serve
from rickyard.desk.context import new_key
from rickyard.desk.wood_in import Harvest, TakeInRough, take_in_rough
from rickyard.desk.yards import YardFacts, set_up_yard

PAGE = Path(__file__).parents[2] / "docs" / "server.md"
PASSWORD = "larch and heron by the gate"
# Kinds of blocks that are run as they stand.
RUN = ("sh", "sh postgres", "sh old", "sh password", "sh backup")
# What the page says of a machine, and nothing else, is put elsewhere in the units.
PROGRAM, HOME = "/home/rickyard/program/.venv/bin/rickyard", "/home/rickyard"


def blocks() -> list[tuple[str, str]]:
    """Kind and text of every block of commands or of a unit, in the page's order."""
    return re.findall(r"^```(.+?)\n(.*?)^```$", PAGE.read_text(encoding="utf-8"), re.MULTILINE | re.DOTALL)


@pytest.fixture
def machine(server: PrivateServer, tmp_path: Path):
    """An empty home; `rickyard` and PostgreSQL's programs on the path; `su postgres` by a stand-in."""
    home, tools = tmp_path / "home", tmp_path / "tools"
    home.mkdir()
    tools.mkdir()
    rickyard = tools / "rickyard"
    rickyard.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m rickyard "$@"\n', encoding="utf-8")
    su = tools / "su"
    su.write_text(
        '#!/bin/sh\n[ "$1 $2" = "postgres -c" ] || exit 9\nPGUSER=yard exec sh -c "$3"\n', encoding="utf-8"
    )
    for tool in (rickyard, su):
        tool.chmod(0o755)
    yield {
        "HOME": str(home),
        "PATH": f"{tools}:{find_server_programs()}:{os.environ['PATH']}",
        "PYTHONPATH": os.environ.get("PYTHONPATH", ""),
        "PGHOST": str(server.home),
        "PGUSER": "rickyard",
        "RICKYARD_FILES": str(home / "files"),
        "LC_ALL": "C.UTF-8",
    }
    server.drop(server.url("rickyard"))
    server.sql("DROP ROLE IF EXISTS rickyard")


def run(commands: str, machine: dict[str, str], typed: str = "") -> str:
    """A block as it stands, by a shell that stops at the first failure; without a terminal, which is typed to."""
    done = subprocess.run(
        ["bash", "-e", "-c", commands],
        env=machine,
        cwd=machine["HOME"],
        input=typed,
        capture_output=True,
        text=True,
        check=False,
        timeout=200,
        start_new_session=True,
    )
    assert done.returncode == 0, f"{commands}\n{done.stdout}\n{done.stderr}"
    return done.stdout


def started(unit: str, machine: dict[str, str]) -> list[str]:
    """The command of a unit."""
    (line,) = re.findall(r"^ExecStart=(.*)$", unit, re.MULTILINE)
    words = shlex.split(line)
    assert words[0] == PROGRAM
    return ["rickyard", *(word.replace(HOME, machine["HOME"]) for word in words[1:])]


def old_book(home: Path) -> None:
    facts = YardFacts(
        name="Yard",
        country="CA",
        subdivision="NB",
        climate_place="Fredericton, NB",
        timezone="America/Moncton",
    )
    with Book.open(home / "book.sqlite", create=True) as book:
        desk = set_up_yard(book, facts, owner="Your Name", clock=lambda: datetime(2026, 3, 1, 12, tzinfo=UTC))
        take_in_rough(
            desk,
            TakeInRough(
                key=new_key(),
                source="A farm",
                harvest=Harvest(country="CA", subdivision="NB"),
                arrived_on=datetime(2026, 3, 1, tzinfo=UTC).date(),
                quantity=8.0,
                shares=(("sugar maple", 1.0),),
            ),
        )


def test_every_block_is_run_or_said_not_to_be() -> None:
    """The page itself is followed by `make prove-howto`: it starts the program a dozen times."""
    kinds = {kind for kind, _ in blocks()}
    others = {kind for kind in kinds if kind not in RUN and not kind.startswith("ini ")}
    assert others == {"sh root", "sh install"}
    commands = [line for kind, text in blocks() if kind in RUN for line in text.splitlines()]
    commands += [
        " ".join(started(text, {"HOME": "~"})) for kind, text in blocks() if kind.endswith(".service")
    ]
    app = typer.Typer()
    for module in (books, people, serve):
        module.add_to(app)
    looked = 0
    for words in (shlex.split(line) for line in commands):
        if words[0] != "rickyard":
            continue
        command = typer.main.get_command(app)
        for word in words[1:]:
            if not hasattr(command, "commands"):
                break
            command = command.commands[word]
        known = {name for option in command.params for name in option.opts}
        assert {word for word in words if word.startswith("--")} <= known, words
        looked += 1
    assert looked > 10


@pytest.mark.postgres
@pytest.mark.slow
@pytest.mark.skipif("RICKYARD_PROVE" not in os.environ, reason="make prove-howto")
def test_the_page_is_followed_literally(machine: dict[str, str], server: PrivateServer) -> None:
    home = Path(machine["HOME"])
    old_book(home)
    ran: list[str] = []
    units: dict[str, str] = {}
    for kind, text in blocks():
        if kind.startswith("ini "):
            units[kind.split()[1]] = text
        elif kind in ("sh", "sh postgres", "sh old"):
            run(text, machine)
            ran.append(kind)
        elif kind == "sh password":
            for line in text.splitlines():
                # Each is asked for twice.
                run(line, machine, 2 * f"{PASSWORD}\n")
            ran.append(kind)
        elif kind == "sh backup":
            # The night has come before this step.
            run(shlex.join(started(units["rickyard-backup.service"], machine)), machine)
            said = run(text, machine)
            assert said.count("still holds all that it is held against") == 2
            ran.append(kind)
        else:
            assert kind in ("sh root", "sh install"), f"a block of an unknown kind: {kind}"
    assert set(ran) == set(RUN)
    assert ran == ["sh postgres", "sh old", "sh", "sh", "sh password", "sh backup", "sh"]
    assert set(units) == {"rickyard.service", "rickyard-backup.service", "rickyard-backup.timer"}

    with Book.open(server.url("rickyard"), files=home / "files") as book:
        assert check(book).problems == ()
    serves_over_https(started(units["rickyard.service"], machine), machine)


def serves_over_https(words: list[str], machine: dict[str, str]) -> None:
    words += ["--port", "0", "--start-port", "0", "--json"]
    process = subprocess.Popen(
        words, env=machine, cwd=machine["HOME"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        said = process.stdout.readline()
        assert said, process.stderr.read() if process.stderr else ""
        found = re.search(r'"url": "([^"]+)"', said)
        assert found is not None, said
        port = urlsplit(found[1]).port
        trust = ssl.create_default_context(cafile=f"{machine['HOME']}/https/authority.pem")
        with httpx.Client(base_url=f"https://127.0.0.1:{port}", verify=trust, timeout=60) as client:
            assert client.get("/").headers["location"].startswith("/sign-in")
            came = client.post("/sign-in", data={"person": "Second Person", "password": PASSWORD})
            assert came.status_code == 303
            assert client.get("/orders").status_code == 200
            assert client.get("/people").status_code == 403
    finally:
        process.terminate()
        process.communicate(timeout=30)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd is not installed")
def test_the_units_are_units(tmp_path: Path) -> None:
    program = tmp_path / "rickyard"
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o755)
    units = {kind.split()[1]: text for kind, text in blocks() if kind.startswith("ini ")}
    for name, text in units.items():
        (tmp_path / name).write_text(text.replace(PROGRAM, str(program)), encoding="utf-8")
    done = subprocess.run(
        ["systemd-analyze", "verify", *(str(tmp_path / name) for name in units)],
        capture_output=True,
        text=True,
        check=False,
    )
    complaints = [line for line in done.stderr.splitlines() if "rickyard" in line]
    assert complaints == []
