"""Sentences about the steps of the log: their names, what was predicted, found and seen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from curewatch.durations import between, duration, rounding
from curewatch.formats import ReaderFormat
from curewatch.garage.step import Step
from curewatch.logbook.courses import CourseMark
from curewatch.logbook.predictions import Prediction
from curewatch.products.sheet import Sheet
from curewatch.vocabulary import in_words
from curewatch.wording import words

BY = {"time": "Time since mixing", "age": "Equivalent age"}
TIME = "Each step from its own mixing on: its surface above, below predicted and actual times."
AGE = (
    "Equivalent age: how long the step would have taken so far at its label's temperature. "
    "Batches of one product should meet the same test at the same age."
)
KEY = (
    ("sign band", "predicted at mixing, early to late"),
    ("sign filled", "reached, by a test"),
    ("sign triangle", "not yet"),
    ("sign diamond", "dab check"),
)
FOUND_KEY = (
    ("sign band", "predicted at mixing, early to late"),
    ("sign filled inside", "actual, by a test, between early and late"),
    ("sign square outside", "actual, outside that"),
    ("sign triangle", "not yet at the last test"),
)
LEARNED = (
    "What this product did in this garage, beside what was predicted when it was mixed, learned "
    "from the steps before it alone."
)
UNTESTED = (
    "No test of its steps has been entered yet. Answer “test now” on the bench, and the answers "
    "stand here beside the predictions."
)


def product_names(ids: Iterable[str], shelf: Mapping[str, Sheet]) -> dict[str, str]:
    """The products' names by id, the id where the shelf has it no more."""
    return {id: words.short_name(shelf[id].name) if id in shelf else id for id in ids}


def name(step: Step) -> str:
    """A step's number and what it is called."""
    return f"{step.id}: {words.part_of(step.part, step.sheet.name)}"


def predicted(prediction: Prediction) -> str:
    """What was predicted of a milestone at mixing."""
    if prediction.early_min is None or prediction.late_min is None:
        return f"{in_words(prediction.milestone)}: no time could be given"
    how = rounding(prediction.milestone)
    band = between(prediction.early_min, prediction.late_min, how)
    return f"{in_words(prediction.milestone)}: predicted {band} after mixing"


def found(prediction: Prediction) -> str:
    """What tests found of a milestone."""
    if prediction.seen_min is not None:
        return f"reached by {duration(prediction.seen_min)}"
    if prediction.not_min is not None:
        return f"not yet at {duration(prediction.not_min)}"
    return "not tested"


def mark(mark: CourseMark) -> str:
    """What was seen, and how long after mixing."""
    after = f"{duration(mark.after_min)} after mixing"
    if mark.kind == "dab":
        return f"dab {words.STATES.get(mark.what, mark.what)}<br>{after}"
    text = "reached" if mark.kind == "reached" else "not yet"
    return f"{in_words(mark.what)}: {text}<br>{after}"


def hits(ratios: Sequence[tuple[float, float, float]], say: ReaderFormat) -> str:
    """How many of the tested were found between early and late; each early, found and late over
    the likely time [-]."""
    if not ratios:
        return "No test has found it reached yet."
    inside = sum(early <= actual <= late for early, actual, late in ratios)
    middle = sorted(actual for _, actual, _ in ratios)[len(ratios) // 2]
    which = "the middle one" if len(ratios) > 1 else "it"
    return (
        f"{len(ratios)} tested: {inside} came between early and late; {which} came "
        f"{say.number(middle, 1)} times as late as predicted. A test tells only that it was "
        "reached by then, so it may have been sooner."
    )
