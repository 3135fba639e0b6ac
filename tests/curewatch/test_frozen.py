"""Values do what a frozen dataclass does: compared and shown by their fields, and never changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import FrozenInstanceError, dataclass, field, replace
from functools import cached_property
from typing import Any

import pytest

from curewatch.frozen import frozen


def _made(decorated: Callable[[type], type]) -> Any:
    """A class of three fields, one with a default and one that neither counts nor shows."""

    class Can:
        """A can of a product."""

        product: str
        amount_g: float = 900.0
        shelf: str = field(default="", compare=False, repr=False)

        @cached_property
        def words(self) -> str:
            """The can in words."""
            return f"{self.product}, {self.amount_g:g} g"

    Can.__annotations__ = {"product": str, "amount_g": float, "shelf": str}
    return decorated(Can)


CANS = {"ours": _made(frozen), "standard": _made(dataclass(frozen=True))}


@pytest.fixture(params=CANS)
def can(request: pytest.FixtureRequest) -> Any:
    """Our class, and the same one as the standard library makes it."""
    return CANS[request.param]


def test_equal_fields_are_equal_values_with_one_hash(can: Any) -> None:
    one, other = can("primer", 300.0, "door"), can("primer", 300.0, "window")
    assert one == other
    assert hash(one) == hash(other)
    assert one != can("primer", 301.0, "door")
    assert len({one, other, can("filler")}) == 2


def test_a_value_equals_none_of_another_class(can: Any) -> None:
    assert can("primer") != ("primer", 900.0, "")
    assert CANS["ours"]("primer") != CANS["standard"]("primer")


def test_it_is_shown_with_its_fields(can: Any) -> None:
    assert repr(can("primer", shelf="door")).endswith(".Can(product='primer', amount_g=900.0)")


def test_no_field_is_changed_or_removed(can: Any) -> None:
    primer = can("primer")
    for name in ("product", "amount_g", "shelf"):
        with pytest.raises(FrozenInstanceError):
            setattr(primer, name, "filler")
        with pytest.raises(FrozenInstanceError):
            delattr(primer, name)
    assert primer == can("primer")


def test_a_changed_copy_is_made_and_what_is_worked_out_once_is_kept(can: Any) -> None:
    primer = can("primer")
    assert primer.words == "primer, 900 g"
    assert "words" in vars(primer)
    assert replace(primer, amount_g=20.0).words == "primer, 20 g"
