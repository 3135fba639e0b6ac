"""The way of one step from mixing through now to the end of the outlook, on three paths."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from curewatch.climate.conditions import LARGEST_SD_PCT, WALK_PCT, Conditions
from curewatch.climate.outlook import P90, Outlook
from curewatch.climate.psychrometrics import FloatArray
from curewatch.cure import equivalent_age, kinetics
from curewatch.cure.inputs import Mix
from curewatch.products.chemistries import (
    CHEMISTRIES,
    SILENT_HUMIDITY_PCT,
    SILENT_MINIMUM_C,
    Chemistry,
)
from curewatch.vocabulary import EARLY_SHOWN

if TYPE_CHECKING:
    from curewatch.products.sheet import Sheet

PATH_WEIGHTS = np.array([0.185, 0.63, 0.185])
SIGNS = np.array([-1.0, 0.0, 1.0])
FILM_RELAX_MIN = 3.0
FINE_STEP_MIN, FINE_UNTIL_MIN = 0.25, 15.0
MINUTES_UNTIL_MIN, COARSE_STEP_MIN, LAST_STEP_SHARE = 120.0, 5.0, 0.008
KNOWN_EXACTLY = "constant"


@dataclass(frozen=True, eq=False)
class ThermalHistory:
    """Surface, air and humidity along time, on one or three paths (cool, likely, warm).

    times_min: from mixing [min], shape (n,); surface_c, air_c [C] and humidity_pct [%], shape
    (paths, n); weights of the paths [-]; now_min: where the past ends [min]; outlook_end_min:
    where the outlook ends [min].
    """

    times_min: FloatArray
    surface_c: FloatArray
    air_c: FloatArray
    humidity_pct: FloatArray
    weights: FloatArray
    now_min: float
    outlook_end_min: float

    @property
    def likely(self) -> int:
        """Which of the paths is the likely one."""
        return int(self.surface_c.shape[0]) // 2

    def only_likely(self) -> ThermalHistory:
        """The likely path alone."""
        paths = slice(self.likely, self.likely + 1)
        return replace(
            self,
            surface_c=self.surface_c[paths],
            air_c=self.air_c[paths],
            humidity_pct=self.humidity_pct[paths],
            weights=np.ones(1),
        )


def minimum_c(sheet: Sheet) -> float:
    """Below this it may not cure properly.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.

    Returns
    -------
    float
        The sheet's minimum, or 5 C [C].
    """
    span = sheet.limits.temperature_c
    return span[0] if span else SILENT_MINIMUM_C


def reference_pct(sheet: Sheet) -> float:
    """Humidity the label's times are quoted at.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.

    Returns
    -------
    float
        Relative humidity, 50 % if the sheet is silent [%].
    """
    humidity = sheet.reference.humidity_pct
    return SILENT_HUMIDITY_PCT if humidity is None else humidity


def _rising(first_min: float, last_min: float) -> FloatArray:
    """Instants whose steps keep their share of the time since mixing. [min]"""
    if last_min <= first_min:
        return np.array([last_min])
    count = math.ceil(math.log(last_min / max(first_min, 1.0)) / LAST_STEP_SHARE) + 1
    return np.geomspace(max(first_min, 1.0), last_min, count)


def instants(
    now_min: float, step_min: float, outlook_end_min: float, until_min: float
) -> FloatArray:
    """Instants from mixing, fine where something quick may happen.

    Parameters
    ----------
    now_min : float
        Where the past ends [min].
    step_min : float
        Its step [min].
    outlook_end_min : float
        Where the outlook ends [min].
    until_min : float
        Where it all ends [min].

    Returns
    -------
    FloatArray
        Instants [min], shape (n,).
    """
    minutes = now_min + MINUTES_UNTIL_MIN
    parts = [
        np.arange(0.0, FINE_UNTIL_MIN, FINE_STEP_MIN),
        np.arange(0.0, now_min, step_min),
        np.arange(max(now_min, 0.0), min(minutes, until_min), 1.0),
        np.arange(minutes, min(outlook_end_min, until_min), COARSE_STEP_MIN),
        _rising(max(outlook_end_min, minutes), until_min),
        np.array([max(now_min, 0.0), until_min]),
    ]
    return _once_each(np.concatenate(parts))


def _once_each(instants: FloatArray) -> FloatArray:
    """Instants in order, each once: without np.unique, which loads numpy's masked arrays."""
    ordered = np.sort(instants)
    once: FloatArray = ordered[np.append(True, np.diff(ordered) > 0)]
    return once


def _ahead_sd_pct(past: Conditions, ahead: Outlook, hours: FloatArray) -> FloatArray:
    if ahead.method == KNOWN_EXACTLY:
        return np.zeros_like(hours)
    sd: FloatArray = np.hypot(past.humidity_sd_pct[-1], WALK_PCT * np.sqrt(np.maximum(hours, 0.0)))
    return np.minimum(sd, LARGEST_SD_PCT)


def _tail(values: FloatArray, step_s: float) -> FloatArray:
    """Mean of the outlook's last day, held beyond its end."""
    day = max(1, min(values.shape[-1], round(86400 / step_s)))
    mean: FloatArray = values[..., -day:].mean(axis=-1, keepdims=True)
    return mean


def _joined(
    grid: FloatArray,
    knots: FloatArray,
    values: FloatArray,
    outlook_end_min: float,
    tail: FloatArray,
) -> FloatArray:
    """Each path on the grid; beyond the outlook its tail."""
    rows = [np.interp(grid, knots, row) for row in values]
    joined: FloatArray = np.where(grid > outlook_end_min, tail, np.array(rows))
    return joined


def whole_course(
    mix: Mix, past: Conditions, ahead: Outlook, until_min: float, wet: float
) -> ThermalHistory:
    """Past and outlook joined on three paths.

    Parameters
    ----------
    mix : Mix
        How it was mixed.
    past : Conditions
        What the step felt until now.
    ahead : Outlook
        The outlook from now.
    until_min : float
        How far after mixing [min].
    wet : float
        +1 where the slow path is the dry one, -1 where it is the wet one [-].

    Returns
    -------
    ThermalHistory
        Cool, likely and warm, from mixing.
    """
    offset = (past.start - mix.mixed_at).total_seconds() / 60
    past_t = offset + np.arange(past.surface_c.size) * past.step_s / 60
    first = (ahead.start - mix.mixed_at).total_seconds() / 60
    ahead_t = first + np.arange(ahead.likely_c.size) * ahead.step_s / 60
    later = ahead_t > past_t[-1] + 1e-9
    knots, outlook_end_min = np.concatenate((past_t, ahead_t[later])), float(ahead_t[-1])
    grid = instants(float(past_t[-1]), past.step_s / 60, outlook_end_min, until_min)
    sides = SIGNS[:, None]
    lean = P90 * sides * past.surface_sd_c
    surface_ahead = np.array([ahead.cool_c, ahead.likely_c, ahead.warm_c])
    air_ahead = ahead.air_c + surface_ahead - ahead.likely_c
    wet_ahead = ahead.humidity_pct + wet * P90 * sides * _ahead_sd_pct(
        past, ahead, (ahead_t - past_t[-1]) / 60
    )
    wet_past = past.humidity_pct + wet * P90 * sides * past.humidity_sd_pct

    def join(before: FloatArray, after: FloatArray) -> FloatArray:
        values = np.concatenate((before, after[:, later]), axis=1)
        return _joined(grid, knots, values, outlook_end_min, _tail(after, ahead.step_s))

    return ThermalHistory(
        grid,
        join(past.surface_c + lean, surface_ahead),
        join(past.air_c + lean, air_ahead),
        np.clip(join(wet_past, wet_ahead), 0.0, 100.0),
        PATH_WEIGHTS,
        float(past_t[-1]),
        until_min if ahead.method == KNOWN_EXACTLY else outlook_end_min,
    )


def past_course(mix: Mix, past: Conditions) -> ThermalHistory:
    """Only what was measured, on its one likely path.

    Parameters
    ----------
    mix : Mix
        How it was mixed.
    past : Conditions
        What the step felt until now.

    Returns
    -------
    ThermalHistory
        From mixing to the end of the past.
    """
    offset = (past.start - mix.mixed_at).total_seconds() / 60
    times = offset + np.arange(past.surface_c.size) * past.step_s / 60
    fine = np.arange(0.0, min(FINE_UNTIL_MIN, times[-1]), FINE_STEP_MIN)
    grid = _once_each(np.concatenate((fine, times[times >= 0], [0.0])))

    def even(values: FloatArray) -> FloatArray:
        row: FloatArray = np.interp(grid, times, values)
        return row[None, :]

    return ThermalHistory(
        grid,
        even(past.surface_c),
        even(past.air_c),
        even(past.humidity_pct),
        np.ones(1),
        float(times[-1]),
        float(times[-1]),
    )


def relaxed(
    history: ThermalHistory, values_c: FloatArray, product_c: float | None, tau_min: float
) -> FloatArray:
    """A product stored warm or cold goes to its surroundings.

    Parameters
    ----------
    history : ThermalHistory
        The step's temperatures and humidity along time.
    values_c : FloatArray
        Of the surroundings [C], shape (paths, n).
    product_c : float | None
        Stored at, as the surroundings if None [C].
    tau_min : float
        Time constant [min].

    Returns
    -------
    FloatArray
        Its temperature [C], shape (paths, n).
    """
    if product_c is None:
        return values_c
    eased: FloatArray = np.exp(-history.times_min / tau_min)
    return values_c + (product_c - values_c) * eased


def first_stage_share(sheet: Sheet, milestone: str) -> float:
    """Share of a waterborne product's time that is drying by the air.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    milestone : str
        Name of the milestone.

    Returns
    -------
    float
        Share [-], 0 for the others.
    """
    if CHEMISTRIES[sheet.chemistry].humidity != "deficit" or milestone == "pot_life":
        return 0.0
    minutes = sheet.reference.minutes
    first = min((value for name, value in minutes.items() if name != "pot_life"), default=1.0)
    return first / minutes[milestone]


def stalls(milestone: str) -> bool:
    """Whether cold below the minimum is taken to stop a milestone's age.

    Parameters
    ----------
    milestone : str
        Name of the milestone.

    Returns
    -------
    bool
        True for what must be waited for.

    Notes
    -----
    What must not be missed gets no such credit: a resin below its label's minimum still gels.
    """
    return milestone not in EARLY_SHOWN


def speed_over(
    sheet: Sheet,
    history: ThermalHistory,
    values_c: FloatArray,
    share: float,
    *,
    stalling: bool,
    water: bool = True,
    steep_kj: float = 0.0,
) -> equivalent_age.Speed:
    """The speed of a product along a thermal history.

    Parameters
    ----------
    sheet : Sheet
        The label: its times, limits and chemistry.
    history : ThermalHistory
        The step's temperatures and humidity along time.
    values_c : FloatArray
        The material's temperature [C], shape (paths, n).
    share : float
        Of drying, see `first_stage_share` [-].
    stalling : bool
        Whether it is 0 below the minimum, see `stalls`.
    water : bool, optional
        False for air as damp as the label's.
    steep_kj : float, optional
        Added to the energy below GLASS_C [kJ/mol].

    Returns
    -------
    equivalent_age.Speed
        A function of energies [kJ/mol], shape (energies,), that gives the speed [-], shape (paths,
        energies, n).
    """
    family = CHEMISTRIES[sheet.chemistry]
    reference = sheet.reference.temperature_c
    inverse = kinetics.inverse_temperature(values_c, reference)
    running = np.ones_like(values_c)
    if stalling:
        running = (values_c >= minimum_c(sheet)).astype(np.float64)
    if steep_kj:
        running *= np.exp(-steep_kj * kinetics.inverse_below_glass(values_c, reference))
    wet = _water(family, sheet, history, values_c, water)
    if family.humidity == "absolute":
        return lambda ea_kj: equivalent_age.speeds(inverse, ea_kj, running * wet)
    if share == 0.0:
        return lambda ea_kj: equivalent_age.speeds(inverse, ea_kj, running)
    return lambda ea_kj: two_stages(equivalent_age.speeds(inverse, ea_kj, running), wet, share)


def two_stages(reaction: FloatArray, drying: FloatArray, share: float) -> FloatArray:
    """Speed of drying and a later stage one after the other.

    Parameters
    ----------
    reaction : FloatArray
        Of the later stage [-], shape (paths, energies, n).
    drying : FloatArray
        Of drying [-], shape (paths, n).
    share : float
        Of drying in the whole [-].

    Returns
    -------
    FloatArray
        Speed [-], shape (paths, energies, n).
    """
    dry = drying[:, None, :]
    below = share * reaction + (1 - share) * dry
    both = reaction * dry
    speed: FloatArray = np.divide(both, below, out=np.zeros_like(reaction), where=both > 0)
    return speed


def _water(
    family: Chemistry, sheet: Sheet, history: ThermalHistory, values_c: FloatArray, measured: bool
) -> FloatArray:
    """The air's part in the speed. [-], shape (paths, n); values_c: the material's [C]"""
    reference, usual = sheet.reference.temperature_c, reference_pct(sheet)
    if family.humidity == "absolute" and measured:
        return kinetics.speed_absolute_humidity(
            history.air_c, history.humidity_pct, reference, usual
        )
    if family.humidity == "deficit":
        pct = history.humidity_pct if measured else np.full_like(history.humidity_pct, usual)
        return kinetics.speed_deficit(values_c, history.air_c, pct, reference, usual)
    return np.ones_like(values_c)
