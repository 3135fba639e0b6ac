"""The benchmarks run, and what is stored stays near what plain SQLite takes."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from curewatch.store.store import Store
from tests.bench import bench, best_reader, browser, published
from tests.support.virtual_garages import HARSH


def test_the_benchmarks_print_a_row_each(tmp_path: Path) -> None:
    result = bench.recomputed(tmp_path, 1)
    assert result.ours_s > result.baseline_s > 0
    assert result.row().startswith("| bench of 20 steps recomputed | ")


def test_storing_costs_little_over_plain_sqlite(tmp_path: Path) -> None:
    result = bench.stored(tmp_path, 3)
    assert result.ours_s < 4 * result.baseline_s


def test_every_reading_of_the_benchmark_is_a_new_one(tmp_path: Path) -> None:
    held = bench.batches(1000)
    store = Store(tmp_path / "ours.sqlite")
    assert [store.add_readings(batch) for batch in held] == [100] * 10
    store.close()


def test_a_row_gives_the_ratio() -> None:
    row = bench.Result("this", 0.003, "that", 0.002).row()
    assert row == "| this | 3.0 ms | that | 2.0 ms | 1.5 |"


def test_a_figure_of_the_page_over_its_bound_is_said_to_be_missed() -> None:
    assert browser.PageRow("refresh", 60.0, 9.0, "ms", 50.0).line().endswith("| 50 ms | MISSED |")
    assert browser.PageRow("refresh", 50.0, 9.0, "ms", 50.0).line().endswith("| 50 ms | met |")
    assert browser.PageRow("server", 5.0, 3.0, "%").met


@pytest.mark.parametrize(
    ("figure", "said"), [(0.1, "met"), (0.2, "not met"), (math.nan, "none to compare")]
)
def test_an_empty_group_of_published_times_neither_meets_nor_misses_its_target(
    figure: float, said: str
) -> None:
    assert published.verdict(figure, 0.0, 0.15) == said


def test_the_best_reader_misses_what_scatters_beside_what_was_seen() -> None:
    """By the median of |x| of a normal x, 0.6745 standard deviations (tables)."""
    rng = np.random.default_rng(1)
    seen, own = rng.normal(0.0, 0.2, 20_000), rng.normal(0.0, 0.1, 20_000)
    left = best_reader.left_by(seen[:, None], seen + own)
    assert float(np.median(left)) == pytest.approx(0.06745, rel=0.03)


def test_the_best_reader_gains_by_what_is_seen() -> None:
    left = {words: float(np.median(rest)) for words, rest in best_reader.best(HARSH, 3).items()}
    nothing = left["nothing but the label"]
    assert left["its turn, without error"] < nothing
    assert left["one look at clamps off, without error"] < nothing
