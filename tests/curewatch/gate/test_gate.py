"""The gate before a mix: stop, caution or go, why, and what would change it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.bench.views import MilestoneView, StepView
from curewatch.climate.conditions import constant
from curewatch.climate.dew_course import DewCourse
from curewatch.climate.outlook import Outlook
from curewatch.cure.belief import learned
from curewatch.cure.forecast import forecast
from curewatch.cure.inputs import Mix
from curewatch.errors import SheetError
from curewatch.gate import pot
from curewatch.gate.check import ORDER, Check
from curewatch.gate.gate import Gate, as_json, gate
from curewatch.gate.gate import __file__ as gate_file
from curewatch.gate.pot import PEAK_C
from curewatch.gate.proposal import Here, Job, Other, Proposal
from curewatch.gate.remedy import heat, speed_up
from curewatch.notice import notice
from curewatch.products.portions import portions
from curewatch.products.sheet import Sheet, generic_sheets, parse_sheet
from curewatch.wording.words import ReaderFormat
from tests.support.many import cases
from tests.support.steps import sheet as made

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
SAY = ReaderFormat(ZoneInfo("Europe/Berlin"))
SHEETS = generic_sheets()
ADHESIVE, FILLER = SHEETS["epoxy-panel-adhesive"], SHEETS["fibre-polyester-filler"]
HOURS = 72
temperatures = st.floats(-5, 40).map(lambda value: round(value, 1))
HELD = (notice("forecast-held"),)
a_few = settings(max_examples=cases(10))


def outlook(start_c: float, per_hour_c: float = 0.0, band_c: float = 0.5) -> Outlook:
    """A panel that cools or warms evenly for a day and stays there, the dew point held."""
    hours = np.arange(HOURS * 12 + 1) / 12
    likely = start_c + per_hour_c * np.minimum(hours, 24)
    cool, warm = likely - band_c * (hours > 0), likely + band_c
    pct = DewCourse(slope=0.0).humidity_pct(likely, 60.0)
    return Outlook(NOW, 300.0, likely, cool, warm, likely, pct, "held", HELD)


def proposed(
    sheet: Sheet = ADHESIVE,
    surface_c: float | None = 20.0,
    humidity_pct: float | None = 50.0,
    per_hour_c: float = 0.0,
    **data: Any,
) -> Proposal:
    """A mix in a place as warm as its air."""
    given_c = sheet.reference.temperature_c if surface_c is None else surface_c
    ahead = outlook(given_c, per_hour_c)
    conditions = constant(NOW, 0, surface_c=given_c, humidity_pct=humidity_pct or 50.0)
    mix = Mix(NOW, data.get("amount_g"), data.get("hardener_pct"))
    here = Here(surface_c, surface_c, humidity_pct, age_min=1.0)
    proposal = Proposal(
        sheet, NOW, here, ahead, forecast(sheet, mix, conditions, ahead), learned(sheet)
    )
    return replace(proposal, **data)


def passed(proposal: Proposal) -> Gate:
    return gate(proposal, SAY)


def check(proposal: Proposal, question: str) -> Check:
    return next(verdict for verdict in passed(proposal).checks if verdict.question == question)


def strictness(check: Check) -> int:
    """0 for stop, 1 for caution, 2 for go."""
    return ORDER.index(check.verdict)


def test_a_warm_dry_evening_goes() -> None:
    answer = passed(proposed(SHEETS["epoxy-primer"], amount_g=60.0))
    assert answer.verdict == "go"
    assert all(check.verdict == "go" for check in answer.checks)


@pytest.mark.parametrize(("surface_c", "verdict"), [(9.9, "stop"), (10.5, "caution"), (12, "go")])
def test_the_sheets_minimum_decides(surface_c: float, verdict: str) -> None:
    checked = check(proposed(surface_c=surface_c), "panel")
    assert (checked.verdict, checked.figure, checked.limit) == (verdict, surface_c, 10)
    assert checked.source == "the label"


@pytest.mark.parametrize(("surface_c", "verdict"), [(35.1, "stop"), (34.5, "caution")])
def test_so_does_its_maximum(surface_c: float, verdict: str) -> None:
    checked = check(proposed(surface_c=surface_c), "panel")
    assert (checked.verdict, checked.limit) == (verdict, 35)
    assert "let it cool" in checked.change


def test_a_silent_sheet_says_whose_limit_it_is() -> None:
    silent = replace(ADHESIVE, limits=replace(ADHESIVE.limits, temperature_c=None))
    verdict = check(proposed(silent, surface_c=4.0), "panel")
    assert (verdict.verdict, verdict.limit) == ("stop", 5)
    assert "gives none" in verdict.source


def test_too_cold_is_never_the_whole_answer() -> None:
    verdict = check(
        proposed(
            surface_c=6.0,
            others=(Other("My winter filler", "sand_ready", NOW + timedelta(hours=3)),),
            jobs=(
                Job("test sand-ready on roof seam"),
                Job("coat the skin", NOW + timedelta(hours=5)),
            ),
        ),
        "panel",
    )
    assert "keep the panel itself at 21 °C for" in verdict.change
    assert "never above 35 °C" in verdict.change
    assert "My winter filler (sand-ready at 21:00 at the latest)" in verdict.change
    assert "test sand-ready on roof seam" in verdict.change
    assert "coat the skin (until 23:00)" in verdict.change


@pytest.mark.parametrize(("humidity_pct", "wet"), [(10.0, True), (45.0, False)])
def test_what_cures_by_the_airs_water_wants_water_where_that_lacks(
    humidity_pct: float, wet: bool
) -> None:
    sealer = proposed(SHEETS["seam-sealer"], surface_c=20.0, humidity_pct=humidity_pct)
    assert speed_up(sealer, SAY).startswith("damp the air to about") is wet
    assert speed_up(proposed(humidity_pct=humidity_pct), SAY) == heat(proposed(), SAY)


def test_a_silent_sheet_gets_a_cautious_limit_of_heat() -> None:
    silent = replace(ADHESIVE, limits=replace(ADHESIVE.limits, temperature_c=None))
    assert "never above 40 °C" in check(proposed(silent, surface_c=4.0), "panel").change


def test_no_heat_while_solvent_flashes_off() -> None:
    filler = check(proposed(FILLER, surface_c=6.0), "panel").change
    assert "no heat while solvent evaporates, to working time" in filler
    assert "warm again after" in filler
    primer = check(proposed(SHEETS["solvent-primer-1k"], surface_c=6.0), "panel").change
    assert "no heat while solvent evaporates, to recoat opens" in primer
    assert "solvent" not in check(proposed(ADHESIVE, surface_c=6.0), "panel").change


def test_nothing_measured_is_no_go() -> None:
    answer = passed(proposed(surface_c=None, humidity_pct=None))
    assert answer.verdict == "caution"
    assert {check.question for check in answer.checks if check.verdict == "caution"} == {
        "panel",
        "dew",
    }
    assert "humidity" in answer.not_told


@pytest.mark.parametrize("doubt", [{"from_air": True}, {"old": True, "age_min": 95.0}])
def test_air_for_metal_and_old_readings_are_said(doubt: dict[str, Any]) -> None:
    plain = proposed()
    answer = passed(replace(plain, here=replace(plain.here, **doubt)))
    assert answer.verdict == "caution"
    words = next(check.words for check in answer.checks if check.question == "panel")
    assert ("taken from the air" in words) or ("read 1 h 35 ago" in words)


def test_a_night_that_stalls_it_is_a_stop_with_the_hour() -> None:
    verdict = check(proposed(surface_c=14.0, per_hour_c=-1.0), "panel ahead")
    # by hand: 14 C falling 1 C an hour is at 10 C after 4 h, 22:00 in Berlin, and under it next
    assert verdict.verdict == "stop"
    assert verdict.at == NOW + timedelta(hours=4, minutes=5)
    assert "at 22:05, before clamps off" in verdict.words
    assert "keep the panel" in verdict.change
    assert "had to mix by" in verdict.change


def test_a_night_that_may_stall_it_is_to_think_about() -> None:
    verdict = check(proposed(surface_c=16.0, per_hour_c=-0.7), "panel ahead")
    assert verdict.verdict == "caution"
    assert "may fall below 10 °C" in verdict.words


def test_the_warm_spell_of_tomorrow_is_named() -> None:
    verdict = check(proposed(surface_c=6.0, per_hour_c=0.5), "panel ahead")
    # 6 C rising half a degree an hour is at 10 C after 8 h: 02:00 in Berlin
    assert "from tonight 02:00" in verdict.change


def test_spread_below_the_limit_stops_with_its_source() -> None:
    verdict = check(proposed(surface_c=15.0, humidity_pct=84.0), "dew")
    assert verdict.verdict == "stop"
    assert verdict.figure is not None
    assert verdict.figure < 3
    assert "MIL-HDBK-1110" in verdict.source
    assert "warm the metal to" in verdict.change


@pytest.mark.parametrize(("per_hour_c", "weak"), [(-1.5, False), (-0.4, True)])
def test_dew_ahead_is_weak_beyond_six_hours(per_hour_c: float, weak: bool) -> None:
    verdict = check(proposed(surface_c=20.0, humidity_pct=60.0, per_hour_c=per_hour_c), "dew ahead")
    assert verdict.verdict == "caution"
    assert ("uncertain this far ahead" in verdict.words) is weak


def test_damp_air_stops_by_the_sheet_or_by_practice() -> None:
    assert check(proposed(humidity_pct=86.0), "humidity").verdict == "stop"
    silent = replace(ADHESIVE, limits=replace(ADHESIVE.limits, humidity_max_pct=None))
    verdict = check(proposed(silent, humidity_pct=86.0), "humidity")
    assert (verdict.verdict, verdict.limit) == ("stop", 85)
    assert "gives none" in verdict.source


def test_a_big_warm_batch_names_the_largest_that_leaves_the_time() -> None:
    verdict = check(proposed(surface_c=28.0, amount_g=90.0, wanted_min=20.0), "amount")
    assert verdict.verdict == "caution"
    assert "mix at most" in verdict.change
    assert "+-30 %" in verdict.source


def test_no_amount_leaves_more_than_the_product_has() -> None:
    verdict = check(proposed(surface_c=28.0, amount_g=50.0, wanted_min=40.0), "amount")
    assert verdict.verdict == "stop"
    assert "no amount gives that much time" in verdict.change


def test_the_label_stands_in_where_no_working_time_is_told() -> None:
    assert check(proposed(amount_g=5.0), "amount").limit == pytest.approx(40 / 3)


def test_a_hundred_grams_that_would_run_hot_are_a_stop_and_less_is_a_caution() -> None:
    # An epoxy maker's page on uncontrolled cure has 100 g left in a pot reach 204 C.
    assert check(proposed(amount_g=100.0), "amount").verdict == "stop"
    for sheet, grams in ((ADHESIVE, 99.0), (SHEETS["quick-methacrylate-adhesive"], 50.0)):
        small = check(proposed(sheet, amount_g=grams), "amount")
        assert small.verdict == "caution", "no go beside more than 100 C"
        assert small.figure is not None
        assert small.figure > PEAK_C
        assert "no measured pot" in small.source


@pytest.mark.parametrize(
    ("wanted_min", "verdict"), [(15.0, "go"), (30.0, "caution"), (120.0, "stop")]
)
def test_the_time_wanted_is_held_against_the_working_time_without_an_amount(
    wanted_min: float, verdict: str
) -> None:
    checked = check(proposed(wanted_min=wanted_min), "wanted")
    assert (checked.verdict, checked.unit) == (verdict, "min")


def test_a_large_pot_on_the_label_spares_no_cup() -> None:
    large = parse_sheet(ADHESIVE.text.replace('"100 g"', '"500 g"'), "t")
    assert check(proposed(large, amount_g=400.0), "amount").verdict == "stop"


def test_what_stays_cool_is_a_caution_from_a_hundred_grams_on() -> None:
    primer = SHEETS["epoxy-primer"]
    assert check(proposed(primer, amount_g=99.0), "amount").verdict == "go"
    assert check(proposed(primer, amount_g=100.0), "amount").verdict == "caution"


@pytest.mark.parametrize("surface_c", [12.0, 21.0, 28.0])
def test_the_pot_life_before_a_mix_ends_no_later_than_the_bench_will_show(
    surface_c: float,
) -> None:
    mix = proposed(surface_c=surface_c, amount_g=60.0)
    shown = mix.forecast.by_name["pot_life"]
    assert (cup := pot.cup(mix)) is not None
    assert None not in (shown.early_min, shown.likely_min, shown.late_min)
    assert cup.pot_life.early_min <= (shown.early_min or 0)
    assert cup.pot_life.likely_min <= (shown.likely_min or 0)
    assert cup.pot_life.late_min >= (shown.late_min or 0)


def test_a_small_cup_says_that_the_working_time_on_the_panel_ends_first() -> None:
    verdict = check(proposed(SHEETS["quick-methacrylate-adhesive"], amount_g=18.0), "amount")
    assert re.search(
        r"; but work it within \d+ min: the working time on the panel ends first$", verdict.words
    )


def test_a_cup_that_gets_too_hot_is_a_stop_with_the_amount_that_is_fine() -> None:
    verdict = check(proposed(amount_g=900.0), "amount")
    assert (verdict.verdict, verdict.unit, verdict.limit) == ("stop", "C", PEAK_C)
    assert verdict.figure is not None
    assert verdict.figure > 150
    assert re.fullmatch(
        r"900 g in one cup: pot life \d+ to \d+ min "
        r"\(needs 14 min, a third of the label's pot life\), "
        r"may heat to 1\d\d °C; the limit is 100 °C; "
        r"the pot ends before the working time of \d+ min on the panel",
        verdict.words,
    )
    assert "mix at most 99 g in one cup: 10 cups of 90 g" in verdict.change
    assert check(proposed(amount_g=90.0), "amount").verdict != "stop", "what it names is fine"


def test_the_grams_are_told_for_each_cup() -> None:
    by_weight = parse_sheet(ADHESIVE.text.replace("2:1 by volume", "100:50 by weight"), "t")
    answer = passed(proposed(by_weight, amount_g=900.0))
    assert answer.portions is not None
    assert (answer.cups, answer.portions.grams) == (10, pytest.approx((60, 30)))
    assert answer.portions.words.startswith("10 cups, each: 60.0 g + 30.0 g")
    assert as_json(answer)["grams"] == [600.0, 300.0]
    assert as_json(answer)["cups"] == 10


def limited(peak: str) -> Sheet:
    return parse_sheet(ADHESIVE.text.replace("[limits]", f'[limits]\npeak_max = "{peak}"'), "t")


def test_the_sheet_sets_the_peak_whatever_the_mass() -> None:
    cool = check(proposed(limited("60 C"), surface_c=12.0, amount_g=60.0), "amount")
    assert (cool.verdict, cool.limit) == ("stop", 60)
    assert "the label's" in cool.source
    most = re.search(r"at most (\d+) g", cool.change)
    assert most
    fine = check(proposed(limited("60 C"), surface_c=12.0, amount_g=float(most[1])), "amount")
    assert fine.verdict == "go"
    hot = check(proposed(limited("150 C"), surface_c=10.0, amount_g=300.0), "amount")
    assert hot.verdict == "caution"
    assert limited("140 F").limits.peak_max_c == pytest.approx(60)
    with pytest.raises(SheetError, match="a cup of"):
        limited("10 C")


def test_a_sheet_without_a_pot_life_is_checked_from_its_working_time() -> None:
    quick = SHEETS["quick-methacrylate-adhesive"]
    verdict = check(proposed(quick, amount_g=900.0), "amount")
    assert (verdict.verdict, "working time" in verdict.source) == ("stop", True)
    assert check(proposed(quick, amount_g=50.0), "amount").verdict == "caution"


def test_an_amount_that_cannot_be_checked_is_named() -> None:
    silent = made(times={"clamp_time": 240})
    answer = passed(proposed(silent, amount_g=900.0))
    assert not [check for check in answer.checks if check.question == "amount"]
    assert any("pot life or working time" in text for text in answer.not_told)
    for fine in (proposed(silent), proposed(SHEETS["waterborne-primer"], amount_g=900.0)):
        assert not any("pot life" in text for text in passed(fine).not_told)


@pytest.mark.parametrize(
    ("sheet", "dose", "verdict"),
    [(ADHESIVE, None, "go"), (ADHESIVE, 3.0, "stop"), (FILLER, 2.0, "go"), (FILLER, 4.0, "stop")],
)
def test_the_ratio_is_held(sheet: Sheet, dose: float | None, verdict: str) -> None:
    checked = check(proposed(sheet, hardener_pct=dose), "hardener")
    assert checked.verdict == verdict
    assert verdict == "go" or "does not help" in checked.change


@pytest.mark.parametrize("product_c", [4.0, 38.0])
def test_a_product_stored_cold_or_hot_is_brought_indoors(product_c: float) -> None:
    verdict = check(proposed(product_c=product_c), "product")
    assert verdict.verdict == "caution"
    assert "both parts" in verdict.change


@pytest.mark.parametrize(
    "part", ["brake line bracket", "Structural sill", "seat-belt anchor", "windscreen flange"]
)
def test_a_joint_that_is_none_of_ours_gets_no_time(part: str) -> None:
    answer = passed(proposed(part=part, stop_at=NOW + timedelta(hours=5), amount_g=60.0))
    assert answer.verdict == "stop"
    assert "licensed practice" in answer.checks[0].words
    assert not {"time", "panel ahead", "amount"} & {check.question for check in answer.checks}
    assert as_json(answer)["milestones"] is None


@pytest.mark.parametrize("part", ["lower corner patch", "breakfast tray", "refuelled lamp"])
def test_a_body_patch_keeps_its_times(part: str) -> None:
    assert as_json(passed(proposed(part=part)))["milestones"]


@pytest.mark.parametrize(("hours", "verdict"), [(12, "go"), (4.5, "caution"), (2, "caution")])
def test_the_users_own_end_of_the_evening(hours: float, verdict: str) -> None:
    checked = check(proposed(stop_at=NOW + timedelta(hours=hours)), "time")
    assert checked.verdict == verdict
    assert verdict == "go" or "you had to mix by" in checked.change


def test_leaving_it_wet_is_a_stop() -> None:
    verdict = check(proposed(stop_at=NOW + timedelta(minutes=30)), "time")
    assert verdict.verdict == "stop"
    assert "still be worked at 18:30" in verdict.words
    assert "workable until" in verdict.change


def test_one_part_has_no_ratio_to_ask_about() -> None:
    answer = passed(proposed(SHEETS["solvent-primer-1k"]))
    assert "hardener" not in {check.question for check in answer.checks}


def at(hours: float) -> datetime:
    return NOW + timedelta(hours=hours)


def lying(sheet: Sheet, state: str = "hardening", **hours: tuple[float, str | None]) -> StepView:
    """A step before on the part; milestones as hours from now, and how they were answered."""
    marks = tuple(
        MilestoneView(
            name, at(hour - 1), at(hour), at(hour + 1), at(hour), 60, (), answered, hour <= 0
        )
        for name, (hour, answered) in hours.items()
    )
    base = proposed(sheet).forecast
    return StepView(
        7, sheet, "skin", "", "panel", None, None, "", at(-20), at(-20), base,
        marks, (), (), (), (), (), state,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("state", "hours", "verdict", "says"),
    [
        ("hardening", {"sand_ready": (3, None)}, "stop", "not reached"),
        ("hardening", {"sand_ready": (0.5, None)}, "caution", "not reached"),
        ("hardening", {"sand_ready": (-2, None)}, "caution", "not tested"),
        ("hardening", {"sand_ready": (-2, "not-yet")}, "stop", "not reached"),
        ("hardening", {"sand_ready": (-2, "reached")}, "go", "was tested"),
        (
            "finished",
            {"recoat_opens": (-9, "reached"), "recoat_closes": (-1, None)},
            "caution",
            "window closed",
        ),
        (
            "hardening",
            {"recoat_opens": (-2, "reached"), "recoat_closes": (9, None)},
            "go",
            "closes",
        ),
        ("hardening", {"recoat_opens": (3, None), "recoat_closes": (9, None)}, "stop", "solvent"),
        ("abandoned", {"sand_ready": (-2, None)}, "stop", "failed"),
        ("hardening", {}, "caution", "gives no time"),
    ],
)
def test_what_lies_underneath(
    state: str, hours: dict[str, tuple[float, str | None]], verdict: str, says: str
) -> None:
    below = lying(SHEETS["epoxy-primer"], state, **hours)
    checked = check(proposed(FILLER, part="skin", under=below), "underneath")
    assert checked.verdict == verdict
    assert says in checked.words


def test_a_window_that_closed_is_scuffed_first() -> None:
    below = lying(SHEETS["epoxy-primer"], recoat_opens=(-9, None), recoat_closes=(-1, None))
    assert "scuff" in check(proposed(FILLER, under=below), "underneath").change


def test_isocyanate_is_said_before_the_start() -> None:
    verdict = check(proposed(SHEETS["urethane-high-build-primer"]), "protection")
    assert (verdict.verdict, "air-fed" in verdict.words) == ("caution", True)


@given(temperatures, st.floats(0, 20))
@a_few
def test_colder_never_turns_a_stop_for_cold_into_a_go(surface_c: float, colder: float) -> None:
    here, there = proposed(surface_c=surface_c), proposed(surface_c=surface_c - colder)
    if surface_c < 10:
        for question in ("panel", "panel ahead"):
            assert check(here, question).verdict == "stop"
            assert check(there, question).verdict == "stop"
    if surface_c <= 34:
        assert strictness(check(there, "panel")) <= strictness(check(here, "panel"))


@given(st.floats(11, 30), st.floats(-1.5, 0), st.floats(0, 1))
@a_few
def test_a_night_that_cools_faster_never_helps(
    surface_c: float, per_hour_c: float, faster: float
) -> None:
    here = check(proposed(surface_c=surface_c, per_hour_c=per_hour_c), "panel ahead")
    there = check(proposed(surface_c=surface_c, per_hour_c=per_hour_c - faster), "panel ahead")
    assert strictness(there) <= strictness(here)


@given(temperatures, st.floats(1, 99), st.floats(0, 50))
@a_few
def test_wetter_never_helps(surface_c: float, humidity_pct: float, wetter: float) -> None:
    here = proposed(surface_c=surface_c, humidity_pct=humidity_pct)
    there = proposed(surface_c=surface_c, humidity_pct=min(100.0, humidity_pct + wetter))
    for question in ("dew", "dew ahead", "humidity"):
        assert strictness(check(there, question)) <= strictness(check(here, question))


@given(st.floats(5, 33), st.floats(5, 6000), st.floats(1.05, 5), st.floats(1, 60))
@a_few
def test_more_grams_never_help(
    surface_c: float, amount_g: float, times: float, wanted_min: float
) -> None:
    here = proposed(surface_c=surface_c, amount_g=amount_g, wanted_min=wanted_min)
    there = proposed(surface_c=surface_c, amount_g=amount_g * times, wanted_min=wanted_min)
    assert strictness(check(there, "amount")) <= strictness(check(here, "amount"))


@given(st.floats(0, 12), st.floats(0, 12))
@a_few
def test_an_earlier_end_never_helps(hours: float, earlier: float) -> None:
    here, there = proposed(stop_at=at(hours)), proposed(stop_at=at(hours - earlier))
    assert strictness(check(there, "time")) <= strictness(check(here, "time"))


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=list(SHEETS))
@pytest.mark.parametrize("surface_c", [-5.0, 8.0, 20.0, 39.0])
def test_every_sheet_is_answered_with_a_remedy_for_each_stop(
    sheet: Sheet, surface_c: float
) -> None:
    answer = passed(proposed(sheet, surface_c=surface_c, amount_g=120.0, stop_at=at(4)))
    assert answer.verdict == answer.checks[0].verdict
    for check in answer.checks:
        assert check.verdict == "go" or (check.change and check.source)


PURE = (
    "gate/check", "gate/climate", "gate/gate", "gate/mix", "gate/outlook", "gate/pot",
    "gate/proposal", "gate/remedy", "gate/stock", "gate/underneath", "climate/heat",
    "products/portions", "protection/airing", "protection/ventilation",
)  # fmt: skip


@pytest.mark.parametrize("module", PURE)
def test_the_gate_reads_no_store_and_asks_no_clock(module: str) -> None:
    text = (Path(gate_file).parents[1] / f"{module}.py").read_text("utf-8")
    for outer in (
        "curewatch.store.store",
        "curewatch.bench.bench",
        "curewatch.settings.settings",
        ".now(",
        "open(",
    ):
        assert outer not in text


def test_grams_by_weight_follow_the_hardener() -> None:
    assert portions(FILLER, 102.0).grams == pytest.approx((100.0, 2.0))
    portion = portions(FILLER, 103.0, 3.0)
    assert portion.grams == pytest.approx((100.0, 3.0))
    assert portion.words.startswith("100.0 g + 3.0 g")


def test_grams_by_volume_need_the_densities() -> None:
    portion = portions(ADHESIVE, 90.0)
    assert portion.grams is None
    assert "measure by volume" in portion.words
    sheet = parse_sheet(ADHESIVE.text + '\n[mix]\ndensities = ["1.2 g/ml", "0.9 g/ml"]\n', "mine")
    # by hand: 2 ml at 1.2 and 1 ml at 0.9 are 2.4 g and 0.9 g of 3.3 g
    assert portions(sheet, 66.0).grams == pytest.approx((48.0, 18.0))


@pytest.mark.parametrize("ratio", ["", "by the label", "2:0 by volume", "4 to 1"])
def test_a_ratio_without_numbers_is_left_to_the_label(ratio: str) -> None:
    portion = portions(replace(ADHESIVE, mix_ratio=ratio), 60.0)
    assert (portion.grams, "by the label" in portion.words) == (None, True)


@given(st.floats(0.5, 5000), st.floats(1, 3))
def test_the_grams_add_up(amount_g: float, hardener_pct: float) -> None:
    grams = portions(FILLER, amount_g, hardener_pct).grams
    assert grams is not None
    assert sum(grams) == pytest.approx(amount_g)
    assert grams[1] / grams[0] == pytest.approx(hardener_pct / 100)
