"""What the bench's questions are made of, and what each is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from curewatch.bench.views import BenchView, StepView
from curewatch.formats import ReaderFormat
from curewatch.frozen import frozen
from curewatch.garage.step import Step, WitnessView
from curewatch.garage.unnamed_mix import UnnamedMix
from curewatch.protection.purge import Purge

if TYPE_CHECKING:
    from curewatch.week.taken import PlanReminder


@frozen
class QuestionData:
    """What the questions are made of, beside the view. turned: a step whose dab was seen turned a
    while ago, and that look, until it is told when it turned; begins: what the plan that was taken
    over reminds of at present; what_if: the step whose times are shown if it were warmer."""

    view: BenchView
    say: ReaderFormat
    waiting: UnnamedMix | None
    lately: Sequence[Step]
    purges: Sequence[Purge]
    worn_out: Sequence[Any]
    evening: Mapping[str, Any]
    first: bool
    turned: tuple[StepView, WitnessView] | None = None
    begins: PlanReminder | None = None
    what_if: StepView | None = None


@frozen
class BenchQuestion:
    """A row: its name on the chip, what it says, its buttons; kind: how urgent it looks."""

    name: str
    ask: Any
    answers: tuple[Any, ...]
    kind: str = ""
