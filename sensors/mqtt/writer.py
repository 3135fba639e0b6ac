"""The writer: a message is acknowledged only after its readings are committed.

Whoever receives messages puts them into a bounded queue, in which senders take turns; one thread
takes up to 200 of them, or what comes within 100 ms, stores them in one transaction and then
acknowledges each. While the store refuses, nothing is acknowledged and the same batch is tried
again. What is refused is counted in memory, and costs no transaction of its own.
"""

from __future__ import annotations

import contextlib
import logging
import sqlite3
import threading
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import partial
from itertools import count
from time import monotonic

from curewatch.backoff import delay_s
from curewatch.climate.flag import WAITED
from curewatch.climate.reading import USUAL_PLACES, Reading
from curewatch.errors import ReadingError, StoreError
from curewatch.quality.intake import Intake
from curewatch.quality.places import heard_places
from curewatch.quality.tally import Tally
from curewatch.settings.settings import FILE, Mapping, Settings, load_settings
from curewatch.store.store import Store
from sensors.mqtt.fair_queue import FairQueue
from sensors.payloads.decode import PREFIX, attempt

BATCH, BATCH_BYTES, BATCH_S = 200, 65_536, 0.1
WAITING, WAITING_BYTES = 100, 65_536
PAUSE_S, STOP_S = 0.002, 10.0
RETRY_S = (0.1, 5.0)
_LOG = logging.getLogger(__name__)
_RETAINED = "the broker retained this message, and it carries no time of measurement"


@dataclass(frozen=True, slots=True)
class Message:
    """A message, when it arrived, and what to call when it is stored.

    late: it may have waited somewhere; fresh: its sender has only just connected; sender: whose
    turn it takes.
    """

    topic: str
    payload: bytes
    arrived: datetime
    stored: Callable[[], None]
    retained: bool = False
    late: bool = False
    fresh: bool = False
    sender: Hashable = None


class Writer:
    """Stores what is put into it, by the settings and by curewatch.toml as it changes."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self._store, self._folder = store, settings.folder
        self._intake = Intake(store, settings.places)
        self.mappings, self._places = settings.mappings, settings.places
        self.buttons = bool(settings.buttons)
        self.on_change: Callable[[], None] = _nothing
        self._written, self.unfollowed = self._file_mark(), ""
        self._queue: FairQueue[Message] = FairQueue(WAITING, WAITING_BYTES)
        self.tally = Tally(store)
        self._stopping, self._waiting, self._trouble = threading.Event(), 0, ""
        self._thread = threading.Thread(target=self._write, name="readings", daemon=True)

    @property
    def filters(self) -> list[str]:
        """The topics whose messages hold readings, as MQTT filters."""
        return filters(self.mappings)

    def state(self, link: str) -> str:
        """The state of receiving and storing, in words; `link` is that of receiving."""
        if self.unfollowed:
            return f"{link}; the new settings are not used: {self.unfollowed}"
        if not self._trouble or self._stopping.is_set():
            return link
        waiting = "1 message waits" if self._waiting == 1 else f"{self._waiting} messages wait"
        return f"{link}, but {waiting} to be stored: {self._trouble}"

    def start(self) -> None:
        """Store from now on."""
        self.tally.start()
        self._thread.start()

    def stop(self) -> None:
        """Store and acknowledge what has come."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(STOP_S)
        self.tally.stop()

    @property
    def stopping(self) -> bool:
        """Whether nothing more is taken."""
        return self._stopping.is_set()

    def last_heard(self) -> dict[str, datetime]:
        """The newest reading of each topic in the store."""
        instants: dict[str, datetime] = {}
        with contextlib.suppress(StoreError):
            for reading in self._store.latest():
                instants[reading.source] = max(reading.at, instants.get(reading.source, reading.at))
        return instants

    def put(self, message: Message) -> None:
        """Queue a message; while its sender has as many waiting as it may, it has to wait."""
        while not self._stopping.is_set():
            if self.offer(message, 0.2):
                return

    def offer(self, message: Message, wait_s: float = 0.0) -> bool:
        """Queue a message; False where there was no room for it within `wait_s`. [s]"""
        return self._queue.put(message.sender, message, len(message.payload), wait_s)

    def _file_mark(self) -> tuple[int, int]:
        try:
            stat_result = (self._folder / FILE).stat()
        except OSError:
            return (0, 0)
        return (stat_result.st_mtime_ns, stat_result.st_size)

    def _follow_file(self) -> None:
        """Take the mappings of a changed curewatch.toml; a wrong one changes nothing."""
        mark = self._file_mark()
        if mark == self._written:
            return
        self._written, self.unfollowed = mark, ""
        try:
            settings = load_settings(self._folder)
        except Exception as error:
            self.unfollowed = str(error)
            return
        self.mappings, self._places = settings.mappings, settings.places
        self._intake.places = settings.places
        self.buttons = bool(settings.buttons)
        self.on_change()

    def _write(self) -> None:
        while True:
            self._follow_file()
            batch = self._collect()
            if not batch and self._stopping.is_set():
                return
            if batch and not self._store_until_done(batch):
                return

    def _collect(self) -> list[Message]:
        """Up to BATCH messages, or BATCH_BYTES: what comes without a pause, within BATCH_S of the
        first."""
        batch: list[Message] = []
        wait, deadline, room_bytes = 0.2, monotonic() + BATCH_S, BATCH_BYTES
        while len(batch) < BATCH and room_bytes > 0 and (not batch or monotonic() < deadline):
            message = self._queue.get(wait)
            if message is None:
                break
            batch.append(message)
            room_bytes -= len(message.payload)
            wait = PAUSE_S
        return batch

    def _store_until_done(self, batch: list[Message]) -> bool:
        """Store a batch, trying until the store takes it; False when stopped meanwhile."""
        for failures in count(1):
            try:
                self._store_surely(batch)
            except (OSError, sqlite3.Error) as error:
                self._waiting = len(batch) + len(self._queue)
                self._trouble = str(error)
                if self._stopping.wait(delay_s(failures, *RETRY_S)):
                    return False
            else:
                break
        self._trouble = ""
        _acknowledge(batch)
        return True

    def _store_surely(self, batch: list[Message]) -> None:
        """Store a batch; a message that makes this fail is refused, and the others are stored.

        Raises what the disk says, and nothing else.
        """
        try:
            self._store_once(batch)
        except (OSError, sqlite3.Error):
            raise
        except Exception as error:
            if len(batch) > 1:
                for message in without_backlog(batch):
                    self._store_surely([message])
                return
            message = batch[0]
            _LOG.exception("a message on %s could not be stored", message.topic)
            why = f"curewatch failed on this message ({type(error).__name__}: {error})"
            self.tally.refuse(message.arrived, message.topic, why)

    def _store_once(self, batch: list[Message]) -> None:
        readings: list[Reading] = []
        lags_s: list[float] = []
        refused: list[tuple[Message, str]] = []
        known_places = heard_places(self._store, self._places, self.mappings)
        for message in without_backlog(batch):
            good, bad = self._decode(message)
            usable = [reading for reading in good if reading.place in known_places]
            readings += usable
            lags_s += [(message.arrived - reading.at).total_seconds() for reading in usable]
            bad += [
                unknown_place(reading.place)
                for reading in good
                if reading.place not in known_places
            ]
            refused += [(message, str(error)) for error in bad]
        if readings:
            self._intake.take(readings, lags_s)
        for message, sentence in refused:
            self.tally.refuse(message.arrived, message.topic, sentence)

    def _decode(self, message: Message) -> tuple[list[Reading], list[ReadingError]]:
        read = partial(attempt, message.topic, message.payload, mappings=self.mappings)
        good, bad = read(message.arrived)
        if message.retained or message.late:
            later, _ = read(message.arrived + timedelta(seconds=1))
            timeless = set(good) - set(later)
            if message.retained and timeless:
                good = [reading for reading in good if reading not in timeless]
                bad.append(ReadingError(_RETAINED, fix="publish it without retain, or with a time"))
            good = [
                replace(reading, flag=WAITED) if reading in timeless else reading
                for reading in good
            ]
        return good, bad


def _acknowledge(batch: Sequence[Message]) -> None:
    for message in batch:
        try:
            message.stored()
        except Exception:
            _LOG.exception("a message on %s could not be acknowledged", message.topic)


def without_backlog(batch: Sequence[Message]) -> list[Message]:
    """The batch, where of several messages on one topic from a sender that has only just connected
    only the last counts as new: the others waited in the sender."""
    last = {message.topic: at for at, message in enumerate(batch)}
    return [
        replace(message, late=True) if message.fresh and last[message.topic] != at else message
        for at, message in enumerate(batch)
    ]


def _nothing() -> None:
    """What happens at a change that nobody follows."""


def unknown_place(place: str) -> ReadingError:
    """Why a reading of a place nobody named is refused."""
    return ReadingError(
        f"{place!r} is not one of your places",
        fix=f"add [places.{place}] to curewatch.toml, mix a step there, or publish to one of "
        f"{', '.join(USUAL_PLACES)}",
    )


def filters(mappings: Sequence[Mapping]) -> list[str]:
    """The topics whose messages hold readings: our own and those mapped."""
    return sorted({f"{PREFIX}/+/+", *(mapping.topic for mapping in mappings)})
