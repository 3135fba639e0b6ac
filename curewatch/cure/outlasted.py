"""What a test refutes: a milestone not reached after the latest time that the model gives it.

The belief ends at about two and a half times the label (`grid.X_REACH`). Where a test on the work
finds a milestone not reached later than that, no bound of it holds, nor of what comes after it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from curewatch.cure.inputs import Sighting
from curewatch.cure.problem import Times
from curewatch.cure.thermal_history import stalls
from curewatch.vocabulary import ORDERED, is_reached

WHY = (
    "no time can be given: a test found this, or what comes before it, not reached after its "
    "latest time. It may never cure: check the hardener, the mixing and the temperature"
)


def outlasted(sightings: Sequence[Sighting], found: Mapping[str, Times]) -> frozenset[str]:
    """The milestones without a bound that holds: found not reached by the last test of them, later
    than their latest time, and those that come after them."""
    tests: dict[str, tuple[bool, float]] = {}
    for each in sorted(sightings, key=lambda each: each.after_min):
        answer, _, name = each.state.partition(":")
        if name in found and stalls(name):
            tests[name] = (is_reached(answer), each.after_min)
    gone = {
        name
        for name, (reached, after_min) in tests.items()
        if not reached and (late_min := found[name][2]) is not None and late_min < after_min
    }
    follow = {after for before, after, _ in ORDERED if before in gone and stalls(after)}
    return frozenset(gone | (follow & found.keys()))
