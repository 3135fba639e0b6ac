"""Style sheet, scripts and icons, each at an address with its mark, and the manifest for a home
screen."""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Callable
from pathlib import Path

from flask import Flask, Response, abort, make_response, request

_ASSETS = Path(__file__).with_name("assets")
_SHEET = "curewatch.css"
_TYPES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".png": "image/png",
}


def _contents() -> dict[str, bytes]:
    """The assets by name; the style sheet of all pages with those of single pages behind it."""
    chunks = {p.name: p.read_bytes() for p in sorted(_ASSETS.iterdir()) if p.suffix in _TYPES}
    sheets = [raw for name, raw in chunks.items() if name.endswith(".css") and name != _SHEET]
    return {**chunks, _SHEET: b"\n".join([chunks[_SHEET], *sheets])}


def serve_assets(app: Flask) -> Callable[[str], str]:
    """Put the assets on the app; what gives the address of one."""
    chunks = _contents()
    small = {name: gzip.compress(data, 9) for name, data in chunks.items() if name.endswith("s")}
    digests = {name: hashlib.sha256(data).hexdigest()[:12] for name, data in chunks.items()}

    @app.get("/assets/<mark>/<name>")
    def asset(mark: str, name: str) -> Response:
        if name not in digests:
            abort(404)
        answer = Response(chunks[name], mimetype=_TYPES[Path(name).suffix])
        if name in small and "gzip" in request.headers.get("Accept-Encoding", ""):
            answer.set_data(small[name])
            answer.headers["Content-Encoding"] = "gzip"
        answer.headers["Vary"] = "Accept-Encoding"
        lasting = "public, max-age=31536000, immutable"
        answer.headers["Cache-Control"] = lasting if mark == digests[name] else "no-cache"
        return answer

    return lambda name: f"/assets/{digests[name]}/{name}"


def serve_manifest(app: Flask, asset: Callable[[str], str]) -> None:
    """Put the manifest and the icon that browsers ask for on the app."""

    @app.get("/manifest.webmanifest")
    def manifest() -> Response:
        fields = {
            "name": "curewatch",
            "short_name": "curewatch",
            "start_url": "/",
            "display": "standalone",
            "background_color": "#12161a",
            "theme_color": "#12161a",
            "icons": [
                {"src": asset("icon.svg"), "sizes": "any", "type": "image/svg+xml"},
                {"src": asset("icon-192.png"), "sizes": "192x192", "type": "image/png"},
                {"src": asset("icon-512.png"), "sizes": "512x512", "type": "image/png"},
            ],
        }
        answer = make_response(fields)
        answer.headers["Content-Type"] = "application/manifest+json"
        return answer

    @app.get("/favicon.ico")
    def favicon() -> Response:
        return Response((_ASSETS / "icon-192.png").read_bytes(), mimetype="image/png")
