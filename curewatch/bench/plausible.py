"""Whether a test or a look can have found what is entered; what can hardly be is asked about first.

The early and likely times tell how wide the scatter is: of the logarithm of the time, normal, with
the early bound at its 5 % (2.5 % for what must not be missed) and the likely time at its 50 %.
Sooner than all but one in a thousand is asked about.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from curewatch.durations import duration
from curewatch.errors import StepError
from curewatch.units import minutes
from curewatch.vocabulary import GONE_OFF, SHARE_EARLY, TURNS, answers_to, early_share, in_words

if TYPE_CHECKING:
    from curewatch.bench.views import MilestoneView, StepView

ONE_IN = 1000
UNTIMED_SHARE = 0.5


def soonest_min(
    early_min: float | None, likely_min: float | None, label_min: float, share: float = SHARE_EARLY
) -> float:
    """Before which hardly a batch in a thousand is there. [min]; all [min]

    share: how likely it is there before the early bound [-]. Without a likely time it is half the
    early bound, or half the label's own time: assumed.

    >>> round(soonest_min(60.0, 100.0, 50.0)), soonest_min(None, None, 50.0)
    (38, 25.0)
    """
    if early_min is None or likely_min is None:
        return UNTIMED_SHARE * (early_min or label_min)
    from statistics import NormalDist

    reach = NormalDist().inv_cdf(1 / ONE_IN) / NormalDist().inv_cdf(share)
    return float(likely_min * (early_min / likely_min) ** reach)


def _soonest(step: StepView, milestone: MilestoneView) -> float:
    """Of a milestone on the clock [min]; a window's end is the label's clock, and never sooner."""
    early, likely = (
        None if at is None else minutes(at - step.mixed_at)
        for at in (milestone.early, milestone.likely)
    )
    if milestone.name == "recoat_closes":
        return milestone.label_min if early is None else early
    return soonest_min(early, likely, milestone.label_min, early_share(milestone.name))


def too_soon(step: StepView, name: str, after_min: float) -> str:
    """Why a milestone can hardly be reached after so long [min], in words; '' where it can."""
    milestone = step.by_name.get(name)
    if milestone is None or after_min >= (soonest := _soonest(step, milestone)):
        return ""
    over = " over" if GONE_OFF in answers_to(name) else ""
    after = duration(max(1.0, after_min))
    return f"{in_words(name)}{over} after only {after}: hardly possible before {duration(soonest)}"


def check_turn(state: str, turned_min: float | None, after_min: float) -> None:
    """That a dab of this state turned, and how long ago. Raises StepError.

    turned_min: before the look, None where only that it had; after_min: of the look. [min]
    """
    if turned_min is None:
        return
    if state not in TURNS:
        what = f"a dab that is {state} shows no turn"
        raise StepError(what, fix=f"give how long ago it turned for {', '.join(TURNS)}")
    if not 0 <= turned_min <= after_min:
        what = "the dab would have turned before the mixing"
        raise StepError(what, fix="check how long ago it turned")
