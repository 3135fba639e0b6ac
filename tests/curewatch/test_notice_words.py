"""Every notice has one sentence, and each reader has it in their own units and marks."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable
from pathlib import Path
from string import Formatter
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from curewatch.errors import CurewatchError, SheetError
from curewatch.formats import ReaderFormat
from curewatch.notice import Count, Duration, Field, Measure, Notice, Term, notice
from curewatch.notice_words import COUNTS, SENTENCES, sentence, sentences
from curewatch.products.label import check, doubtful
from curewatch.products.portions import portions
from curewatch.products.sheet import generic_sheets, parse_sheet
from curewatch.protection.airing import airing, lines
from curewatch.protection.ventilation import Room
from curewatch.quality.salt_check import humidity_over_salt
from curewatch.units import parse_temperature
from tests.support.many import cases

FAR_WEST = ReaderFormat(ZoneInfo("America/Denver"), "F", 12, ",")
BERLIN = ReaderFormat(ZoneInfo("Europe/Berlin"), "C", 24, ",")
LEAKS = re.compile(r"\d ?(°?C|K)\b|\d\.\d|\bx\d|\d um\b|\b\d\d:\d\d(?! [ap]m)")
SHEET = """name = "Mine"
kind = "adhesive"
chemistry = "epoxy-amine"
mix_ratio = "2:1 by volume"

[[times]]
temperature = "70 F"
clamp_time = "4 h"

"""
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
    texts = {
        times: sentence(notice("not-read", of=of, gap=gap, times=Count(times, "times")))
        for times in (1, 2)
    }
    assert texts[1].startswith("no reading of the panel for up to 2 h (once): ")
    assert texts[2].startswith("no reading of the panel for up to 2 h (2 times): ")


def test_a_new_notice_is_one_entry(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(SENTENCES, "frost", "frost on the panel at {temperature:.1f}")
    frost = notice("frost", temperature=Measure(-2.0, "C"))
    assert sentence(frost, FAR_WEST) == "frost on the panel at 28,4 °F"
    assert sentence(frost) == "frost on the panel at -2.0 C"


def test_every_notice_that_is_made_has_a_sentence_and_every_sentence_is_made() -> None:
    assert codes_made() == set(SENTENCES)


def test_a_fault_in_a_label_names_the_temperature_as_it_was_typed() -> None:
    faster = SHEET + '[[times]]\ntemperature = "50 F"\nclamp_time = "10 min"\n'
    with pytest.raises(SheetError, match="clamps off: 10 min at 50 F is faster than 4 h at 70 F"):
        check(parse_sheet(faster, "mine"))
    again = SHEET + '[[times]]\ntemperature = "70 F"\nclamp_time = "4 h"\n'
    with pytest.raises(SheetError, match="has two rows at 70 F"):
        parse_sheet(again, "mine")
    limits = SHEET + '[limits]\ntemperature = ["80 F", "95 F"]\n'
    with pytest.raises(SheetError, match="of 80 F to 95 F excludes the reference 70 F"):
        parse_sheet(limits, "mine")


def test_a_doubt_about_a_label_is_said_in_the_readers_unit() -> None:
    faster = SHEET + '[[times]]\ntemperature = "50 F"\nclamp_time = "10 min"\n'
    (doubt,) = doubtful(parse_sheet(faster, "mine"))
    assert "10 min at 50 °F is faster than 4 h at 70" in sentence(doubt, FAR_WEST)
    assert "10 min at 10 °C is faster than 4 h at 21,1 °C" in sentence(doubt, BERLIN)


@pytest.mark.parametrize(
    ("parse", "typed", "span"),
    [
        (parse_temperature, "400 F", "-76..302 F"),
        (parse_temperature, "400 C", "-60..150 C"),
        (lambda typed: humidity_over_salt(parse_temperature(typed), typed), "20 F", "41..104 F"),
    ],
)
def test_a_range_is_given_in_the_unit_that_was_typed(
    parse: Callable[[str], float], typed: str, span: str
) -> None:
    with pytest.raises(CurewatchError, match=re.escape(f"{typed}")) as caught:
        parse(typed)
    assert span in caught.value.what


def test_grams_and_vapour_have_the_readers_decimal_mark() -> None:
    filler = generic_sheets()["finishing-polyester-filler"]
    assert "50,0 g" in portions(filler, 51.0, 2.0, say=FAR_WEST).words
    primer = generic_sheets()["solvent-primer-1k"]
    air = airing(Room(33.5, 300.0, 2.5), primer, amount_g=120.0)
    texts = list(lines(air, FAR_WEST))
    assert texts[0].startswith("33,5 m3 and 300 m3/h: 9,0 air changes an hour, mixing factor 2,5")
    assert not any(re.search(r"\d\.\d", line) for line in texts)
