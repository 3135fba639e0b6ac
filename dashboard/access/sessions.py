"""Who is signed in: random tokens of which only hashes are kept, in the data folder.

They outlive a restart, so that the screen on the garage wall comes back by itself after a power
cut. New secrets end them all.
"""

from __future__ import annotations

import hashlib
import json
import logging
import secrets
import threading
from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from curewatch.errors import StoreError
from curewatch.files.private import write_owned
from curewatch.frozen import frozen

FILE = "sessions.json"
_LOG = logging.getLogger(__name__)
MOST = 100
UNUSED, WHOLE = timedelta(days=30), timedelta(days=180)
_NOTED = timedelta(hours=6)
_DAMAGED = (ValueError, TypeError, AttributeError, LookupError, OverflowError, RecursionError)
_TOKEN_BYTES, _LONGEST = 32, 100


@frozen
class Session:
    """A device that is signed in, as kept: the mark of its secrets, seconds since 1970."""

    mark: str
    begun_s: float
    used_s: float

    def lasts(self, mark: str, now: datetime) -> bool:
        """Whether it still counts."""
        at = now.timestamp()
        used, begun = at - self.used_s, at - self.begun_s
        unused, whole = UNUSED.total_seconds(), WHOLE.total_seconds()
        return self.mark == mark and -whole <= used <= unused and -whole <= begun <= whole


class Sessions:
    """The devices that are signed in at one data folder; `clock` is the wall's."""

    def __init__(self, folder: Path, clock: Callable[[], datetime]) -> None:
        self._path, self._clock = folder / FILE, clock
        self._lock = threading.Lock()
        self._sessions = self._load()

    def begin(self, mark: str) -> str:
        """Sign a device in; the token that its cookie carries."""
        token, now = secrets.token_urlsafe(_TOKEN_BYTES), self._clock()
        with self._lock:
            kept = {
                key: session for key, session in self._sessions.items() if session.lasts(mark, now)
            }
            latest = sorted(kept.items(), key=lambda pair: pair[1].used_s)[-(MOST - 1) :]
            fresh = Session(mark, now.timestamp(), now.timestamp())
            self._sessions = {**dict(latest), _hash(token): fresh}
            self._save()
        return token

    def holds(self, token: str, mark: str) -> bool:
        """Whether this token is one of a signed-in device."""
        now = self._clock()
        with self._lock:
            session = self._sessions.get(_hash(token))
            if session is None or not session.lasts(mark, now):
                return False
            if now - datetime.fromtimestamp(session.used_s, UTC) > _NOTED:
                self._sessions[_hash(token)] = replace(session, used_s=now.timestamp())
                self._save()
            return True

    def end(self, token: str) -> None:
        """Sign a device out."""
        with self._lock:
            if self._sessions.pop(_hash(token), None) is not None:
                self._save()

    def _save(self) -> None:
        """Keep them; with a full disk they last until the end of the process."""
        stored = {key: asdict(session) for key, session in self._sessions.items()}
        try:
            write_owned(self._path, json.dumps(stored, indent=1))
        except StoreError as error:
            _LOG.warning("%s", error)

    def _load(self) -> dict[str, Session]:
        """What is kept; nothing, and so nobody signed in, where the file cannot be read."""
        try:
            stored = json.loads(self._path.read_text(encoding="utf-8"))
            return {
                str(key): Session(
                    str(fields["mark"]), float(fields["begun_s"]), float(fields["used_s"])
                )
                for key, fields in stored.items()
            }
        except (OSError, *_DAMAGED):
            return {}


def _hash(token: str) -> str:
    """Of 32 random bytes a plain hash tells nothing, and is looked up without comparing."""
    return hashlib.sha256(token[:_LONGEST].encode(errors="replace")).hexdigest()
