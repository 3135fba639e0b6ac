"""Settings and labels are checked by one reader: the same fault is said in the same words."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from curewatch.errors import ConfigError, CurewatchError, SheetError
from curewatch.products.sheet import parse_sheet
from curewatch.settings.settings import parse_settings

LABEL = """
name = "Glue"
kind = "adhesive"
chemistry = "epoxy-amine"
[[times]]
temperature = "21 C"
clamp_time = "4 h"
"""


def refusal(read: Callable[[], object], kind: type[CurewatchError]) -> str:
    with pytest.raises(kind) as caught:
        read()
    return str(caught.value)


@pytest.mark.parametrize(
    ("setting", "label", "words"),
    [
        (
            "[page]\nwind = 1",
            "[limits]\nwind = 1",
            "wind is not a key curewatch knows; use one of ",
        ),
        ("copies = 1", "[hazards]\ndust = 1", " = 1 is neither true nor false; say which."),
        ("[places.a]\nlag = 3", "[limits]\nbare_max = 3", " = 3 has no unit; write it in quotes"),
        ('[places.a]\nlag = "3"', '[limits]\nbare_max = "3"', " is wrong: '3' has no unit; write"),
        ("a = ", "a = ", "not valid TOML: "),
    ],
)
def test_a_setting_and_a_label_are_refused_in_the_same_words(
    setting: str, label: str, words: str
) -> None:
    of_setting = refusal(lambda: parse_settings(setting, Path()), ConfigError)
    of_label = refusal(lambda: parse_sheet(f"{LABEL}{label}\n", "mine"), SheetError)
    assert words in of_setting
    assert words in of_label
    assert of_setting.startswith("curewatch.toml: ")
    assert of_label.startswith("mine.toml: ")


def test_a_solvent_that_was_kept_without_its_name_is_read_on() -> None:
    more = '[hazards]\nsolvent = { name = "", g_per_l = 350 }\n'
    solvent = parse_sheet(LABEL + more, "mine").hazards.solvent
    assert solvent is not None
    assert solvent.g_per_l == 350
