"""Times of a step: bounds, order, reasons, refusals, and which way each cause moves them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.climate import psychrometrics
from curewatch.cure.forecast import Forecast, forecast
from curewatch.cure.inputs import Mix, Sighting
from curewatch.notice import Measure, Term, notice
from curewatch.notice_words import sentence, sentences
from tests.support.many import cases
from tests.support.notices import codes
from tests.support.steps import START, doubtful, earlier, even, forecast_at, sheet, steady

EPOXY = sheet(times={"pot_life": 40, "working_time": 50, "clamp_time": 240, "sand_ready": 360})
SEALER = sheet("moisture-urethane", {"clamp_time": 240, "full_cure": 1440}, row='humidity = "50 %"')
WATER = sheet("waterborne", {"working_time": 30, "recoat_opens": 120, "full_cure": 1440})
FILLER = sheet(
    "polyester-peroxide",
    {"working_time": 5, "sand_ready": 25},
    limits='temperature = ["5 C", "35 C"]\nhardener = ["1 %", "2 %", "3 %"]',
)
WINDOW = {"recoat_opens": 240.0, "recoat_closes": 4320.0}
calm = settings(max_examples=cases(8), deadline=None)
celsius = st.floats(5.0, 40.0)


def early(times: Forecast, name: str) -> float:
    minutes = times.by_name[name].early_min
    assert minutes is not None
    return minutes


def likely(times: Forecast, name: str) -> float:
    minutes = times.by_name[name].likely_min
    assert minutes is not None
    return minutes


def test_at_the_label_temperature_it_is_the_label() -> None:
    for milestone in forecast_at(EPOXY, 21.0).milestones:
        assert milestone.likely_min == pytest.approx(milestone.label_min, rel=2e-3)


def test_milestones_come_in_the_order_of_the_sheet() -> None:
    names = [milestone.name for milestone in forecast_at(EPOXY, 15.0).milestones]
    assert names == ["pot_life", "working_time", "clamp_time", "sand_ready"]


def test_which_bound_a_countdown_runs_to() -> None:
    shown = {
        milestone.name: milestone.shown
        for milestone in forecast_at(sheet(times=WINDOW | {"working_time": 50}), 21.0).milestones
    }
    assert shown == {"working_time": "early", "recoat_opens": "late", "recoat_closes": "early"}
    assert forecast_at(EPOXY, 21.0).by_name["pot_life"].shown == "early"
    assert forecast_at(EPOXY, 21.0).by_name["clamp_time"].shown == "late"


@calm
@given(celsius, celsius)
def test_warmer_is_never_later(one: float, two: float) -> None:
    low, high = sorted((one, two))
    cold, warm = forecast_at(EPOXY, low), forecast_at(EPOXY, high)
    for before, after in zip(cold.milestones, warm.milestones, strict=True):
        for name in ("early_min", "likely_min", "late_min"):
            assert getattr(after, name) <= getattr(before, name) * (1 + 1e-6)


@calm
@given(st.floats(15.0, 95.0), st.floats(15.0, 95.0))
def test_wetter_is_never_later_for_moisture_cure(one: float, two: float) -> None:
    low, high = sorted((one, two))
    dry, wet = (
        likely(forecast_at(SEALER, 18.0, humidity_pct=pct), "full_cure") for pct in (low, high)
    )
    assert wet <= dry * (1 + 1e-6)


@calm
@given(st.floats(15.0, 90.0), st.floats(15.0, 90.0))
def test_wetter_is_never_earlier_for_waterborne(one: float, two: float) -> None:
    low, high = sorted((one, two))
    for name in ("working_time", "recoat_opens", "full_cure"):
        dry, wet = (likely(forecast_at(WATER, 18.0, humidity_pct=pct), name) for pct in (low, high))
        assert wet >= dry * (1 - 1e-6)


@calm
@given(st.floats(1.0, 3.0), st.floats(1.0, 3.0))
def test_more_hardener_is_never_later_inside_the_range(one: float, two: float) -> None:
    low, high = sorted((one, two))
    little, much = (
        likely(forecast_at(FILLER, 15.0, mix=Mix(START, hardener_pct=dose)), "sand_ready")
        for dose in (low, high)
    )
    assert much <= little * (1 + 1e-6)


@calm
@given(celsius, st.floats(0.0, 600.0), st.sampled_from(["workable", "stringy", "hard", "sands"]))
def test_milestones_never_cross(temperature: float, minute: float, state: str) -> None:
    made = forecast_at(EPOXY, temperature, now_min=minute, looks=[Sighting(1, minute, state)])
    chain = [made.by_name[name] for name in ("working_time", "clamp_time", "sand_ready")]
    for name in ("early_min", "likely_min", "late_min"):
        times = [getattr(milestone, name) for milestone in chain]
        assert times == sorted(times)
    for milestone in chain:
        bounds = [getattr(milestone, name) for name in ("early_min", "likely_min", "late_min")]
        assert bounds == sorted(bounds)


@pytest.mark.parametrize("temperature", [6.0, 13.5, 21.0, 33.0])
def test_factors_multiply_to_the_ratio(temperature: float) -> None:
    others = [earlier(1, 12.0, [Sighting(1, 600.0, "stringy")])]
    times = forecast_at(
        FILLER,
        temperature,
        others=others,
        now_min=1.0,
        looks=[Sighting(2, 1.0, "workable")],
        mix=Mix(START, hardener_pct=1.5),
    )
    assert {"temperature", "hardener", "learned", "this batch"} <= {f.name for f in times.factors}
    assert math.prod(f.times for f in times.factors) == pytest.approx(times.ratio, rel=1e-9)
    label_min = times.by_name["working_time"].label_min
    assert times.ratio == pytest.approx(likely(times, "working_time") / label_min, rel=1e-9)


def test_factors_of_humidity_and_film_multiply_too() -> None:
    sealer = sheet("moisture-urethane", {"full_cure": 1440}, extra='film = "3 mm"')
    times = forecast_at(sealer, 15.0, humidity_pct=80.0, mix=Mix(START, film_um=4000.0))
    names = {factor.name: factor.times for factor in times.factors}
    assert names["film"] == pytest.approx((4 / 3) ** 2)
    assert "film 4 mm" in sentences(times.reason)
    water = [
        psychrometrics.absolute_humidity_g_m3(c, pct) for c, pct in ((21.0, 50.0), (15.0, 80.0))
    ]
    assert names["humidity"] == pytest.approx(water[0] / water[1], rel=1e-3)
    assert math.prod(names.values()) == pytest.approx(times.ratio, rel=1e-9)


BEADS = {"working_time": 20.0, "clamp_time": 60.0, "recoat_opens": 90.0, "full_cure": 1440.0}


def bead(film_um: float | None, name: str) -> tuple[float | None, float | None, float | None]:
    """Early, likely and late of a milestone of a moisture-cure sealer, 3 mm by its label. [min]"""
    sealer = sheet("moisture-urethane", BEADS, extra='film = "3 mm"')
    milestone = forecast_at(sealer, 21.0, mix=Mix(START, film_um=film_um)).by_name[name]
    return milestone.early_min, milestone.likely_min, milestone.late_min


@pytest.mark.parametrize("film_um", [750.0, 1000.0, 6000.0, 12_000.0, 20.0, 60_000.0])
def test_skinning_and_working_time_do_not_depend_on_the_film(film_um: float) -> None:
    assert bead(film_um, "working_time") == bead(None, "working_time")


@pytest.mark.parametrize(("film_um", "times"), [(1500.0, 0.25), (6000.0, 4.0), (12_000.0, 16.0)])
def test_curing_through_goes_with_the_square_of_a_bead(film_um: float, times: float) -> None:
    # cured depth grows as the square root of time in moisture cure, so time as depth squared
    assert bead(film_um, "full_cure")[1] == pytest.approx(1440 * times, rel=0.01)


@pytest.mark.parametrize("name", ["clamp_time", "recoat_opens"])
def test_a_thinner_film_brings_nothing_forward_that_needs_a_firm_surface(name: str) -> None:
    assert bead(1500.0, name) == bead(3000.0, name)
    thick, label = bead(6000.0, name)[1], bead(3000.0, name)[1]
    assert thick is not None
    assert label is not None
    assert thick == pytest.approx(4 * label, rel=0.01)


@pytest.mark.parametrize(
    ("film_um", "code"), [(20.0, "film-too-thin"), (12_500.0, "film-too-thick")]
)
def test_no_time_is_given_for_a_film_far_from_the_labels(film_um: float, code: str) -> None:
    sealer = sheet("moisture-urethane", BEADS, extra='film = "3 mm"')
    times = forecast_at(sealer, 21.0, now_min=600.0, mix=Mix(START, film_um=film_um))
    why = notice(code, film=Measure(film_um, "um"), label=Measure(3000.0, "um"))
    for name in ("clamp_time", "recoat_opens", "full_cure"):
        milestone = times.by_name[name]
        assert (milestone.early_min, milestone.likely_min, milestone.late_min) == (None, None, None)
        assert milestone.warnings[-1] == why
    assert times.reason == (why,)
    assert times.by_name["working_time"].likely_min is not None


def test_the_film_of_a_two_part_product_changes_nothing_and_is_not_refused() -> None:
    epoxy = sheet(extra='film = "50 um"')
    assert forecast_at(epoxy, 21.0, mix=Mix(START, film_um=2000.0)) == forecast_at(epoxy, 21.0)


def test_the_reason_says_label_panel_and_batches_in_words() -> None:
    others = [earlier(n, 13.5, [Sighting(n, 480.0, "stringy")]) for n in range(3)]
    reason = sentences(forecast_at(EPOXY, 13.5, others=others).reason)
    assert reason.startswith("label working time 50 min at 21 C; panel 13.5 C: x1.7")
    assert "your last 3 batches: x1." in reason


def test_the_reason_is_about_the_next_milestone_ahead() -> None:
    for now_min, name in ((10.0, "working_time"), (120.0, "clamp_time"), (5000.0, "sand_ready")):
        label = forecast_at(EPOXY, 21.0, now_min=now_min).reason[0]
        assert (label.code, label.fields["milestone"]) == ("label-time", Term(name))


def test_below_the_minimum_no_time_is_given_for_what_must_be_waited_for() -> None:
    times = forecast_at(EPOXY, 4.0, now_min=300.0)
    assert times.stalled_now
    assert times.stalled_from_min == 0.0
    assert times.age_min == 0.0
    assert times.ratio == math.inf
    panel, least = Measure(4.0, "C"), Measure(5.0, "C")
    assert times.reason[-1] == notice("panel-cold", panel=panel, least=least)
    assert notice("cold-now", panel=panel, least=least) in times.warnings
    waited = [times.by_name[name] for name in ("clamp_time", "sand_ready")]
    assert all(milestone.likely_min is None and milestone.late_min is None for milestone in waited)
    assert all(
        milestone.warnings[-1] == notice("no-time-cold", least=least) for milestone in waited
    )


@pytest.mark.parametrize("celsius", [9.0, 4.0, 0.0, -5.0])
def test_below_the_minimum_what_must_not_be_missed_runs_on(celsius: float) -> None:
    times = WINDOW | {"pot_life": 40, "working_time": 50}
    cold = forecast_at(sheet(times=times, limits='temperature = ["10 C", "40 C"]'), celsius)
    ignored = forecast_at(sheet(times=times, limits='temperature = ["-10 C", "40 C"]'), celsius)
    for name in ("pot_life", "working_time", "recoat_closes"):
        one, two = cold.by_name[name], ignored.by_name[name]
        assert one.early_min == pytest.approx(two.early_min, rel=1e-9)
        assert one.likely_min == pytest.approx(two.likely_min, rel=1e-9)
        assert one.late_min == pytest.approx(two.late_min, rel=1e-9)
    assert cold.by_name["recoat_opens"].late_min is None
    closes = cold.by_name["recoat_closes"].late_min
    assert closes is not None
    assert closes <= WINDOW["recoat_closes"]


def test_a_fifty_minute_epoxy_at_nine_degrees_keeps_an_early_bound() -> None:
    # 50 min at 21 C, 50 +- 12 kJ/mol: x2.39, early by 1.96 standard deviations of ln(time)
    milestone = forecast_at(sheet(limits='temperature = ["10 C", "40 C"]'), 9.0).by_name[
        "working_time"
    ]
    assert milestone.shown == "early"
    assert milestone.early_min == pytest.approx(65.0, abs=4.0)
    assert milestone.likely_min == pytest.approx(119.0, abs=3.0)


def test_a_cold_night_gives_no_hours_of_working_time() -> None:
    """Eight hours below the minimum, then warm: no credit for the hours between."""
    epoxy = sheet(limits='temperature = ["10 C", "40 C"]')
    past = even(8.9)
    ahead = steady(past)
    warming = np.where(np.arange(ahead.likely_c.size) < 12 * 8, 8.9, 14.0)
    ahead = replace(ahead, likely_c=warming, cool_c=warming, warm_c=warming)
    times = forecast(epoxy, Mix(START), past, ahead)
    assert early(times, "working_time") < 85.0
    assert early(times, "clamp_time") > 480.0


def test_a_pot_that_was_stored_below_the_minimum_has_a_pot_life() -> None:
    milestone = forecast_at(EPOXY, 4.0, mix=Mix(START, amount_g=150.0, product_c=2.0)).by_name[
        "pot_life"
    ]
    assert milestone.early_min is not None
    assert milestone.late_min is not None


def test_a_silent_sheet_stalls_below_five_degrees() -> None:
    silent = sheet(limits="")
    assert forecast_at(silent, 4.9).stalled_now
    assert not forecast_at(silent, 5.1).stalled_now


def test_a_night_below_the_minimum_is_said_from_when() -> None:
    past = even(12.0, 30.0)
    ahead = steady(past)
    cooling = np.maximum(12.0 - np.arange(ahead.likely_c.size) / 12 * 2, 3.0)
    ahead = replace(ahead, likely_c=cooling, cool_c=cooling, warm_c=cooling)
    times = forecast(EPOXY, Mix(START), past, ahead)
    # 12 C falling 2 C an hour passes 5 C after 3.5 h, half an hour into the step
    assert not times.stalled_now
    assert times.stalled_from_min == pytest.approx(240.0, abs=6.0)
    assert times.by_name["working_time"].likely_min is not None
    assert times.by_name["clamp_time"].likely_min is None


def test_the_age_stands_still_through_a_cold_spell_and_goes_on_after() -> None:
    past = even(21.0, 600.0)
    surface = past.surface_c.copy()
    surface[100:400] = 2.0
    cold = replace(past, surface_c=surface, air_c=surface)
    times = forecast(EPOXY, Mix(START), cold, steady(cold))
    assert times.age_min == pytest.approx(300.0, abs=2.0)
    assert likely(times, "sand_ready") == pytest.approx(660.0, rel=0.02)


def test_the_closing_of_a_window_is_never_lengthened_by_cold() -> None:
    primer = sheet(times=WINDOW)
    for temperature in (6.0, 12.0, 21.0):
        closes = forecast_at(primer, temperature).by_name["recoat_closes"]
        assert closes.late_min is not None
        assert closes.late_min <= 4320.0
    assert likely(forecast_at(primer, 30.0), "recoat_closes") < 0.7 * 4320.0


def test_only_a_label_row_at_that_temperature_lengthens_it() -> None:
    primer = sheet(
        times=WINDOW, more_rows=[(10.0, {"recoat_opens": 500.0, "recoat_closes": 8000.0})]
    )
    cold = forecast_at(primer, 10.0).by_name["recoat_closes"].late_min
    cool = forecast_at(primer, 14.0).by_name["recoat_closes"].late_min
    assert cold == 8000.0
    assert cool == 4320.0


def test_a_window_that_may_close_before_it_opens_is_said() -> None:
    primer = sheet(times={"recoat_opens": 240.0, "recoat_closes": 300.0})
    assert "window-may-close" in codes(forecast_at(primer, 8.0).warnings)


def test_the_ratio_of_an_epoxy_is_never_varied() -> None:
    times = forecast_at(EPOXY, 15.0, mix=Mix(START, hardener_pct=40.0))
    assert all(milestone.likely_min is None for milestone in times.milestones)
    assert codes(times.warnings) == ["ratio-never-varied"]


@pytest.mark.parametrize("dose", [0.5, 3.5])
def test_hardener_outside_the_range_is_refused(dose: float) -> None:
    times = forecast_at(FILLER, 15.0, mix=Mix(START, hardener_pct=dose))
    assert times.by_name["sand_ready"].likely_min is None
    assert codes(times.by_name["sand_ready"].warnings) == ["hardener-outside"]


def test_far_from_the_label_is_a_warning() -> None:
    assert "far-from-label" in codes(forecast_at(EPOXY, 5.5).milestones[0].warnings)
    assert "far-from-label" not in codes(forecast_at(EPOXY, 7.0).milestones[0].warnings)


def test_an_assumed_chemistry_is_a_warning() -> None:
    quick = sheet("methacrylate", {"working_time": 10, "clamp_time": 25})
    assert "cold-assumed" in codes(forecast_at(quick, 15.0).warnings)


def test_an_epoxy_in_the_cold_has_no_full_cure_number() -> None:
    times = forecast_at(sheet(), 8.0)
    assert times.by_name["full_cure"].likely_min is None
    assert codes(times.by_name["full_cure"].warnings)[-1] == "stops-short"
    assert times.by_name["sand_ready"].likely_min is not None


def test_damp_air_widens_a_two_part_urethane() -> None:
    urethane = sheet("urethane-2k", {"working_time": 30, "clamp_time": 120})
    dry, damp = (forecast_at(urethane, 21.0, humidity_pct=pct) for pct in (40.0, 90.0))
    assert damp.by_name["clamp_time"].late_min > dry.by_name["clamp_time"].late_min  # type: ignore[operator]
    assert "damp-shortens" in codes(damp.warnings)


def test_doubt_of_the_temperature_widens_by_the_derived_amount() -> None:
    # d ln(time) = Ea/(R T^2) dT, at 21 C and 50 kJ/mol 6.95 % for each kelvin
    past = doubtful(even(21.0, 4000.0), 4.0)
    wide = forecast(EPOXY, Mix(START), past, steady(past)).by_name["working_time"]
    exact = forecast_at(EPOXY, 21.0, now_min=4000.0).by_name["working_time"]
    assert wide.late_min is not None
    assert wide.early_min is not None
    assert exact.late_min is not None
    assert exact.early_min is not None
    ours = math.log(wide.late_min / wide.early_min) / 2 / 1.645
    alone = math.log(exact.late_min / exact.early_min) / 2 / 1.645
    per_kelvin = 50 / 8.314462618e-3 / 294.15**2
    assert ours == pytest.approx(math.hypot(alone, 4.0 * per_kelvin), rel=0.12)


def test_the_band_of_the_outlook_widens_the_band_of_the_times() -> None:
    past = even(15.0, 10.0)
    narrow, wide = (
        forecast(EPOXY, Mix(START), past, steady(past, band)).by_name["sand_ready"]
        for band in (0.0, 6.0)
    )
    assert wide.early_min < narrow.early_min < narrow.late_min < wide.late_min  # type: ignore[operator]


def test_a_product_kept_cold_starts_slower_and_warms_up() -> None:
    quick = sheet(times={"working_time": 10, "clamp_time": 240})
    cold, usual = (forecast_at(quick, 21.0, mix=Mix(START, product_c=c)) for c in (5.0, 21.0))
    assert likely(cold, "working_time") > likely(usual, "working_time") + 1.0
    assert likely(cold, "clamp_time") < likely(usual, "clamp_time") + 6.0


def test_more_in_the_pot_shortens_only_the_pot_life() -> None:
    little, much = (
        forecast_at(EPOXY, 21.0, mix=Mix(START, amount_g=grams)) for grams in (20.0, 400.0)
    )
    assert likely(much, "pot_life") < likely(little, "pot_life")
    assert likely(much, "clamp_time") == likely(little, "clamp_time")


def test_passing_of_time_alone_changes_nothing() -> None:
    now, later = (forecast_at(EPOXY, 15.0, now_min=minutes) for minutes in (0.0, 90.0))
    for one, two in zip(now.milestones, later.milestones, strict=True):
        assert two.likely_min == pytest.approx(one.likely_min, rel=2e-3)


def test_the_same_question_has_the_same_answer() -> None:
    look = [Sighting(1, 100.0, "stringy")]
    assert (
        forecast_at(EPOXY, 14.0, now_min=120.0, looks=look).milestones
        == forecast_at(EPOXY, 14.0, now_min=120.0, looks=look).milestones
    )


def not_yet(name: str, *after_min: float) -> list[Sighting]:
    return [Sighting(-1 - n, at, f"not-yet:{name}", "work") for n, at in enumerate(after_min)]


@pytest.mark.parametrize("after_min", [1200.0, 3000.0])
def test_what_is_not_reached_long_after_its_latest_time_has_no_time(after_min: float) -> None:
    looks = not_yet("clamp_time", after_min)
    times = forecast_at(EPOXY, 21.0, now_min=after_min, looks=looks)
    for name in ("clamp_time", "sand_ready"):
        left = times.by_name[name]
        assert (left.early_min, left.likely_min, left.late_min) == (None, None, None), name
        assert left.outlasted
        assert "outlasted" in codes(left.warnings)
    assert times.by_name["working_time"].early_min is not None, "no more than it had"


def test_what_was_reached_in_the_end_is_timed_again() -> None:
    looks = [*not_yet("clamp_time", 1200.0), Sighting(-9, 1500.0, "reached:clamp_time", "work")]
    assert forecast_at(EPOXY, 21.0, now_min=1500.0, looks=looks).by_name["sand_ready"].late_min


@pytest.mark.parametrize("after_min", [100.0, 300.0, 480.0])
def test_what_is_only_slow_keeps_its_times(after_min: float) -> None:
    times = forecast_at(EPOXY, 21.0, now_min=after_min, looks=not_yet("clamp_time", after_min))
    late_min = times.by_name["clamp_time"].late_min
    assert late_min is not None
    assert late_min > after_min


def test_where_the_label_has_its_own_figure_it_is_said() -> None:
    odd = sheet(
        times={"clamp_time": 2880},
        more_rows=[(30.0, {"clamp_time": 2160}), (38.0, {"clamp_time": 720})],
    )
    warnings = forecast_at(odd, 30.0).by_name["clamp_time"].warnings
    assert "the label itself says 36 h at 30 C" in map(sentence, warnings)
    assert "label-says" not in codes(forecast_at(odd, 25.0).milestones[0].warnings)
    plain = sheet(more_rows=[(10.0, {"clamp_time": 510.0})])
    assert "label-says" not in codes(forecast_at(plain, 10.0).by_name["clamp_time"].warnings)


def test_a_night_that_may_fall_below_the_minimum_leaves_a_late_bound_on_a_condition() -> None:
    past = even(14.0)
    limits = 'temperature = ["10 C", "40 C"]'
    may_fall = forecast(sheet(limits=limits), Mix(START), past, steady(past, 6.0))
    kept = forecast(sheet(limits=limits), Mix(START), past, steady(past, 4.0))
    for name in ("clamp_time", "sand_ready"):
        milestone, warm = may_fall.by_name[name], kept.by_name[name]
        assert milestone.late_if_warm
        assert not warm.late_if_warm
        assert milestone.late_min is not None
        assert warm.late_min is not None
        assert milestone.late_min >= 0.999 * warm.late_min
    assert notice("hold-if-warm", least=Measure(10.0, "C")) in may_fall.warnings
    assert "hold-if-warm" not in codes(kept.warnings)


def test_where_the_likely_path_stays_below_the_minimum_there_is_no_late_bound() -> None:
    past = even(14.0)
    cold = steady(past, 1.0, celsius=9.0)
    times = forecast(sheet(limits='temperature = ["10 C", "40 C"]'), Mix(START), past, cold)
    assert times.by_name["sand_ready"].late_min is None
    assert not times.by_name["sand_ready"].late_if_warm
