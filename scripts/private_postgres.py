"""A PostgreSQL server of our own for tests and proofs, from the programs that the distribution installs."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
from pathlib import Path

import psutil
import psycopg


def find_server_programs() -> Path:
    """Folder of initdb and pg_ctl; RuntimeError if PostgreSQL is not installed."""
    found = shutil.which("initdb")
    if found:
        return Path(found).parent
    versions = [path for path in Path("/usr/lib/postgresql").glob("*/bin") if (path / "initdb").exists()]
    if not versions:
        raise RuntimeError(
            "PostgreSQL is not installed, and the book must be tested on it: run `make system`, "
            "or install the package postgresql."
        )
    return max(versions, key=lambda path: float(path.parent.name))


def database_of(url: str) -> str:
    return url.split("/")[3].split("?")[0]


class PrivateServer:
    """A PostgreSQL server on a socket in a folder of its own; no port is opened.

    PostgreSQL refuses to run as root, so root hands it to the user postgres, which the package makes.
    What it holds is thrown away when it stops; `durable` makes it wait for the disk all the same, as a real one does.
    """

    def __init__(self, *, durable: bool = False) -> None:
        programs = find_server_programs()
        self.home = Path(tempfile.mkdtemp(prefix="rickyard-pg-"))
        self._as: dict[str, object] = {}
        if os.geteuid() == 0:
            account = pwd.getpwnam("postgres")
            os.chown(self.home, account.pw_uid, account.pw_gid)
            self._as = {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}
        self._pg_ctl = str(programs / "pg_ctl")
        self.data = str(self.home / "data")
        self._run(
            str(programs / "initdb"), "-D", self.data, "-U", "yard", "-A", "trust", "-E", "UTF8", "--locale=C"
        )
        self._settings = f"-c listen_addresses='' -c unix_socket_directories='{self.home}'"
        if not durable:
            self._settings += " -c fsync=off"
        self._names = 0
        self.start()

    def start(self) -> None:
        """Starts it, after a kill too; gives back when it takes connections."""
        log = str(self.home / "log")
        self._run(self._pg_ctl, "-D", self.data, "-l", log, "-o", self._settings, "-w", "start")

    def kill(self) -> None:
        """SIGKILL to the server and to each process of its, at once."""
        pid = int(Path(self.data, "postmaster.pid").read_text(encoding="ascii").split()[0])
        postmaster = psutil.Process(pid)
        family = [postmaster, *postmaster.children(recursive=True)]
        for process in family:
            try:
                process.send_signal(signal.SIGKILL)
            except psutil.NoSuchProcess:
                continue  # it went with its postmaster
        _, alive = psutil.wait_procs(family, timeout=20)
        if alive:
            raise RuntimeError(f"processes of PostgreSQL outlive SIGKILL: {alive}")

    def _run(self, *words: str) -> None:
        done = subprocess.run(
            words,
            cwd=self.home,
            env={"PATH": os.environ.get("PATH", ""), "LC_ALL": "C"},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE if "start" not in words else subprocess.DEVNULL,
            stderr=subprocess.STDOUT,
            check=False,
            **self._as,  # type: ignore[call-overload]
        )
        if done.returncode:
            said = (done.stdout or b"").decode(errors="replace")
            log = self.home / "log"
            if log.exists():
                said += "\n".join(log.read_text(encoding="utf-8", errors="replace").splitlines()[-5:])
            shutil.rmtree(self.home)
            raise RuntimeError(f"{words[0]} failed: {said}")

    def url(self, database: str) -> str:
        return f"postgresql://yard@/{database}?host={self.home}"

    def new_database(self, template: str = "template0") -> str:
        """Makes a database and gives its URL."""
        self._names += 1
        name = f"book{self._names}"
        self.sql(f"CREATE DATABASE {name} TEMPLATE {template}")
        return self.url(name)

    def drop(self, url: str) -> None:
        self.sql(f"DROP DATABASE IF EXISTS {database_of(url)} WITH (FORCE)")

    def sql(self, statement: str) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement)

    def stop(self) -> None:
        self._run(self._pg_ctl, "-D", self.data, "-m", "immediate", "-w", "stop")
        shutil.rmtree(self.home)
