"""The subscriber's name at the broker and what it has asked for there, kept in the data folder."""

from __future__ import annotations

import json
import secrets
from pathlib import Path
from typing import Any

from curewatch.errors import StoreError
from curewatch.files.private import write_whole

SESSION = "mqtt-session.json"


def load_session(path: Path) -> dict[str, Any]:
    """The client's fixed name and what it has subscribed to."""
    try:
        stored = json.loads(path.read_text(encoding="utf-8"))
        return {
            "client": str(stored["client"]),
            "filters": [str(text) for text in stored["filters"]],
        }
    except (FileNotFoundError, ValueError, KeyError, TypeError):
        session = {"client": f"curewatch-{secrets.token_hex(6)}", "filters": []}
        save_session(path, session)
        return session
    except OSError as error:
        raise _unusable(path, error) from None


def save_session(path: Path, session: dict[str, Any]) -> None:
    """Write the session whole or not at all, for its owner alone."""
    try:
        write_whole(path, json.dumps(session).encode())
    except OSError as error:
        raise _unusable(path, error) from None


def _unusable(path: Path, error: OSError) -> StoreError:
    return StoreError(
        f"cannot be used ({error.strerror})", where=str(path), fix="check the folder's permissions"
    )
