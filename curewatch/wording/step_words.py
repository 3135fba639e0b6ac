"""What the signs of a step's figure stand for."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from curewatch.garage.step import Answer, Step
from curewatch.vocabulary import is_not_yet

_CLAMPS = {"clamped", "unclamped"}
_NAMED = {"coated", "photographed", *_CLAMPS}


def _not_yet(answers: Sequence[Answer]) -> bool:
    return any(is_not_yet(answer.result) for answer in answers)


def signs(step: Step, kinds: Collection[str]) -> list[tuple[str, str]]:
    """The signs that a step's figure shows, each with its words; kinds: of what happened to it."""
    shown = [
        ("filled done", "reached, by a test", bool(step.reached)),
        ("triangle", "not yet", any(map(_not_yet, step.answers.values()))),
        ("diamond", "dab check", bool(step.witnesses)),
        ("square", "coat", "coated" in kinds),
        ("bowtie", "clamps on or off", bool(_CLAMPS & set(kinds))),
        ("star", "photograph", "photographed" in kinds),
        ("ring", "anything else", bool(set(kinds) - _NAMED)),
        ("heat", "heat", bool(step.heated)),
    ]
    return [(kind, text) for kind, text, there in shown if there]
