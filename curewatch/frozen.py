"""Values that never change: frozen dataclasses that are quick to make.

`dataclass(frozen=True)` compiles six methods for each class when its module is loaded, and the
bench needs more than a hundred classes. Here only `__init__` is compiled; the other methods are
shared by all classes, and do what those of a frozen dataclass do. What is made by the thousand,
like a reading, stays a `dataclass(frozen=True, slots=True)`: each one of it is made more quickly.
"""

from __future__ import annotations

from dataclasses import FrozenInstanceError, dataclass, field, fields
from operator import attrgetter
from typing import Any, TypeVar, dataclass_transform

_Class = TypeVar("_Class", bound=type)


def _refuse_change(self: object, name: str, value: object) -> None:
    if name in vars(self):
        raise FrozenInstanceError(f"cannot assign to field {name!r}")
    object.__setattr__(self, name, value)


def _refuse_removal(self: object, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _equal(self: Any, other: Any) -> Any:
    if other.__class__ is not self.__class__:
        return NotImplemented
    return self._compared(self) == self._compared(other)


def _hash(self: Any) -> int:
    return hash(self._compared(self))


def _shown(self: Any) -> str:
    shown = [f"{one.name}={getattr(self, one.name)!r}" for one in fields(self) if one.repr]
    return f"{self.__class__.__qualname__}({', '.join(shown)})"


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def frozen(cls: _Class) -> _Class:
    """Make a class with annotated fields a frozen dataclass: compared by its fields, hashable."""
    made: Any = dataclass(repr=False, eq=False)(cls)
    made._compared = attrgetter(*(one.name for one in fields(made) if one.compare))
    made.__setattr__, made.__delattr__ = _refuse_change, _refuse_removal
    made.__eq__, made.__hash__ = _equal, _hash
    if "__repr__" not in vars(cls):
        made.__repr__ = _shown
    return cls
