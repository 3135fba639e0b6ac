"""What a sensor of the home network may write and hear."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sensors.tree import Tree
from sensors.waits import FREE, MOST_ADDRESSES, MOST_S, Waits

TREE = Tree(("curewatch/+/+", "garage/+/state", "#"))
LEVELS = st.lists(st.sampled_from(["curewatch", "bench", "button", "panel", "", "a", "$SYS"]))


@given(LEVELS.map("/".join), st.booleans())
def test_no_mapping_opens_what_curewatch_says_itself(topic: str, buttons: bool) -> None:
    tree = Tree(TREE.filters, buttons)
    if topic.startswith(("curewatch/bench", "$")):
        assert not tree.may_write(topic)
    if topic.startswith("curewatch/button"):
        assert tree.may_write(topic) is buttons


@pytest.mark.parametrize(
    ("topic", "reading", "written"),
    [
        ("curewatch/panel/air_temperature", True, True),
        ("curewatch/panel/air/raw", False, True),
        ("garage/7/state", True, True),
        ("garage/7/battery", False, False),
        ("curewatch/bench/air_temperature", True, False),
        ("curewatch/bench/online", False, False),
        ("curewatch/bench/3/clamp_time", False, False),
    ],
)
def test_what_holds_a_reading_and_what_may_be_written(
    topic: str, reading: bool, written: bool
) -> None:
    tree = Tree(("curewatch/+/+", "garage/+/state"))
    assert (tree.is_reading(topic), tree.may_write(topic)) == (reading, written)


def test_an_address_waits_twice_as_long_for_each_wrong_password() -> None:
    waits, now_s = Waits(), 0.0
    for _ in range(FREE):
        assert waits.may("a", now_s)
        waits.wrong("a", now_s)
    for wait_s in (1.0, 2.0, 4.0, 8.0):
        assert not waits.may("a", now_s + wait_s - 0.1)
        now_s += wait_s
        assert waits.may("a", now_s)
        waits.wrong("a", now_s)
    assert waits.may("b", now_s)


def test_no_wait_is_longer_than_five_minutes_and_the_right_one_ends_it() -> None:
    waits = Waits()
    for _ in range(1000):
        waits.wrong("a", 0.0)
    assert not waits.may("a", MOST_S - 1)
    assert waits.may("a", MOST_S)
    waits.right("a")
    assert waits.may("a", 0.0)


def test_addresses_are_not_remembered_without_end() -> None:
    waits = Waits()
    for n in range(MOST_ADDRESSES + 500):
        waits.wrong(f"10.0.{n // 250}.{n % 250}", 0.0)
    assert len(waits._wrong) == MOST_ADDRESSES
