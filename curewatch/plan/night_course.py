"""How a step got on through the night: what share of its need it had got, instant by instant."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from curewatch.bench.bench import Bench
from curewatch.cure import belief
from curewatch.cure.explanation import likely_age
from curewatch.cure.problem import CureProblem, cure_problem
from curewatch.frozen import frozen
from curewatch.garage.step import Step
from curewatch.garage.steps import mix_of, sightings
from curewatch.plan.morning import Morning, Overnight
from curewatch.plan.night import Progress

POINTS = 49


@frozen
class NightCourse:
    """A step's night: instants, and the share of what it needs for a milestone that it had got by
    then [-]; one is as much as it needs."""

    overnight: Overnight
    progress: Progress
    times: tuple[datetime, ...]
    shares: tuple[float, ...]


def _problem(bench: Bench, step: Step, now: datetime) -> tuple[CureProblem, belief.Learned]:
    reader, sheet = bench.reader, step.sheet
    snapshot = reader.snapshot(step.mixed_at, now)
    learned = belief.learned(sheet, reader.observed_steps(sheet, step.id))
    past = reader.conditions(snapshot.readings, step, now)
    ahead = reader.ahead(snapshot, step.place, sheet.reference.temperature_c)
    problem = cure_problem(sheet, mix_of(step), past, ahead, sightings(step), learned.ea_kj)
    return problem, learned


def night_course(bench: Bench, overnight: Overnight, now: datetime) -> NightCourse | None:
    """The course of a step's night towards what it waits for first; None where none can be told."""
    night = overnight.night
    if not overnight.progress or night.end <= night.start:
        return None
    progress = overnight.progress[0]
    step = bench.step(overnight.step.id)
    problem, learned = _problem(bench, step, now)
    name = progress.milestone
    age_min = likely_age(
        problem,
        problem.group(name),
        learned.mean_energy(name),
        steep_kj=learned.likely_steep_kj,
    )
    length = (night.end - night.start) / (POINTS - 1)
    times = [night.start + number * length for number in range(POINTS)]
    after_min = [(at - step.mixed_at) / timedelta(minutes=1) for at in times]
    ages = np.interp(after_min, problem.history.times_min, age_min)
    shares = tuple(float(age) / progress.needed_min for age in ages)
    return NightCourse(overnight, progress, tuple(times), shares)


def night_courses(bench: Bench, morning: Morning) -> dict[int, NightCourse]:
    """The courses of a morning's steps, by step."""
    courses = [night_course(bench, overnight, morning.now) for overnight in morning.steps]
    return {course.overnight.step.id: course for course in courses if course is not None}
