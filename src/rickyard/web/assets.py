"""Files served as they are: style sheet, scripts, fonts.

Their address holds a hash of all of them, so that a browser may keep them for a year and still never shows
a page with yesterday's style. One hash for the whole tree lets the style sheet name its fonts relatively.

Tables that scripts read are made from the packages' own when the application starts and served like files.

Our scripts are written with their types and reasons in comments; a phone on a thin signal is sent them without.
"""

from __future__ import annotations

import hashlib
import mimetypes
from functools import cache
from pathlib import Path

import rjsmin
from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, Response

from rickyard.identify import packed

ROOT = Path(__file__).parent / "static"
# Some systems' tables lack these, or call scripts text/plain.
_TYPES = {
    ".js": "text/javascript",
    ".css": "text/css",
    ".woff2": "font/woff2",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
    ".json": "application/json",
}


def tree_hash(root: Path = ROOT) -> str:
    """Twelve hex digits that change when any file does."""
    digest = hashlib.sha256()
    for path in sorted(item for item in root.rglob("*") if item.is_file()):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()[:12]


@cache
def served(path: Path) -> str:
    """A script of ours without its comments and indents."""
    return str(rjsmin.jsmin(path.read_text(encoding="utf-8")))


def made_files() -> dict[str, bytes]:
    """Files that lie in no folder: the tree key's tables for its script."""
    return {"tables/identify.json": packed()}


class Assets:
    """The static files under one hash, found out when the application starts."""

    def __init__(self, root: Path = ROOT) -> None:
        self._made = made_files()
        digest = hashlib.sha256(tree_hash(root).encode())
        for name, content in sorted(self._made.items()):
            digest.update(name.encode() + hashlib.sha256(content).digest())
        self.version = digest.hexdigest()[:12]
        self._known = {path.relative_to(root).as_posix(): path for path in root.rglob("*") if path.is_file()}

    def url(self, name: str) -> str:
        """The address of a file; KeyError if there is none, which is a slip in a template."""
        if name not in self._known and name not in self._made:
            raise KeyError(name)
        return f"/static/{self.version}/{name}"

    def urls(self) -> list[str]:
        """The addresses of all files that pages use (licences and manifests of vendored files are not)."""
        used = (".js", ".css", ".woff2", ".svg", ".png")
        files = [name for name in sorted(self._known) if name.endswith(used)]
        return [self.url(name) for name in (*files, *self._made)]

    def serve(self, version: str, name: str) -> Response:
        """The file; kept by the browser for a year under its hash, not at all under an old one."""
        path = self._known.get(name)
        if path is None and name not in self._made:
            raise HTTPException(404)
        suffix = Path(name).suffix
        kind = _TYPES.get(suffix) or mimetypes.guess_type(name)[0] or "application/octet-stream"
        lasting = "public, max-age=31536000, immutable" if version == self.version else "no-cache"
        headers = {"Cache-Control": lasting}
        if path is None:
            return Response(self._made[name], media_type=kind, headers=headers)
        if name.startswith("js/"):
            return Response(served(path), media_type=kind, headers=headers)
        return FileResponse(path, media_type=kind, headers=headers)
