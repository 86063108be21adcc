"""Files served as they are: style sheet, scripts, fonts.

Their address holds a hash of all of them, so that a browser may keep them for a year and still never shows
a page with yesterday's style. One hash for the whole tree lets the style sheet name its fonts relatively.
"""

from __future__ import annotations

import hashlib
import mimetypes
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.responses import FileResponse, Response

ROOT = Path(__file__).parent / "static"
# Some systems' tables lack these, or call scripts text/plain.
_TYPES = {".js": "text/javascript", ".css": "text/css", ".woff2": "font/woff2", ".svg": "image/svg+xml"}


def tree_hash(root: Path = ROOT) -> str:
    """Twelve hex digits that change when any file does."""
    digest = hashlib.sha256()
    for path in sorted(item for item in root.rglob("*") if item.is_file()):
        digest.update(path.relative_to(root).as_posix().encode())
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()[:12]


class Assets:
    """The static files under one hash, found out when the application starts."""

    def __init__(self) -> None:
        self.version = tree_hash()
        self._known = {path.relative_to(ROOT).as_posix(): path for path in ROOT.rglob("*") if path.is_file()}

    def url(self, name: str) -> str:
        """The address of a file; KeyError if there is none, which is a slip in a template."""
        if name not in self._known:
            raise KeyError(name)
        return f"/static/{self.version}/{name}"

    def serve(self, version: str, name: str) -> Response:
        """The file; kept by the browser for a year under its hash, not at all under an old one."""
        path = self._known.get(name)
        if path is None:
            raise HTTPException(404)
        kind = _TYPES.get(path.suffix) or mimetypes.guess_type(path.name)[0] or "application/octet-stream"
        lasting = "public, max-age=31536000, immutable" if version == self.version else "no-cache"
        return FileResponse(path, media_type=kind, headers={"Cache-Control": lasting})
