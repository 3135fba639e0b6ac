"""How a milestone is said: what to do, how to test it, what can be answered, what was found."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from curewatch.formats import ReaderFormat, when
from curewatch.logbook.paper import RESULTS
from curewatch.vocabulary import in_words

if TYPE_CHECKING:
    from curewatch.bench.views import MilestoneView

DO = {
    "pot_life": "Use up the mix: {part}",
    "working_time": "Finish working {part}",
    "clamp_time": "Unclamp {part}",
    "sand_ready": "Sand {part}",
    "recoat_opens": "Recoat {part}",
    "recoat_closes": "Recoat window closes: {part}",
    "full_cure": "Full cure: {part}",
}
THEN = {
    "pot_life": "mix used up",
    "working_time": "working time ends",
    "clamp_time": "clamps off",
    "sand_ready": "sand",
    "recoat_opens": "recoat opens",
    "recoat_closes": "recoat closes",
    "full_cure": "full cure",
}
TEST = {
    "pot_life": "Lift the stick: strings or lumps mean the mix is past use.",
    "working_time": "Draw the spreader through it: does it still wet and level?",
    "clamp_time": "Fingernail into the dab beside the joint, in a hidden place: no mark? "
    "Loosen one clamp and watch.",
    "sand_ready": "Trial-sand a hidden edge, three strokes: dust, or gum on the paper?",
    "recoat_opens": "Press tape on a hidden edge and pull: does it come away clean?",
    "recoat_closes": "The label's recoat window is over. Not coated yet? Scuff before coating.",
    "full_cure": "Fingernail in a hidden place: no mark, no smell of solvent on the paper?",
}
QUESTION = {
    "pot_life": "Still good in the pot?",
    "working_time": "Still workable?",
    "clamp_time": "Clamps off?",
    "sand_ready": "Sand-ready?",
    "recoat_opens": "Recoat?",
    "recoat_closes": "Recoat window closed:",
    "full_cure": "Fully cured?",
}
LATER = "Ask me in 10 min"
ANSWERS = {
    "pot_life": {"gone-off": "No, strings or lumps", "still-works": "Yes"},
    "working_time": {"gone-off": "No, it drags", "still-works": "Yes"},
    "clamp_time": {"reached": "Ready, clamps can come off", "not-yet": "Not yet"},
    "sand_ready": {"reached": "Ready to sand", "not-yet": "Not yet"},
    "recoat_opens": {"reached": "Ready to recoat", "not-yet": "Not yet"},
    "recoat_closes": {"reached": "Noted"},
    "full_cure": {"reached": "Fully cured", "not-yet": "Not yet"},
}
SAVED = {
    "gone-off": "no longer workable",
    "still-works": "still workable",
    "reached": "ready",
    "not-yet": "not yet",
}


def do(name: str, part: str) -> str:
    """The one thing to do, as a sentence."""
    return DO.get(name, "{part}").format(part=part)


def then(name: str, part: str) -> str:
    """A later thing, short."""
    return f"{part}: {THEN.get(name, in_words(name))}"


def test_now(name: str, part: str) -> str:
    """The sentence of a countdown that has run out."""
    return f"{QUESTION.get(name, in_words(name))} {part}"


def call(name: str) -> str:
    """What stands before that sentence: a window that closed by its label is no test."""
    return "Now" if name == "recoat_closes" else "Test now"


def recorded(
    answer: str, milestone: MilestoneView | None, now: datetime, say: ReaderFormat, part: str = ""
) -> str:
    """What is said once a test's answer is saved, and when it is asked again; part: what it is
    about, where that is not said anyway."""
    name = milestone.name if milestone else ""
    noted = name == "recoat_closes" and answer == "reached"
    head = f"Saved for {part}" if part else "Saved"
    texts = [f"{head}: {'noted' if noted else SAVED[answer]}."] if answer in SAVED else []
    if milestone is not None and milestone.reopened is not None:
        texts.append(f"The answer of {say.moment(milestone.reopened, now)} no longer counts.")
    if milestone is not None and not milestone.reached:
        at = when(milestone.shown, now, say) if milestone.shown else "once it can be timed"
        texts.append(f"I'll ask again {at}.")
    return " ".join(texts)


def result_words(milestone: MilestoneView, now: datetime, say: ReaderFormat) -> str:
    """What a test found, and when; and what it had found before, where that stands no more."""
    texts = []
    if milestone.answered is not None and milestone.answered_at is not None:
        texts.append(f"{RESULTS[milestone.answered]} {say.moment(milestone.answered_at, now)}")
    if milestone.reopened is not None:
        texts.append(f"the answer of {say.moment(milestone.reopened, now)} no longer counts")
    return "; ".join(texts)


def no_time(name: str, part: str) -> str:
    """The sentence where the model gives no time."""
    return f"{part}: no time for {in_words(name)}"


test_now.__test__ = False  # type: ignore[attr-defined]
