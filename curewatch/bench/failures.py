"""Whatever fails while one step is worked out is that step's damage, and ends nothing else."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from curewatch.errors import StoreError
from curewatch.garage.step import DamagedStep, Step

_LOG = logging.getLogger(__name__)
REASON = "its times cannot be worked out from what was entered of it and of its product"
FIX = "its history shows what was entered; what is wrong there can be undone"


class Failures:
    """The steps that could not be worked out since the start, each logged once as it was told."""

    def __init__(self) -> None:
        self._logged = set[tuple[int, int]]()

    @property
    def steps(self) -> set[int]:
        """The numbers of the steps that could not be worked out."""
        return {number for number, _ in self._logged}

    @contextmanager
    def of(self, step: Step) -> Iterator[None]:
        """Raises DamagedStep for whatever fails inside, but for what the disk says."""
        try:
            yield
        except (DamagedStep, StoreError):
            raise
        except Exception as error:
            self._log(step, error)
            raise DamagedStep(step.id, REASON, FIX) from error

    def _log(self, step: Step, error: Exception) -> None:
        key = (step.id, step.last_event)
        if key not in self._logged:
            self._logged.add(key)
            text = "step %d: %s (failure %d since the start)"
            _LOG.error(text, step.id, REASON, len(self._logged), exc_info=error)
