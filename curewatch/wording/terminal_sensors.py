"""Sensors and their readings as lines of text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.frozen import frozen
from curewatch.units import minutes
from curewatch.wording import sensor_words, words

if TYPE_CHECKING:
    from curewatch.climate.reading import Reading
    from curewatch.quality.calibration import SensorCheck
    from curewatch.quality.overview import Sensor, Sensors
    from curewatch.quality.slips import Slip
    from curewatch.store.turned_away import Refusal, TurnedAway
    from curewatch.wording.words import ReaderFormat


@frozen
class SensorLines:
    """Says what sensors give in this reader's manner."""

    manner: ReaderFormat

    def _sensor(self, sensor: Sensor, now: datetime) -> Iterator[str]:
        last = sensor.last
        name = f"{last.place} {words.QUANTITY[last.quantity]}"
        value = words.value(self.manner, last.quantity, last.value)
        age = words.ago(minutes(now - last.at))
        yield f"{name:28} {value:10} {age}{' (old)' if sensor.old else ''}  from {last.source}"
        if last.flag:
            used = sensor.usable and words.ago(minutes(now - sensor.usable.at))
            yield f"    flagged: {sensor_words.flag(last.flag, last.quantity, self.manner, now)}"
            yield f"    not used; last used {used}" if used else "    not used"
        if sensor.check:
            yield f"    {self.check(sensor.check)}"
        if sensor.move:
            yield f"    {sensor_words.move(sensor.move, self.manner, now)}"

    def typed(self, reading: Reading, now: datetime) -> str:
        """A typed reading, and whether it was replaced or taken back."""
        text = sensor_words.typed(reading, self.manner, now)
        if reading.flag is None:
            return text
        return f"{text}: {sensor_words.flag(reading.flag, reading.quantity, self.manner, now)}"

    def slip(self, slip: Slip, now: datetime) -> tuple[str, str]:
        """Why a typed value is refused, and what to do."""
        meant = sensor_words.meant(slip, self.manner)
        unit = f"if you meant {meant}, enter '{slip.meant}'; " if meant else ""
        text = sensor_words.slip(slip, self.manner, now)
        return text, f"{unit}if it is right, add --yes"

    def check(self, check: SensorCheck) -> str:
        """What a check made of a sensor."""
        return sensor_words.check(check, self.manner)

    def sensors(
        self,
        sensors: Sensors,
        refused: Sequence[Refusal],
        away: Sequence[TurnedAway],
        now: datetime,
    ) -> str:
        """What is heard with its age, flags and checks, and what and who was turned away."""
        none = f"{words.EMPTY['air']} To find one: curewatch sensor listen"
        lines = [] if sensors.all else [none]
        for sensor in sensors.all:
            lines += self._sensor(sensor, now)
        lines += [f"! {sensor_words.split(split, self.manner)}" for split in sensors.splits]
        lines += [f"! {sensor_words.ahead(ahead, self.manner, now)}" for ahead in sensors.ahead]
        if sensors.ahead:
            lines.append("  Set them aside for good: curewatch sensor set-aside")
        if refused:
            lines.append(f"Rejected messages: {sum(refusal.count for refusal in refused)}")
        lines += [
            f"  {refusal.count} x {refusal.source}: {refusal.sentence}" for refusal in refused
        ]
        if away:
            lines.append(f"Could not connect: {sum(turned_away.count for turned_away in away)}")
        lines += [
            f"  {turned_away.count} x {sensor_words.stranger(turned_away.who)}, last "
            f"{self.manner.moment(turned_away.last, now)}: "
            f"{sensor_words.not_let_in(turned_away.who)}"
            for turned_away in away
        ]
        return "\n".join(lines)
