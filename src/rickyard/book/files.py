"""Files that belong to a book and are too large for its tables: photos, kept by the hash of their bytes.

A file is written once under its own SHA-256 and never changed: what the book says of it can be proven at any time.
It is on the disk before the book speaks of it, so that a failure in between leaves a file too many, not one too few.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from sqlalchemy import URL

from rickyard.book.engine import is_sqlite, shown
from rickyard.errors import BookError
from rickyard.text import T_

ENVIRONMENT = "RICKYARD_FILES"
_HASH = re.compile(r"[0-9a-f]{64}")
# Made from the files and thrown away at will; no part of what is proven.
_MADE = "small"


class FileStore:
    """A folder of files by their SHA-256, as `ab/cdef...`. It is made when the first file is put.

    Unless it is `lasting`, a file that was put may still be on its way to the disk; `settle` waits for all.
    """

    def __init__(self, folder: Path, *, lasting: bool = True) -> None:
        self.folder = folder
        self._lasting = lasting

    def put(self, content: bytes) -> str:
        """Keeps the bytes and gives their hash. What is there already is left as it is.

        Raises BookError if the disk refuses.
        """
        name = hashlib.sha256(content).hexdigest()
        self._write(self.path(name), content)
        return name

    def get(self, sha256: str) -> bytes:
        """The bytes under a hash. Raises BookError (`file_missing`, `file_damaged`)."""
        try:
            content = self.path(sha256).read_bytes()
        except FileNotFoundError as error:
            raise BookError(
                T_(
                    "The file {name} is missing from {folder}. Bring it back from the last backup.",
                    name=sha256,
                    folder=self.folder,
                ),
                code="file_missing",
            ) from error
        except OSError as error:
            raise self._trouble(error) from error
        if hashlib.sha256(content).hexdigest() != sha256:
            raise BookError(
                T_(
                    "The file {name} in {folder} is not what was kept. Bring it back from the last backup.",
                    name=sha256,
                    folder=self.folder,
                ),
                code="file_damaged",
            )
        return content

    def made(self, sha256: str, kind: str, make: Callable[[bytes], bytes]) -> bytes:
        """What is made from a file (a preview, say): made once, then kept until the folder `small` is emptied."""
        path = self.folder / _MADE / kind / sha256[:2] / sha256[2:]
        try:
            return path.read_bytes()
        except FileNotFoundError:
            content = make(self.get(sha256))
            self._write(path, content)
            return content
        except OSError as error:
            raise self._trouble(error) from error

    def drop(self, sha256: str) -> None:
        """Deletes a file and all that was made from it; nothing happens if it is gone already."""
        try:
            self.path(sha256).unlink(missing_ok=True)
            for made in (self.folder / _MADE).glob(f"*/{sha256[:2]}/{sha256[2:]}"):
                made.unlink(missing_ok=True)
        except OSError as error:
            raise self._trouble(error) from error

    def path(self, sha256: str) -> Path:
        if not _HASH.fullmatch(sha256):
            raise ValueError(f"no hash of a file: {sha256!r}")
        return self.folder / sha256[:2] / sha256[2:]

    def all(self) -> Iterator[tuple[str, Path]]:
        """(hash, path) of every file kept; what lies in the folder under other names is left out."""
        for path in sorted(self.folder.glob("??/*")):
            name = path.parent.name + path.name
            if _HASH.fullmatch(name) and path.is_file():
                yield name, path

    def settle(self) -> None:
        """Puts every file and its name on the disk."""
        if not self.folder.exists():
            return
        try:
            for _, path in self.all():
                with path.open("rb") as file:
                    os.fsync(file.fileno())
            for folder in (*(path for path in self.folder.glob("??") if path.is_dir()), self.folder):
                sync_folder(folder)
        except OSError as error:
            raise self._trouble(error) from error

    def _write(self, path: Path, content: bytes) -> None:
        """Whole or not at all, also when the power fails: written aside, synced, then given its name."""
        if path.exists():
            return
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            handle, aside = tempfile.mkstemp(prefix=".new-", dir=path.parent)
            try:
                with os.fdopen(handle, "wb") as file:
                    file.write(content)
                    if self._lasting:
                        file.flush()
                        os.fsync(file.fileno())
                # Two that write the same bytes at once write the same file.
                os.replace(aside, path)
            except BaseException:
                Path(aside).unlink(missing_ok=True)
                raise
            if self._lasting:
                for folder in (path.parent, path.parent.parent):
                    sync_folder(folder)
        except OSError as error:
            raise self._trouble(error) from error

    def _trouble(self, error: OSError) -> BookError:
        return BookError(
            T_(
                "The folder of photos {folder} cannot be used: {reason}. "
                "Check the path, who may write there and the space left.",
                folder=self.folder,
                reason=error.strerror or str(error),
            ),
            code="cannot_keep_file",
        )


def files_of(url: URL, folder: str | Path | None = None, *, lasting: bool = True) -> FileStore | None:
    """Where the files of a book lie: the folder said, or beside the book's file, or where RICKYARD_FILES says.

    None for a book on a server whose folder nobody named.
    """
    if folder is not None:
        return FileStore(Path(folder).absolute(), lasting=lasting)
    if is_sqlite(url):
        return FileStore(Path(shown(url) + ".files"), lasting=lasting)
    named = os.environ.get(ENVIRONMENT, "")
    return FileStore(Path(named).absolute()) if named else None


def no_folder(where: str) -> BookError:
    return BookError(
        T_(
            "The book {where} is on a server and no folder for its photos is named. Name one with --files FOLDER, "
            "or in RICKYARD_FILES, then start again.",
            where=where,
        ),
        code="no_files_folder",
    )


def sync_folder(folder: Path) -> None:
    """A new name is only safe once its folder is on the disk, where the system can do that."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
