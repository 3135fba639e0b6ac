"""A place that nobody named is refused with the nearest names, however a person names it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from curewatch.errors import ReadingError
from curewatch.quality.places import known_places, place_named
from curewatch.settings.settings import parse_settings
from tests.conftest import Run
from tests.support.dash_pages import mixing
from tests.support.pages import Garage

ADHESIVE = "epoxy-panel-adhesive"
KNOWN = {"air", "outdoors", "panel", "shelf", "tailgate"}


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("pannel", "no place is called 'pannel'; the places are air, outdoors, panel, shelf, "
         "tailgate; did you mean 'panel'? For a place of its own write 'new pannel'."),
        ("tail-gate", "did you mean 'tailgate'?"),
        ("lamp", "For a place of its own write 'new lamp'."),
        ("new Lamp", "is not a name for a place"),
        ("new", "write 'new new'"),
    ],
)  # fmt: skip
def test_a_place_nobody_named_is_refused_with_the_nearest_names(text: str, says: str) -> None:
    with pytest.raises(ReadingError) as refused:
        place_named(text, KNOWN)
    assert says in str(refused.value)


def test_a_new_place_needs_the_word_new_where_none_of_its_own_was_asked_for() -> None:
    assert place_named("new lamp", KNOWN) == "lamp"
    assert place_named(" panel ", KNOWN) == "panel"
    assert place_named("lamp", KNOWN, own=True) == "lamp"
    with pytest.raises(ReadingError):
        place_named("pannel", KNOWN, own=True)


@given(st.text(max_size=12))
def test_no_text_becomes_a_place_unasked(text: str) -> None:
    try:
        place = place_named(text, KNOWN)
    except ReadingError:
        return
    assert place in KNOWN or text.strip().lower().startswith("new ")


@pytest.mark.parametrize(
    "words",
    [
        ("mix", ADHESIVE),
        ("step", "edit", "1"),
        ("reading", "add", "--surface", "12 C"),
        ("check", ADHESIVE),
        ("check", ADHESIVE, "--rehearse", "--took", "5 min"),
        ("part", "bare", "sill"),
    ],
)
def test_every_command_refuses_a_slip_and_takes_a_new_place(
    run: Run, words: tuple[str, ...]
) -> None:
    run("mix", ADHESIVE)
    code, out, text = run(*words, "--place", "pannel")
    assert (code, out) == (2, "")
    assert "did you mean 'panel'?" in text
    code, _, text = run(*words, "--place", "new lamp")
    assert (code, text) in ((0, ""), (10, ""), (20, ""))


def test_a_place_is_known_from_settings_mappings_readings_and_steps(garage: Garage) -> None:
    number = garage.mix(ADHESIVE, 20, place="tailgate")
    garage.bench.finish(number, now=garage.clock())
    settings = parse_settings(
        "[places.roof]\n[[mappings]]\ntopic = 'a/b'\nunit = 'C'\nplace = 'boot'\n"
        "quantity = 'surface_temperature'\n",
        Path(),
    )
    assert known_places(garage.store, settings) == KNOWN | {"roof", "boot"}


def test_the_mix_page_asks_for_a_known_place(garage: Garage) -> None:
    browser = garage.app.test_client()
    wrong, _ = mixing(browser, ADHESIVE, part="sill", ago="3", place="pannel")
    assert "did you mean 'panel'?" in wrong["place"]
    assert garage.store.steps() == []
