"""Parts: their mark, the bare clock, what ends it and what is only asked."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.bench.bench import Bench, Details
from curewatch.climate.bare_steel import bare_hours, surface_humidity_pct, weight
from curewatch.climate.conditions import constant
from curewatch.climate.reading import make_reading
from curewatch.errors import StepError
from curewatch.garage import parts
from curewatch.garage.part_history import key_of
from curewatch.store.store import Store

NOW = datetime(2026, 11, 25, 18, 30, tzinfo=UTC)
RIB, JOB = "left rear rib", "rear corner"
percent = st.floats(0, 100)
celsius = st.floats(-15, 45)


def hours(value: float) -> timedelta:
    return timedelta(hours=value)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    store = Store(tmp_path / "curewatch.sqlite")
    yield Bench(store)
    store.close()


def bare_rib(bench: Bench) -> None:
    """The rib was cleaned to metal."""
    parts.bared(
        bench.store,
        RIB,
        JOB,
        now=NOW,
        since=NOW - hours(3),
        grit="80",
        cleaned_with="panel wipe, two rags",
    )


def test_a_part_is_marked_and_found_however_it_is_typed(bench: Bench) -> None:
    assert parts.part(bench.reader, RIB, JOB, NOW).kind == "body"
    parts.mark(bench.store, "Seat  mount", "Floor", "structural", now=NOW)
    assert parts.part(bench.reader, "seat mount", "floor", NOW).kind == "structural"
    assert parts.part(bench.reader, "SEAT MOUNT", "", NOW).kind == "structural"
    parts.mark(bench.store, "seat mount", "floor", "body", now=NOW)
    assert parts.part(bench.reader, "seat mount", "floor", NOW).kind == "body"
    assert [part.name for part in parts.parts(bench.reader, NOW)] == ["seat mount"]


def test_a_wrong_kind_or_a_part_without_a_name_is_refused(bench: Bench) -> None:
    with pytest.raises(StepError, match="use body or structural"):
        parts.mark(bench.store, RIB, JOB, "wood", now=NOW)
    with pytest.raises(StepError, match="no name"):
        parts.bared(bench.store, "  ", JOB, now=NOW)
    with pytest.raises(StepError, match="future"):
        parts.bared(bench.store, RIB, JOB, now=NOW, since=NOW + hours(1))


def test_the_clock_runs_from_when_it_was_cleaned(bench: Bench) -> None:
    bare_rib(bench)
    part = parts.part(bench.reader, RIB, JOB, NOW)
    assert (part.bare_since, part.grit) == (NOW - hours(3), "80")
    assert part.cleaned_with == "panel wipe, two rags"
    assert part.bare_hours == pytest.approx(3.0, abs=0.05)
    assert not part.damp_known


def test_damp_air_makes_it_run_faster(bench: Bench) -> None:
    bare_rib(bench)
    start = NOW - hours(4)
    readings = [
        make_reading("air", "relative_humidity", 90.0, start + hours(n / 4), "probe")
        for n in range(17)
    ]
    bench.store.add_readings(readings)
    part = parts.part(bench.reader, RIB, JOB, NOW)
    assert part.damp_known
    assert part.bare_hours == pytest.approx(9.0, abs=0.1)


def test_cleaning_again_starts_the_clock_again(bench: Bench) -> None:
    bare_rib(bench)
    parts.bared(bench.store, RIB, JOB, now=NOW, since=NOW - hours(1))
    part = parts.part(bench.reader, RIB, JOB, NOW)
    assert (part.bare_since, part.grit) == (NOW - hours(1), "")


@pytest.mark.parametrize("sheet", ["epoxy-primer", "seam-sealer"])
def test_a_primer_or_sealer_over_it_ends_the_clock(bench: Bench, sheet: str) -> None:
    bare_rib(bench)
    bench.start(sheet, now=NOW, details=Details(part=RIB.upper(), job=JOB))
    part = parts.part(bench.reader, RIB, JOB, NOW)
    assert (part.bare_since, part.asked_step) == (None, None)


@pytest.mark.parametrize("sheet", ["epoxy-panel-adhesive", "fibre-polyester-filler"])
def test_after_filler_or_adhesive_it_is_asked_and_goes_on(bench: Bench, sheet: str) -> None:
    bare_rib(bench)
    number = bench.start(sheet, now=NOW - hours(1), details=Details(part=RIB, job=JOB))
    part = parts.part(bench.reader, RIB, JOB, NOW)
    assert (part.asked_step, part.bare_since) == (number, NOW - hours(3))
    parts.still_bare(bench.store, RIB, JOB, now=NOW)
    still = parts.part(bench.reader, RIB, JOB, NOW)
    assert (still.asked_step, still.bare_since) == (None, NOW - hours(3))
    parts.covered(bench.store, RIB, JOB, now=NOW + hours(1))
    assert parts.part(bench.reader, RIB, JOB, NOW + hours(2)).bare_since is None


def test_what_covers_nothing_leaves_the_clock_running(bench: Bench) -> None:
    before = bench.start("epoxy-primer", now=NOW - hours(5), details=Details(part=RIB, job=JOB))
    bare_rib(bench)
    bench.start("epoxy-primer", now=NOW, details=Details(part="other rib", job=JOB))
    bench.start("epoxy-primer", now=NOW, details=Details(part=RIB, job="another job"))
    failed = bench.start("epoxy-primer", now=NOW, details=Details(part=RIB, job=JOB))
    bench.abandon(failed, "ran", now=NOW)
    part = parts.part(bench.reader, RIB, JOB, NOW)
    assert part.bare_since == NOW - hours(3)
    assert (part.last_step, part.failed_step) == (before, failed)
    bench.amend(failed, Details(batch="B 12"), now=NOW)
    assert parts.part(bench.reader, RIB, JOB, NOW).bare_since == NOW - hours(3)


def test_a_primer_from_before_it_was_said_to_be_bare_is_asked_about(bench: Bench) -> None:
    number = bench.start("epoxy-primer", now=NOW - hours(1))
    bare_rib(bench)
    assert parts.part(bench.reader, RIB, JOB, NOW).asked_step is None
    bench.amend(number, Details(part=RIB, job=JOB), now=NOW)
    part = parts.part(bench.reader, RIB, JOB, NOW)
    assert (part.asked_step, part.bare_since) == (number, NOW - hours(3))
    parts.covered(bench.store, RIB, JOB, now=NOW)
    assert parts.part(bench.reader, RIB, JOB, NOW).asked_step is None


def test_after_still_bare_a_primer_mixed_later_covers_it(bench: Bench) -> None:
    bare_rib(bench)
    bench.start("fibre-polyester-filler", now=NOW, details=Details(part=RIB, job=JOB))
    parts.still_bare(bench.store, RIB, JOB, now=NOW + hours(1))
    bench.start("epoxy-primer", now=NOW + hours(2), details=Details(part=RIB, job=JOB))
    part = parts.part(bench.reader, RIB, JOB, NOW + hours(3))
    assert (part.bare_since, part.asked_step) == (None, None)


def test_the_last_word_counts_also_when_the_clock_was_set_back(bench: Bench) -> None:
    bare_rib(bench)
    back = NOW - hours(5)
    parts.covered(bench.store, RIB, JOB, now=back)
    assert parts.part(bench.reader, RIB, JOB, back).bare_since is None
    parts.bared(bench.store, RIB, JOB, now=back - hours(1))
    assert parts.part(bench.reader, RIB, JOB, back).bare_since == back - hours(1)
    assert parts.part(bench.reader, RIB, JOB, back - hours(2)).bare_hours == 0.0


def test_a_mix_moved_to_before_the_cleaning_covers_nothing(bench: Bench) -> None:
    bare_rib(bench)
    number = bench.start("epoxy-primer", now=NOW, details=Details(part=RIB, job=JOB))
    assert parts.part(bench.reader, RIB, JOB, NOW).bare_since is None
    bench.amend(number, Details(), now=NOW, mixed_at=NOW - hours(8), why="the day before")
    assert parts.part(bench.reader, RIB, JOB, NOW).bare_since == NOW - hours(3)


def test_the_longest_bare_comes_first(bench: Bench) -> None:
    bare_rib(bench)
    parts.bared(bench.store, "skin", JOB, now=NOW, since=NOW - hours(9))
    parts.mark(bench.store, "roof", "another", "body", now=NOW)
    assert [part.name for part in parts.bare(parts.parts(bench.reader, NOW))] == ["skin", RIB]
    assert [part.name for part in parts.parts(bench.reader, NOW, "REAR corner")] == [RIB, "skin"]


@pytest.mark.parametrize(
    ("pct", "times"), [(20, 1), (50, 1), (65, 1.5), (80, 2), (90, 3), (100, 4)]
)
def test_how_much_faster_at_which_humidity(pct: float, times: float) -> None:
    assert weight(np.array([float(pct)]))[0] == pytest.approx(times)


def test_metal_under_the_dew_point_is_wet(bench: Bench) -> None:
    one = np.ones(1)
    assert surface_humidity_pct(5.0 * one, 20.0 * one, 60.0 * one)[0] == 100.0
    assert surface_humidity_pct(20.0 * one, 20.0 * one, 60.0 * one)[0] == pytest.approx(60.0)


@given(percent, percent, celsius, st.floats(0, 600), st.floats(0, 600))
def test_the_clock_never_runs_back_and_never_slower_when_damper(
    one: float, two: float, surface_c: float, early: float, late: float
) -> None:
    dry, damp = sorted((one, two))
    short, long = sorted((early, late))

    def at(minutes: float, pct: float) -> float:
        return bare_hours(constant(NOW, minutes, surface_c=surface_c, humidity_pct=pct))

    assert at(short, dry) <= at(long, dry) + 1e-9
    assert at(long, dry) <= at(long, damp) + 1e-9
    assert at(long, dry) >= int(long) / 60 - 1e-9


@given(celsius, celsius, celsius, percent)
def test_colder_metal_is_never_drier(one: float, two: float, air_c: float, pct: float) -> None:
    cold, warm = sorted((one, two))
    wet = surface_humidity_pct(np.array([cold, warm]), np.full(2, air_c), np.full(2, pct))
    assert wet[0] >= wet[1]


def test_a_very_long_name_is_cut_and_still_found(bench: Bench) -> None:
    name = "left rear rib " * 60
    parts.mark(bench.store, name, JOB, "structural", now=NOW)
    assert parts.part(bench.reader, name, JOB, NOW).kind == "structural"


@given(st.text(min_size=1, max_size=60), st.text(max_size=30))
def test_a_part_may_be_named_in_any_script(name: str, job: str) -> None:
    with TemporaryDirectory() as folder:
        store = Store(Path(folder) / "curewatch.sqlite")
        bench = Bench(store)
        if not key_of(name, job)[0]:
            with pytest.raises(StepError, match="no name"):
                parts.bared(store, name, job, now=NOW)
        else:
            parts.bared(store, name, job, now=NOW - hours(1))
            part = parts.part(bench.reader, name, job, NOW)
            assert part.bare_since == NOW - hours(1)
            bench.start("epoxy-primer", now=NOW, details=Details(part=name, job=job))
            assert parts.part(bench.reader, name, job, NOW).bare_since is None
        store.close()


PRIMER, FILLER = "epoxy-primer", "fibre-polyester-filler"


def primed(bench: Bench, part: str, job: str, product: str = PRIMER) -> int:
    """A step on a part, mixed now."""
    return bench.start(product, now=NOW, details=Details(part=part, job=job))


@pytest.mark.parametrize(("bared_in", "mixed_in"), [(JOB, ""), ("", JOB), (JOB, JOB.upper())])
def test_a_primer_ends_the_bare_clock_however_its_job_was_told(
    bench: Bench, bared_in: str, mixed_in: str
) -> None:
    parts.bared(bench.store, RIB, bared_in, now=NOW - hours(1))
    step = primed(bench, "Left rear rib", mixed_in)
    (part,) = parts.parts(bench.reader, NOW)
    assert (part.bare_since, part.last_step) == (None, step)
    assert part.job.casefold() == JOB


def test_a_job_that_is_told_later_ends_the_bare_clock_too(bench: Bench) -> None:
    parts.bared(bench.store, RIB, JOB, now=NOW - hours(1))
    parts.bared(bench.store, RIB, "roof", now=NOW - hours(1))
    step = primed(bench, RIB, "")
    bench.amend(step, Details(job=JOB), now=NOW)
    bare = {part.job for part in parts.parts(bench.reader, NOW) if part.bare_since}
    assert bare == {"roof"}


@pytest.mark.parametrize("job", ["", "doors"])
def test_where_two_jobs_have_a_part_of_that_name_the_clocks_run_on_and_it_is_asked(
    bench: Bench, job: str
) -> None:
    for text in (JOB, "roof"):
        parts.bared(bench.store, RIB, text, now=NOW - hours(1))
    step = primed(bench, RIB, job)
    by_job = {part.job: part for part in parts.parts(bench.reader, NOW)}
    assert [by_job[job].asked_step for job in (JOB, "roof")] == [step, step]
    assert all(by_job[job].bare_since for job in (JOB, "roof"))
    parts.still_bare(bench.store, RIB, "roof", now=NOW)
    parts.covered(bench.store, RIB, JOB, now=NOW)
    by_job = {part.job: part for part in parts.parts(bench.reader, NOW)}
    assert by_job["roof"].bare_since
    assert not by_job[JOB].bare_since
    assert {by_job[job].asked_step for job in (JOB, "roof")} == {None}


TELLS = (parts.covered, parts.still_bare, parts.done)


@pytest.mark.parametrize("tell", TELLS)
def test_a_part_is_found_by_its_name_whatever_job_is_named(bench: Bench, tell: Any) -> None:
    bare_rib(bench)
    for job in ("", "rear corer", JOB):
        assert tell(bench.store, RIB, job, now=NOW).job == JOB
    assert len(parts.parts(bench.reader, NOW)) == 1


@pytest.mark.parametrize("tell", TELLS)
def test_a_part_that_two_jobs_have_is_asked_about(bench: Bench, tell: Any) -> None:
    bare_rib(bench)
    parts.bared(bench.store, RIB, "roof", now=NOW)
    with pytest.raises(StepError, match="in 'rear corner' and 'roof'; name its job"):
        tell(bench.store, RIB, "", now=NOW)
    assert tell(bench.store, RIB, "Roof", now=NOW).job == "roof"


@pytest.mark.parametrize("tell", TELLS)
def test_a_part_nobody_knows_is_refused_with_the_nearest_names(bench: Bench, tell: Any) -> None:
    with pytest.raises(StepError, match="no part 'rib'; no part is known yet"):
        tell(bench.store, "rib", "", now=NOW)
    bare_rib(bench)
    with pytest.raises(
        StepError, match=r"no part 'left raer rib'; did you mean 'left rear rib'\?$"
    ):
        tell(bench.store, "left raer rib", JOB, now=NOW)
    with pytest.raises(StepError, match=r"no part 'bonnet'; the parts are 'left rear rib'\.$"):
        tell(bench.store, "bonnet", JOB, now=NOW)
    assert len(parts.parts(bench.reader, NOW)) == 1
