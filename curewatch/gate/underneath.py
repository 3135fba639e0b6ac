"""What lies underneath: the step before on the same part, by its kind and what goes over it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from curewatch.bench.views import MilestoneView, StepView
from curewatch.formats import ReaderFormat, when
from curewatch.garage.part_history import ALL_OF_IT, COVERS, ONLY_THAT
from curewatch.gate.check import Check, Verdict
from curewatch.gate.proposal import Proposal
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
        return f"the filler has not cured long enough for {over}"
    return ""


def _under_words(step: StepView) -> str:
    return f"{step.sheet.name} on this part (step {step.id})"


def underneath(proposal: Proposal, say: ReaderFormat) -> Check | None:
    """The step before on the same part: too early, inside its window, past it, or not tested."""
    step = proposal.under
    return None if step is None else _with_failed(_on(proposal, say, step), proposal.failed_under)


def _with_failed(check: Check, failed: StepView | None) -> Check:
    """What an abandoned batch adds: it may be on the part, over what was judged."""
    if failed is None:
        return check
    words = f"{check.words}; {_under_words(failed)} failed since"
    verdict: Verdict = "stop" if check.verdict == "stop" else "caution"
    change = "; ".join(filter(None, (ONLY_THAT, check.change)))
    return replace(check, verdict=verdict, words=words, change=change)


def _on(proposal: Proposal, say: ReaderFormat, step: StepView) -> Check:
    """How far the step underneath is."""
    if step.state == "abandoned":
        words = f"{_under_words(step)} failed"
        return Check("underneath", "stop", words, source="the logbook", change=ALL_OF_IT)
    closes = step.by_name.get("recoat_closes")
    if closes is not None and closes.shown is not None and closes.shown <= proposal.now:
        ago = when(closes.shown, proposal.now, say)
        words = f"{_under_words(step)}: its recoat window closed {ago}"
        return Check(
            "underneath", "caution", words, source="the label", change=SCUFF, at=closes.shown
        )
    milestones = (step.by_name.get(name) for name in _needed(step.sheet.kind, proposal.sheet.kind))
    opens = next((milestone for milestone in milestones if milestone is not None), None)
    if opens is None:
        words = f"{_under_words(step)}: its label gives no time for what comes next"
        change = "test it: fingernail in a hidden place, trial sanding of an edge"
        return Check("underneath", "caution", words, source="the label", change=change)
    return _opening(proposal, say, step, opens, closes)


def _opening(
    proposal: Proposal,
    say: ReaderFormat,
    step: StepView,
    opens: MilestoneView,
    closes: MilestoneView | None,
) -> Check:
    name, source = in_words(opens.name), "the label, by the measured temperature"
    head = f"{_under_words(step)}: {name}"
    if opens.reached:
        words = f"{head} was tested: reached"
        if closes is not None and closes.shown is not None:
            words += f"; its window closes {when(closes.shown, proposal.now, say)}"
        return Check("underneath", "go", words, source="your own test")
    late, early = opens.late, opens.early
    if late is not None and late <= proposal.now and not opens.not_yet:
        words = f"{head} has been due since {say.moment(late, proposal.now)}, not tested"
        return Check("underneath", "caution", words, source=source, change="test now", at=late)
    verdict: Verdict = "stop"
    if early is not None and early <= proposal.now and not opens.not_yet:
        verdict = "caution"
    text = _expected(opens, proposal.now, say)
    young = _young(step.sheet.kind, proposal.sheet.kind, opens.name)
    words = joined(f"{head} not reached: {text}", young, _solvent(proposal, say, step))
    change = "wait and test, or warm that part"
    if volatile(step.sheet):
        change = f"{change}; {', '.join(NO_HEAT)}"
    return Check("underneath", verdict, words, source=source, change=change, at=late)


def _expected(opens: MilestoneView, now: datetime, say: ReaderFormat) -> str:
    """When it is likely, and at the latest."""
    if opens.late is None:
        return "no time can be given"
    latest = f"at the latest {say.moment(opens.late, now)}"
    if opens.likely is None or opens.likely <= now:
        return latest
    return f"likely {say.moment(opens.likely, now)}, {latest}"


def _solvent(proposal: Proposal, say: ReaderFormat, step: StepView) -> str:
    """That its solvent is still on its way out, and until when."""
    name = leaving(step.sheet)
    flash_off = None if name is None else step.by_name.get(name)
    if name is None or (flash_off is not None and flash_off.reached):
        return ""
    if flash_off is None or flash_off.late is None:
        return "solvent may still be evaporating"
    if flash_off.late <= proposal.now:
        return ""
    return (
        f"solvent is still evaporating, until {say.moment(flash_off.late, proposal.now)} at the "
        f"latest"
    )
