"""Checks each reading by what its sensor and the others gave before. Pure: no clock, no store.

A reading costs the same however long the past is: a sensor's state is a few numbers. All times are
those the readings carry, so that a message that comes twice, or late, is checked by when it was
measured.

Notes
-----
* Stuck: the same to the last digit for two hours and eight readings while another sensor has been
  elsewhere for 90 minutes: 3 K in the garage's air, or 8 K outdoors; for a humidity only another
  humidity counts (10 %), since that of a room may rest while its temperature swings. A thing
  that lags 6 h behind a step of 3 K has gone 0.66 K by then, more than the coarse digit of 0.5 C
  (derived). A third of it is enough in the garage for a sensor that stands still four times as
  long as it ever did on this day and the one before: its own digits and noise are fine then. The
  panel is no witness for places other than the air's, as a lamp warms it alone; what happens in the
  garage is none for outdoors. Constant while all is constant is no fault.
* Disagreement: further apart than both stated errors and what one place holds (1 K, 4 %; common
  practice) for an hour, both reporting within half an hour: longer than a draught or a patch of sun
  lasts. Of two, the one whose check against a reference is older, or missing, is flagged; of two
  equally unknown, neither, and both stay in use. Of three, the one that stands against the others.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import islice

from curewatch.climate.flag import Flag, instant
from curewatch.climate.reading import AHEAD, Quantity, Reading
from curewatch.quality.calibration import is_sensor
from curewatch.quality.single_sensor import (
    FAILED_C,
    LAG_READINGS,
    NEVER,
    ClockTest,
    within_step_limits,
)
from curewatch.quality.state import ReadingContext, SensorState

STUCK_S, STUCK_READINGS, AWAY_S = 7200.0, 8, 5400.0
AWAY_C, AWAY_OUTDOORS_C, AWAY_PCT = 3.0, 8.0, 10.0
FRESH_S, WITNESS_FRESH_S = 1800.0, 3600.0
AHEAD_S = AHEAD.total_seconds()
APART_S, ONE_PLACE_C, ONE_PLACE_PCT = 3600.0, 1.0, 4.0
MOST_ASKED, MOST_WITNESSES, MOST_MEMBERS, MOST_SERIES = 64, 8, 8, 1000
OUTDOORS = "outdoors"
Key = tuple[str, str, str]


class QualityControl:
    """Checks readings one after the other; one that is older than the last changes nothing."""

    def __init__(self) -> None:
        self._states: dict[Key, SensorState] = {}
        self._by_number: dict[int, SensorState] = {}
        self._groups: dict[tuple[str, str], list[SensorState]] = {}
        self._count = 0

    def flag(self, reading: Reading, context: ReadingContext) -> Flag | None:
        """Why this reading [corrected, C or %] is not used; None where it may be."""
        if reading.flag or reading.source == "typed":
            return reading.flag
        key = (reading.source, reading.place, reading.quantity)
        state = self._states.get(key) or self._new(key, reading)
        at_s = reading.at.timestamp()
        if not context.lag_s and _was_ahead(state, at_s):
            # It carries our own time, and ours was ahead before: what came then tells nothing.
            self._forget(key)
            state = self._new(key, reading)
        if at_s <= state.newest_s:
            return _late(state, at_s, context.raw)
        state.newest_s, state.value = at_s, reading.value
        state.error, state.checked_s = context.error, context.checked_s
        own_flag = self._alone(state, at_s, context) or self._stuck(state, at_s)
        state.flagged = own_flag is not None
        flag = own_flag or self._apart(state, at_s)
        state.flagged = flag is not None
        state.recent.append((at_s, context.raw, flag))
        return flag

    def resume(self, reading: Reading, same_since_s: float) -> None:
        """Take up where an earlier run ended: the last reading of a series, whose value is the
        same since then [s]; what was flagged of it is flagged on."""
        state = self._states.get((reading.source, reading.place, reading.quantity))
        if state is None:
            return
        state.persistence_test.from_s = min(same_since_s, state.persistence_test.from_s)
        flag = reading.flag
        if flag and flag.code in ("zone", "clock"):
            state.clock_test = ClockTest(math.nan, NEVER, LAG_READINGS)
        if flag is None or flag.since is None:
            return
        since_s, state.flagged = flag.since.timestamp(), True
        if flag.code == "stuck":
            (
                state.persistence_test.from_s,
                state.persistence_test.count,
                state.persistence_test.away_s,
            ) = since_s, STUCK_READINGS, NEVER
        elif flag.code == "end":
            state.saturation_test.from_s = since_s
        elif flag.code in ("apart", "outvoted"):
            state.apart_s = since_s

    def forget(self, reading: Reading) -> None:
        """Drop what is remembered of a reading's series: its next reading is the first."""
        self._forget((reading.source, reading.place, reading.quantity))

    def _new(self, key: Key, reading: Reading) -> SensorState:
        if len(self._states) >= MOST_SERIES:
            self._forget(next(iter(self._states)))
        self._count += 1
        state = SensorState(self._count, reading.source, reading.place, reading.quantity)
        self._states[key] = self._by_number[state.number] = state
        if is_sensor(reading.source):
            self._groups.setdefault((reading.place, reading.quantity), []).append(state)
        return state

    def _forget(self, key: Key) -> None:
        state = self._states.pop(key, None)
        if state is None:
            return
        del self._by_number[state.number]
        group = self._groups.get((state.place, state.quantity), [])
        if state in group:
            group.remove(state)

    def _alone(self, state: SensorState, at_s: float, context: ReadingContext) -> Flag | None:
        """Why a reading is flagged by its own sensor's past; every rule takes note of it."""
        raw, quantity = context.raw, state.quantity
        if quantity == "surface_temperature" and raw == FAILED_C:
            return Flag("failed")
        state.persistence_test.add(at_s, raw)
        clock = state.clock_test.check(at_s, context.lag_s)
        believed = state.step_test.value

        def seconded() -> bool:
            some = islice(self._witnesses(state), MOST_ASKED)
            return any(_went_along(witness, at_s, believed, raw) for witness in some)

        jump = state.step_test.check(quantity, at_s, raw, seconded)
        end = state.saturation_test.check(state.place, at_s, raw) if state.humid else None
        return jump or clock or end

    def _stuck(self, state: SensorState, at_s: float) -> Flag | None:
        run, raw = state.persistence_test, state.persistence_test.value
        if run.count < 2 or (state.humid and not 2 < raw < 98):
            return None
        if not run.seen and run.away_s != NEVER:
            some = islice(self._witnesses(state), MOST_ASKED)
            fresh = (witness for witness in some if _fresh(witness, at_s))
            run.seen = {witness.number: witness.value for witness in islice(fresh, MOST_WITNESSES)}
        if run.away_s != NEVER:
            away = any(self._is_away(state, number, at_s) for number in run.seen)
            run.away_s = min(run.away_s, at_s) if away else math.inf
        if run.count < STUCK_READINGS or at_s - run.from_s < STUCK_S or at_s - run.away_s < AWAY_S:
            return None
        return Flag("stuck", since=instant(run.from_s), value=raw)

    def _witnesses(self, state: SensorState) -> Iterator[SensorState]:
        for group in self._groups.values():
            yield from (witness for witness in group if _can_witness(witness, state))

    def _is_away(self, state: SensorState, number: int, at_s: float) -> bool:
        witness = self._by_number.get(number)
        if witness is None or not _fresh(witness, at_s):
            return False
        need = AWAY_PCT if witness.humid else AWAY_C
        if witness.place == OUTDOORS and state.place != OUTDOORS:
            need = AWAY_OUTDOORS_C
        elif state.persistence_test.unusual(at_s):
            need /= 3
        return abs(witness.value - state.persistence_test.seen[number]) >= need

    def _apart(self, state: SensorState, at_s: float) -> Flag | None:
        group = self._groups.get((state.place, state.quantity), ())
        if len(group) < 2 or state.flagged:
            return None
        others = [
            other
            for other in group[:MOST_MEMBERS]
            if other is not state and not other.flagged and abs(at_s - other.newest_s) <= FRESH_S
        ]
        against = _against(state, others)
        if against is None:
            state.apart_s = math.inf
            return None
        state.apart_s = min(state.apart_s, at_s)
        if at_s - state.apart_s < APART_S:
            return None
        return _disagrees(state, others, against)


def _went_along(other: SensorState, at_s: float, before: float, now: float) -> bool:
    """Whether another thermometer has lately gone at least half of the same way."""
    if other.humid or abs(at_s - other.newest_s) > FRESH_S:
        return False
    values = [value for when, value, _ in other.recent if abs(at_s - when) <= FRESH_S]
    rose = other.value - (values[0] if values else other.value)
    return rose * (now - before) > 0 and abs(rose) >= abs(now - before) / 2


def _can_witness(other: SensorState, state: SensorState) -> bool:
    """Whether what another sensor gives tells that this one should have moved too."""
    if other is state:
        return False
    if other.place == state.place and other.humid == state.humid:
        return True
    if OUTDOORS in (other.place, state.place):
        return other.quantity == "air_temperature" and other.place == OUTDOORS and not state.humid
    if state.humid or other.humid:
        return state.humid and other.humid
    return "air_temperature" in (other.quantity, state.quantity)


def _was_ahead(state: SensorState, at_s: float) -> bool:
    """Whether a sensor's reading, stamped now and never seen before, lies well before the last."""
    far = is_sensor(state.source) and at_s < state.newest_s - AHEAD_S
    return far and all(at_s != earlier[0] for earlier in state.recent)


def _late(state: SensorState, at_s: float, raw: float) -> Flag | None:
    """A reading that was there already is judged as it was; an older one by its neighbours."""
    if state.quantity == "surface_temperature" and raw == FAILED_C:
        return Flag("failed")
    before = after = None
    for earlier in state.recent:
        if earlier[0] == at_s:
            return earlier[2]
        if not earlier[2]:
            before = earlier if earlier[0] < at_s else before
            after = earlier if after is None and earlier[0] > at_s else after
    if before is None or after is None:
        return None
    if within_step_limits(state.quantity, at_s - before[0], raw - before[1]):
        return None
    return (
        None
        if within_step_limits(state.quantity, after[0] - at_s, raw - after[1])
        else Flag("spike")
    )


def _fresh(other: SensorState, at_s: float) -> bool:
    return not other.flagged and abs(at_s - other.newest_s) <= WITNESS_FRESH_S


def apart_limit(quantity: Quantity, errors: Iterable[float]) -> float:
    """How far two sensors at one place may differ. [C or %]

    Parameters
    ----------
    quantity : Quantity
    errors : iterable of float
        Their stated errors. [C or %]

    Returns
    -------
    float
        The sum of the errors and what one place holds. [C or %]
    """
    return sum(errors) + (ONE_PLACE_PCT if quantity == "relative_humidity" else ONE_PLACE_C)


def _against(state: SensorState, others: list[SensorState]) -> float | None:
    """What the others at this place give, where this sensor alone stands against it. [C or %]"""
    if not others:
        return None
    from statistics import median

    values = [other.value for other in others]
    middle = median(values)
    limit = apart_limit(state.quantity, (state.error, max(other.error for other in others)))
    if abs(state.value - middle) <= limit or max(values) - min(values) > limit:
        return None
    return middle


def _disagrees(state: SensorState, others: list[SensorState], middle: float) -> Flag | None:
    gap, since = round(state.value - middle, 3), instant(state.apart_s)
    if len(others) > 1:
        return Flag("outvoted", since=since, gap=gap, others=len(others))
    other = others[0]
    if state.checked_s >= other.checked_s:
        return None
    return Flag(
        "apart",
        since=since,
        gap=gap,
        source=other.source,
        checked=None if state.checked_s == NEVER else instant(state.checked_s),
        other_checked=instant(other.checked_s),
    )
