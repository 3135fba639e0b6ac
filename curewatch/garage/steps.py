"""The steps of the logbook that were asked for, each read from its events; and what the model takes
of one.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from curewatch.cure.inputs import Mix, Sighting, turned_between
from curewatch.garage.step import Step, WitnessView, folded
from curewatch.store.search import StepQuery
from curewatch.vocabulary import is_not_yet

if TYPE_CHECKING:
    from curewatch.store.store import Store

TOGETHER = 32


def steps(
    store: Store,
    *,
    query: StepQuery | None = None,
    job: str | None = None,
    most: int | None = None,
    before: int | None = None,
) -> list[Step]:
    """The steps sought, the latest first: of one job, at most so many, under a number."""
    numbers = store.find(query or StepQuery(job=job), most=most, before=before)
    events = store.events(numbers)
    return folded(events[number] for number in numbers)


def looked_at(store: Store, sheet: str) -> Iterator[Step]:
    """The steps of a product on which a witness or a test stands, the latest first.

    Whether one stands, only the step itself says: the store lists also those undone since.
    """
    numbers = store.looked_at(sheet)
    for first in range(0, len(numbers), TOGETHER):
        events = store.events(numbers[first : first + TOGETHER])
        yield from (step for step in folded(events.values()) if sightings(step))


def mix_of(step: Step) -> Mix:
    """What the model needs to know of a mix."""
    return Mix(step.mixed_at, step.amount_g, step.hardener_pct, step.film_um, step.product_c)


def _witnessed(step: Step, witness: WitnessView) -> Sighting:
    after_min, ago_min = step.after_min(witness.at), witness.turned_min
    turned = None if ago_min is None else turned_between(after_min, ago_min)
    return Sighting(witness.id, after_min, witness.state, witness.sample, turned)


def sightings(step: Step) -> tuple[Sighting, ...]:
    """Witnesses and tests on the work as the belief takes them; after_min [min].

    Of the tests that found a milestone reached, only the one that stands.
    """
    witnessed = [_witnessed(step, witness) for witness in step.witnesses]
    tested = [
        Sighting(-1 - index, step.after_min(answer.at), f"{answer.result}:{name}", "work")
        for name, answers in step.answers.items()
        for index, answer in enumerate(answers)
        if name != "recoat_closes"
        and name in step.sheet.reference.minutes
        and (is_not_yet(answer.result) or answer == step.reached.get(name))
    ]
    return tuple(sorted((*witnessed, *tested), key=lambda sighting: sighting.after_min))
