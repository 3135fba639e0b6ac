"""What can go wrong, each as one sentence that says what, where and what to do.

CurewatchError
    QuantityError   a text that is no quantity, or one outside its range   (ValueError)
    ReadingError    a measurement that cannot be taken                     (ValueError)
    SheetError      a product sheet that cannot be used                    (ValueError)
    ModelError      an estimate the model refuses                          (ValueError)
    StepError       a step or product that is not there, or cannot do this (LookupError)
        UnlikelyError   what can hardly be, until it is said to be so
    ConfigError     curewatch.toml or a command's options                  (ValueError)
    PhotographError a photograph that cannot be taken                      (ValueError)
    StoreError      the data folder or its database                        (OSError)
"""

from __future__ import annotations


class CurewatchError(Exception):
    """Any error that a user can mend; its text is a whole sentence."""

    def __init__(self, what: str, *, where: str = "", fix: str = "") -> None:
        sentence = f"{where}: {what}" if where else what
        whole = f"{sentence}; {fix}" if fix else sentence
        super().__init__(whole if whole.endswith("?") else f"{whole}.")
        self.what, self.where, self.fix = what, where, fix

    def __str__(self) -> str:
        return str(self.args[0])


class QuantityError(CurewatchError, ValueError):
    """A text that is no quantity, or a quantity outside its range."""


class ReadingError(CurewatchError, ValueError):
    """A measurement that cannot be taken."""


class SheetError(CurewatchError, ValueError):
    """A product sheet that cannot be used."""


class ModelError(CurewatchError, ValueError):
    """An estimate that the model refuses to give."""


class StepError(CurewatchError, LookupError):
    """A step or product that is not there, or an event that does not fit it."""


class UnlikelyError(StepError):
    """What can hardly be: not stored until it is entered again as being so."""


class StillOpenError(StepError):
    """A step is taken off the bench before what must be waited for."""


class ConfigError(CurewatchError, ValueError):
    """A setting that is unknown or out of range."""


class PhotographError(CurewatchError, ValueError):
    """A photograph that cannot be taken."""


class StoreError(CurewatchError, OSError):
    """A data folder or database that cannot be used."""
