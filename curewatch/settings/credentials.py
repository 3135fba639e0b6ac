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
from dataclasses import asdict, field
from pathlib import Path
from typing import Any

from curewatch.errors import StoreError
from curewatch.files.private import write_owned
from curewatch.frozen import frozen

FILE = "door.json"
USER = "garage"
LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"
PASSCODE_GROUPS, GROUP, PASSWORD_LENGTH = 3, 4, 20
_COST, _BLOCK, _LANES = 2**14, 8, 1
_MOST_MEMORY = 2**26
_LONGEST = 200
_RENEW = "make a new one with: curewatch access renew"


@frozen
class HashedSecret:
    """A secret's scrypt hash with its salt and parameters, in base 64 and dimensionless."""

    salt: str
    digest: str
    cost: int = _COST
    block: int = _BLOCK
    lanes: int = _LANES

    def matches(self, text: str) -> bool:
        """Whether this is the hash of `text`; takes the same time for any wrong one."""
        digest = _scrypt(text[:_LONGEST], _bytes(self.salt), self.cost, self.block, self.lanes)
        return hmac.compare_digest(digest, _bytes(self.digest))


@frozen
class NewSecrets:
    """Fresh secrets, to be shown once."""

    passcode: str = field(repr=False)
    broker_user: str
    broker_password: str = field(repr=False)


@frozen
class Credentials:
    """What is kept of the secrets; `mark` changes when they are renewed."""

    mark: str
    passcode: HashedSecret
    user: str
    password: HashedSecret

    def passcode_is(self, text: str) -> bool:
        """Whether `text` is the page's passcode; case, blanks and dashes do not matter."""
        return self.passcode.matches(_plain(text))

    def user_is(self, user: str, password: str) -> bool:
        """Whether these let a sensor in at the broker."""
        right_user = hmac.compare_digest(user.encode(errors="replace"), self.user.encode())
        return self.password.matches(password) and right_user


def _plain(passcode: str) -> str:
    return "".join(letter for letter in passcode[:_LONGEST].lower() if letter.isalnum())


def _bytes(text: str) -> bytes:
    return base64.b64decode(text, validate=True)


def _scrypt(text: str, salt: bytes, cost: int, block: int, lanes: int) -> bytes:
    secret = text.encode(errors="replace")
    return hashlib.scrypt(secret, salt=salt, n=cost, r=block, p=lanes, maxmem=_MOST_MEMORY)


def hashed(text: str, salt: bytes) -> HashedSecret:
    """The hash of a secret under a salt."""
    digest = _scrypt(text, salt, _COST, _BLOCK, _LANES)
    return HashedSecret(base64.b64encode(salt).decode(), base64.b64encode(digest).decode())


def make_credentials(
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
    secrets_made = NewSecrets(passcode, USER, some(PASSWORD_LENGTH))
    credentials = Credentials(
        mark=salt(12).hex(),
        passcode=hashed(_plain(secrets_made.passcode), salt(16)),
        user=secrets_made.broker_user,
        password=hashed(secrets_made.broker_password, salt(16)),
    )
    write_owned(folder / FILE, json.dumps(asdict(credentials), indent=1))
    return secrets_made


def load_credentials(folder: Path) -> Credentials | None:
    """The secrets of a data folder, or None where there are none. Raises StoreError."""
    path = folder / FILE
    try:
        stored = json.loads(path.read_text(encoding="utf-8"))
        return Credentials(
            mark=str(stored["mark"]),
            passcode=_hash_of(stored["passcode"]),
            user=str(stored["user"]),
            password=_hash_of(stored["password"]),
        )
    except FileNotFoundError:
        return None
    except OSError as error:
        raise StoreError(
            f"cannot be read ({error.strerror})", where=str(path), fix="check its permissions"
        ) from None
    except (ValueError, KeyError, TypeError, RecursionError):
        raise StoreError("the file is damaged", where=str(path), fix=_RENEW) from None


def _hash_of(stored: Any) -> HashedSecret:
    """A hash as kept, of no other cost than ours: a changed file must not exhaust the memory."""
    secret = HashedSecret(**stored)
    if (secret.cost, secret.block, secret.lanes) != (_COST, _BLOCK, _LANES):
        raise ValueError(secret.cost)
    if not _bytes(secret.salt) or len(_bytes(secret.digest)) != 64:
        raise ValueError(secret.salt)
    return secret


class LiveCredentials:
    """The secrets of a folder as their file stands now, read again only when it changed."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._lock = folder, threading.Lock()
        self._seen: tuple[int, int] | None = None
        self._credentials: Credentials | None = None

    def now(self) -> Credentials | None:
        """The secrets, or None while there are none. Raises StoreError."""
        with self._lock:
            stamp = self._stamp()
            if stamp != self._seen:
                self._credentials = load_credentials(self._folder) if stamp else None
                self._seen = stamp
            return self._credentials

    def _stamp(self) -> tuple[int, int] | None:
        try:
            status = (self._folder / FILE).stat()
        except OSError:
            return None
        return status.st_mtime_ns, status.st_ino
