"""A step from mixing to its end as it is drawn: what it felt, how old it was, what was seen."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Literal

import numpy as np

from curewatch.climate.conditions import Conditions
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import belief, equivalent_age
from curewatch.cure.prior import steep_part
from curewatch.cure.problem import names_of
from curewatch.cure.thermal_history import (
    FILM_RELAX_MIN,
    first_stage_share,
    past_course,
    relaxed,
    speed_over,
    stalls,
)
from curewatch.frozen import frozen
from curewatch.garage.step import Step
from curewatch.garage.steps import mix_of
from curewatch.logbook import predictions
from curewatch.products.chemistries import CHEMISTRIES
from curewatch.units import minutes
from curewatch.vocabulary import is_not_yet, is_reached

if TYPE_CHECKING:
    from curewatch.bench.bench import Bench
    from curewatch.cure.inputs import Mix
    from curewatch.logbook.predictions import Prediction
    from curewatch.products.sheet import Sheet

MOST_POINTS = 400
MarkKind = Literal["reached", "not yet", "dab"]


@frozen
class CourseMark:
    """A look at a step: a test that found its milestone (`what`) reached or not yet, or the state
    of its dab. after_min: minutes from mixing [min]"""

    kind: MarkKind
    what: str
    after_min: float


@dataclass(frozen=True, eq=False)
class StepCourse:
    """A step from mixing to its end, or until now.

    times_min: from mixing [min]; surface_c: as the model took it [C]; age_min: equivalent age at
    the label's temperature [min], each of shape (n,).
    """

    step: Step
    times_min: FloatArray
    surface_c: FloatArray
    age_min: FloatArray
    marks: tuple[CourseMark, ...]
    predictions: tuple[Prediction, ...]

    def age_at(self, after_min: float) -> float:
        """Its equivalent age some time after mixing, its last one after that. [min]"""
        return float(np.interp(after_min, self.times_min, self.age_min))


def ages(sheet: Sheet, mix: Mix, past: Conditions) -> tuple[FloatArray, FloatArray]:
    """Minutes from mixing and the equivalent age at each: of what must be waited for. [min]"""
    names = names_of(sheet)
    name = next((name for name in names if stalls(name)), names[0])
    learned = belief.learned(sheet)
    history = past_course(mix, past)
    material_c = relaxed(history, history.surface_c, mix.product_c, FILM_RELAX_MIN)
    steep_kj = steep_part(CHEMISTRIES[sheet.chemistry], name) * learned.likely_steep_kj
    share = first_stage_share(sheet, name)
    speed = speed_over(sheet, history, material_c, share, stalling=stalls(name), steep_kj=steep_kj)
    rates = speed(np.array([learned.mean_energy(name)]))[0, 0]
    return history.times_min, equivalent_age.cumulative(history.times_min, rates)


def marks(step: Step) -> Iterator[CourseMark]:
    """What was looked at, in no order."""
    for witness in step.witnesses:
        yield CourseMark("dab", witness.state, step.after_min(witness.at))
    for name, answers in step.answers.items():
        for answer in answers:
            if is_not_yet(answer.result):
                yield CourseMark("not yet", name, step.after_min(answer.at))
            elif is_reached(answer.result) and answer == step.reached.get(name):
                yield CourseMark("reached", name, step.after_min(answer.at))


def course(bench: Bench, step: Step, now: datetime) -> StepCourse:
    """One step as it is drawn. Raises DamagedStep where that cannot be worked out."""
    end = max(step.mixed_at, step.closed_at or now)
    past = bench.reader.conditions_of(step, end)
    with bench.reader.failures.of(step):
        times_min, age_min = ages(step.sheet, mix_of(step), past)
        start_min = minutes(past.start - step.mixed_at)
        felt_min = start_min + np.arange(past.surface_c.size) * past.step_s / 60
        every = np.unique(np.linspace(0, times_min.size - 1, MOST_POINTS).round().astype(int))
        surface_c: FloatArray = np.interp(times_min[every], felt_min, past.surface_c)
        course_marks = tuple(sorted(marks(step), key=lambda mark: mark.after_min))
        predicted = predictions.predicted(bench, step)
    return StepCourse(step, times_min[every], surface_c, age_min[every], course_marks, predicted)
