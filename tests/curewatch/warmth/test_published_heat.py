"""What heat buys, held against a published cure at two temperatures."""

from __future__ import annotations

from tests.support.published_times import TABLES, hold


def test_an_adhesive_heated_to_104_f_hardens_between_the_bounds_of_its_row_at_70_f() -> None:
    # US Army TM 1-1520-240-BD, p. 90, adhesive system 5: 24 h at 70 F, 11 h at 104 F; halving every
    # 10 C would promise 6.5 h
    table = next(table for table in TABLES if table.key == "C2")
    (heated,) = [row for row in hold(table, 1) if round(row.temperature_c) == 40]
    assert heated.published_min == 660
    assert heated.early_min <= heated.published_min <= heated.late_min
