"""What was turned away: clients at the broker's door, and messages and readings of no use.

Of a client: why, as a code with what belongs to it, and how often. Words are made of it where it is
shown; nothing reads them back. No password is ever kept.
"""

from __future__ import annotations

from datetime import datetime
from typing import Literal

from curewatch.frozen import frozen

Why = Literal[
    "no_password",
    "wrong_password",
    "must_wait",
    "version",
    "encrypted",
    "own_method",
    "crowded",
    "full",
    "will_topic",
    "no_name",
]
TABLE = """
CREATE TABLE IF NOT EXISTS turned_away (
    why TEXT NOT NULL, address TEXT NOT NULL, client TEXT NOT NULL, user TEXT NOT NULL,
    number INTEGER NOT NULL, count INTEGER NOT NULL, last_ms INTEGER NOT NULL,
    PRIMARY KEY (why, address, client, user, number)) WITHOUT ROWID
"""


@frozen
class Stranger:
    """Who was turned away and why.

    address: empty for many together; client: the name it gave itself; user: whom it wanted to be;
    number: of the MQTT version it speaks ("version"), or of the most connections ("crowded",
    "full").
    """

    why: Why
    address: str
    client: str = ""
    user: str = ""
    number: int = 0


@frozen
class TurnedAway:
    """A client that was turned away, how often, and when last."""

    who: Stranger
    count: int
    last: datetime


@frozen
class Refusal:
    """A message or a reading that was refused: from where, why in words, how often, when last."""

    source: str
    sentence: str
    count: int
    last: datetime
