"""Who may come in from the home network: a passcode for the page, a user for the broker.

Both secrets are random and shown once; only their scrypt hashes are kept, in the data folder.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import secrets
import threading
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from curewatch.errors import StoreError
from curewatch.files.private import write_owned

FILE = "door.json"
USER = "garage"
LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"
PASSCODE_GROUPS, GROUP, PASSWORD_LENGTH = 3, 4, 20
_COST, _BLOCK, _LANES = 2**14, 8, 1
_MOST_MEMORY = 2**26
_LONGEST = 200
_RENEW = "make a new one with: curewatch access renew"


@dataclass(frozen=True)
class Hashed:
    """A secret's scrypt hash with its salt and parameters, in base 64 and dimensionless."""

    salt: str
    digest: str
    cost: int = _COST
    block: int = _BLOCK
    lanes: int = _LANES

    def matches(self, text: str) -> bool:
        """Whether this is the hash of `text`; takes the same time for any wrong one."""
        found = _scrypt(text[:_LONGEST], _bytes(self.salt), self.cost, self.block, self.lanes)
        return hmac.compare_digest(found, _bytes(self.digest))


@dataclass(frozen=True)
class NewSecrets:
    """The secrets of a fresh door, to be shown once."""

    passcode: str = field(repr=False)
    broker_user: str
    broker_password: str = field(repr=False)


@dataclass(frozen=True)
class Door:
    """What is kept of the secrets; `mark` changes when they are renewed."""

    mark: str
    passcode: Hashed
    user: str
    password: Hashed

    def passcode_is(self, text: str) -> bool:
        """Whether `text` is the page's passcode; case, blanks and dashes do not matter."""
        return self.passcode.matches(_plain(text))

    def user_is(self, user: str, password: str) -> bool:
        """Whether these let a sensor in at the broker."""
        known = hmac.compare_digest(user.encode(errors="replace"), self.user.encode())
        return self.password.matches(password) and known


def _plain(passcode: str) -> str:
    return "".join(letter for letter in passcode[:_LONGEST].lower() if letter.isalnum())


def _bytes(text: str) -> bytes:
    return base64.b64decode(text, validate=True)


def _scrypt(text: str, salt: bytes, cost: int, block: int, lanes: int) -> bytes:
    secret = text.encode(errors="replace")
    return hashlib.scrypt(secret, salt=salt, n=cost, r=block, p=lanes, maxmem=_MOST_MEMORY)


def hashed(text: str, salt: bytes) -> Hashed:
    """The hash of a secret under a salt."""
    digest = _scrypt(text, salt, _COST, _BLOCK, _LANES)
    return Hashed(base64.b64encode(salt).decode(), base64.b64encode(digest).decode())


def make_door(
    folder: Path,
    choose: Callable[[str], str] = secrets.choice,
    salt: Callable[[int], bytes] = secrets.token_bytes,
) -> NewSecrets:
    """Make new secrets and keep their hashes in the folder, in the place of any there were.

    The passcode has 12 letters out of 31, 59 bits; the password 20, 99 bits. Raises StoreError.
    """

    def some(count: int) -> str:
        return "".join(choose(LETTERS) for _ in range(count))

    passcode = "-".join(some(GROUP) for _ in range(PASSCODE_GROUPS))
    shown = NewSecrets(passcode, USER, some(PASSWORD_LENGTH))
    kept = Door(
        mark=salt(12).hex(),
        passcode=hashed(_plain(shown.passcode), salt(16)),
        user=shown.broker_user,
        password=hashed(shown.broker_password, salt(16)),
    )
    write_owned(folder / FILE, json.dumps(asdict(kept), indent=1))
    return shown


def load_door(folder: Path) -> Door | None:
    """The door of a data folder, or None where there is none. Raises StoreError."""
    path = folder / FILE
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
        return Door(
            mark=str(held["mark"]),
            passcode=_hash_of(held["passcode"]),
            user=str(held["user"]),
            password=_hash_of(held["password"]),
        )
    except FileNotFoundError:
        return None
    except OSError as error:
        raise StoreError(
            f"cannot be read ({error.strerror})", where=str(path), fix="check its permissions"
        ) from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise StoreError("the file is damaged", where=str(path), fix=_RENEW) from None


def _hash_of(held: Any) -> Hashed:
    """A hash as kept, of no other cost than ours: a changed file must not exhaust the memory."""
    found = Hashed(**held)
    if (found.cost, found.block, found.lanes) != (_COST, _BLOCK, _LANES):
        raise ValueError(found.cost)
    if not _bytes(found.salt) or len(_bytes(found.digest)) != 64:
        raise ValueError(found.salt)
    return found


class LiveDoor:
    """The door of a folder as its file stands now, read again only when it changed."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._lock = folder, threading.Lock()
        self._seen: tuple[int, int] | None = None
        self._door: Door | None = None

    def now(self) -> Door | None:
        """The door, or None while there is none. Raises StoreError."""
        with self._lock:
            seen = self._stamp()
            if seen != self._seen:
                self._door = load_door(self._folder) if seen else None
                self._seen = seen
            return self._door

    def _stamp(self) -> tuple[int, int] | None:
        try:
            found = (self._folder / FILE).stat()
        except OSError:
            return None
        return found.st_mtime_ns, found.st_ino
