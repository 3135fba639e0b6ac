"""What lies underneath: the step before on the same part, by its kind and what goes over it."""

from __future__ import annotations

from dataclasses import replace

from curewatch.bench.views import MilestoneView, StepView
from curewatch.formats import Manner, when
from curewatch.garage.lying import ALL_OF_IT, ONLY_THAT
from curewatch.garage.parts import COVERS
from curewatch.gate.check import Check, Verdict
from curewatch.gate.proposal import Asked
from curewatch.gate.remedy import NO_HEAT, joined
from curewatch.products.solvents import leaving, volatile
from curewatch.vocabulary import in_words

SCUFF = "scuff it first, as its label says"
USUAL = ("recoat_opens", "sand_ready", "clamp_time")
SANDED = ("sand_ready", "recoat_opens", "clamp_time")
CLAMPED = ("clamp_time", "sand_ready", "recoat_opens")


def _needed(under: str, over: str) -> tuple[str, ...]:
    """What must have been reached below, by the kinds of both products; the first known counts."""
    if under == "adhesive":
        return CLAMPED if over == "adhesive" else SANDED
    return SANDED if under == "filler" and over not in COVERS else USUAL


def _young(under: str, over: str, name: str) -> str:
    """Why it is too early, where the kinds of both tell more than the milestone does."""
    if under == "filler" and over in COVERS and name == "recoat_opens":
        return f"the filler is too young for {over}"
    return ""


def _under_words(step: StepView) -> str:
    return f"{step.sheet.name} on this part (step {step.id})"


def underneath(asked: Asked, say: Manner) -> Check | None:
    """The step before on the same part: too early, inside its window, past it, or not tested."""
    step = asked.under
    return None if step is None else _with_failed(_on(asked, say, step), asked.failed_under)


def _with_failed(found: Check, failed: StepView | None) -> Check:
    """What an abandoned batch adds: it may be on the part, over what was judged."""
    if failed is None:
        return found
    words = f"{found.words}; {_under_words(failed)} was abandoned since"
    verdict: Verdict = "stop" if found.verdict == "stop" else "caution"
    change = "; ".join(filter(None, (ONLY_THAT, found.change)))
    return replace(found, verdict=verdict, words=words, change=change)


def _on(asked: Asked, say: Manner, step: StepView) -> Check:
    """How far the step underneath is."""
    if step.state == "abandoned":
        words = f"{_under_words(step)} was abandoned"
        return Check("underneath", "stop", words, source="the logbook", change=ALL_OF_IT)
    closes = step.by_name.get("recoat_closes")
    if closes is not None and closes.shown is not None and closes.shown <= asked.now:
        ago = when(closes.shown, asked.now, say)
        words = f"{_under_words(step)}: its recoat window shut {ago}"
        return Check(
            "underneath", "caution", words, source="the sheet", change=SCUFF, at=closes.shown
        )
    found = (step.by_name.get(name) for name in _needed(step.sheet.kind, asked.sheet.kind))
    opens = next((each for each in found if each is not None), None)
    if opens is None:
        words = f"{_under_words(step)}: its sheet gives no time for what comes next"
        change = "test it: fingernail in a hidden place, trial sanding of an edge"
        return Check("underneath", "caution", words, source="the sheet", change=change)
    return _opening(asked, say, step, opens, closes)


def _opening(
    asked: Asked,
    say: Manner,
    step: StepView,
    opens: MilestoneView,
    closes: MilestoneView | None,
) -> Check:
    name, source = in_words(opens.name), "the sheet, by the measured temperature"
    head = f"{_under_words(step)}: {name}"
    if opens.reached:
        words = f"{head} was tested: reached"
        if closes is not None and closes.shown is not None:
            words += f"; its window shuts {when(closes.shown, asked.now, say)}"
        return Check("underneath", "go", words, source="your own test")
    late, early = opens.late, opens.early
    if late is not None and late <= asked.now and not opens.not_yet:
        words = f"{head} is due by the clock since {say.moment(late, asked.now)}, not tested"
        return Check("underneath", "caution", words, source=source, change="test now", at=late)
    verdict: Verdict = "stop"
    if early is not None and early <= asked.now and not opens.not_yet:
        verdict = "caution"
    told = f"not before {say.moment(late, asked.now)}" if late else "no time can be given"
    young = _young(step.sheet.kind, asked.sheet.kind, opens.name)
    words = joined(f"{head} not reached: {told}", young, _solvent(asked, say, step))
    change = "wait and test, or warm that part"
    if volatile(step.sheet):
        change = f"{change}; {', '.join(NO_HEAT)}"
    return Check("underneath", verdict, words, source=source, change=change, at=late)


def _solvent(asked: Asked, say: Manner, step: StepView) -> str:
    """That its solvent is still on its way out, and until when."""
    name = leaving(step.sheet)
    gone = None if name is None else step.by_name.get(name)
    if name is None or (gone is not None and gone.reached):
        return ""
    if gone is None or gone.late is None:
        return "solvent may still be leaving"
    if gone.late <= asked.now:
        return ""
    return f"solvent is still leaving, until {say.moment(gone.late, asked.now)} at the latest"
