"""Every notice has one sentence, and each reader has it in their own units and marks."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from string import Formatter
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.formats import ReaderFormat
from curewatch.notice import Count, Duration, Field, Measure, Notice, Term, notice
from curewatch.notice_words import COUNTS, SENTENCES, sentence, sentences
from tests.support.many import cases

FAR_WEST = ReaderFormat(ZoneInfo("America/Denver"), "F", 12, ",")
BERLIN = ReaderFormat(ZoneInfo("Europe/Berlin"), "C", 24, ",")
LEAKS = re.compile(r"\d ?(°?C|K)\b|\d\.\d|\bx\d|\d um\b|\b\d\d:\d\d(?! [ap]m)")
TOP = Path(__file__).resolve().parents[2]

finite = st.floats(-60.0, 150.0)
fields: st.SearchStrategy[Field] = st.one_of(
    st.builds(Measure, finite, st.sampled_from(["C", "K", "%", "g", "um", "x", ""])),
    st.builds(Duration, st.floats(0.0, 1e6), st.sampled_from(["up", "down", "near"])),
    st.builds(Count, st.integers(0, 999), st.sampled_from(sorted(COUNTS))),
    st.builds(Term, st.sampled_from(["panel", "clamp_time"])),
)


def named_in(code: str) -> list[str]:
    """The fields that a sentence names."""
    return [name for _, name, _, _ in Formatter().parse(SENTENCES[code]) if name]


def codes_made() -> set[str]:
    """Every code that a module makes a notice of; of an f-string, its parts with any between."""
    codes = set()
    for file in (TOP / "curewatch").rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            called = isinstance(node, ast.Call) and ast.unparse(node.func) == "notice"
            if isinstance(node, ast.Call) and called and node.args:
                codes |= _constants(node.args[0])
    return codes


def _constants(node: ast.expr) -> set[str]:
    if isinstance(node, ast.Constant):
        return {str(node.value)}
    if isinstance(node, ast.IfExp):
        return _constants(node.body) | _constants(node.orelse)
    if isinstance(node, ast.JoinedStr):
        parts = (
            re.escape(str(part.value)) if isinstance(part, ast.Constant) else ".*"
            for part in node.values
        )
        pattern = "".join(parts)
        return {code for code in SENTENCES if re.fullmatch(pattern, code)}
    return set()


@pytest.mark.parametrize("code", SENTENCES)
@given(data=st.data())
@settings(max_examples=cases(5))
def test_no_sentence_leaks_another_unit_or_mark(code: str, data: st.DataObject) -> None:
    made = Notice(code, {name: data.draw(fields, name) for name in named_in(code)})
    text = sentence(made, FAR_WEST)
    assert not LEAKS.search(text), text
    assert "{" not in text


def test_a_temperature_a_difference_and_a_ratio_are_each_turned_in_their_own_way() -> None:
    far = notice("far-from-label", mean=Measure(6.0, "C"), gap=Measure(15.0, "K"))
    assert sentence(far, FAR_WEST) == "43 °F is 27 °F from the nearest temperature on the label"
    assert sentence(far, BERLIN) == "6 °C is 15 °C from the nearest temperature on the label"
    assert sentence(far) == "6 C is 15 K from the nearest temperature on the label"
    panel = notice("panel-mean", temperature=Measure(-3.5, "C"))
    factor = notice("factor", what=panel, times=Measure(1.25, "x"))
    film = notice("film", film=Measure(80.0, "um"))
    assert sentences((factor, film), FAR_WEST) == "panel 25,7 °F: ×1,25; film 80 µm"
    assert sentences((factor, film)) == "panel -3.5 C: x1.25; film 80 µm"


def test_a_name_or_number_that_only_looks_like_a_unit_is_left_as_it_is() -> None:
    doubt = notice("untimed-part", part="batch 1.2, 20 C cup", why=notice("joint-structural"))
    assert sentence(doubt, FAR_WEST).startswith("batch 1.2, 20 C cup: for structural")


def test_what_is_counted_is_said_in_the_singular_and_the_plural() -> None:
    assert sentence(notice("last-batches", mixes=Count(3, "batches"))) == "your last 3 batches"
    of, gap = Term("panel"), Duration(120.0)
    said = {
        times: sentence(notice("not-read", of=of, gap=gap, times=Count(times, "times")))
        for times in (1, 2)
    }
    assert said[1].startswith("no reading of the panel for up to 2 h (once): ")
    assert said[2].startswith("no reading of the panel for up to 2 h (2 times): ")


def test_a_new_notice_is_one_entry(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(SENTENCES, "frost", "frost on the panel at {temperature:.1f}")
    frost = notice("frost", temperature=Measure(-2.0, "C"))
    assert sentence(frost, FAR_WEST) == "frost on the panel at 28,4 °F"
    assert sentence(frost) == "frost on the panel at -2.0 C"


def test_every_notice_that_is_made_has_a_sentence_and_every_sentence_is_made() -> None:
    assert codes_made() == set(SENTENCES)
