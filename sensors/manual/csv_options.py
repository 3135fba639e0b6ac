"""What the user may say about a data logger's file, and what has to be asked. Pure."""

from __future__ import annotations

from datetime import tzinfo
from typing import Literal

from curewatch.climate.reading import Quantity
from curewatch.errors import ReadingError
from curewatch.frozen import frozen

Option = Literal["zone", "dates", "columns", "unit", "rows"]


@frozen
class FileOptions:
    """What the user says about a file; None and () where the file is to show it.

    zone: of times that name none; dates: dmy or mdy; columns: the names of those to take;
    quantity, unit: of these columns; rows: "COLUMN=VALUE", the lines of one sensor.
    """

    zone: tzinfo | None = None
    dates: str | None = None
    columns: tuple[str, ...] = ()
    quantity: Quantity | None = None
    unit: str | None = None
    rows: str | None = None


class Unclear(ReadingError):
    """A file that can be read in several ways: `option` settles it, by one of `choices` if any."""

    def __init__(
        self, what: str, *, where: str, fix: str, option: Option, choices: tuple[str, ...] = ()
    ) -> None:
        super().__init__(what, where=where, fix=fix)
        self.option, self.choices = option, choices
