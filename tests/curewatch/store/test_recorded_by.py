"""Who told it: every word and touch on a step may carry a name, from a command or a device."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path

import pytest

from curewatch.events.events import named, telling
from tests.conftest import Run
from tests.support.dash_pages import arriving, sent
from tests.support.dash_pages import send as dash_send
from tests.support.logbooks import ADHESIVE, picture
from tests.support.pages import open_garage

TOLD = (
    ("step", "edit", "1", "--batch", "B"),
    ("step", "acknowledge", "1", "gloves"),
    ("dab", "1", "tacky"),
    ("step", "mark", "1", "clamps-on"),
    ("step", "note", "1", "thin at the edge"),
    ("test", "1", "not-yet", "--milestone", "clamp_time"),
    ("step", "emptied", "1"),
    ("done", "1", "--yes"),
)


def history(run: Run) -> list[str]:
    code, out, _ = run("step", "show", "1", "--history")
    assert code == 0
    return out.splitlines()[:-1]


def test_every_command_on_a_step_takes_who_tells_it(run: Run) -> None:
    run("mix", ADHESIVE, "--ago", "5 min", "--by", "Ann")
    for command in TOLD:
        code, _, err = run(*command, "--by", "  Ann  ")
        assert (code, err) == (0, ""), command
    lines = history(run)
    assert len(lines) == 1 + len(TOLD)
    for line in lines:
        assert ", by Ann: " in line


def test_a_slip_and_a_photograph_carry_it_too(run: Run, tmp_path: Path) -> None:
    (tmp_path / "a.jpg").write_bytes(picture().getvalue())
    run("mix", ADHESIVE, "--ago", "5 min")
    run("step", "photo", "1", str(tmp_path / "a.jpg"), "--by", "Ben")
    code, _, _ = run("undo", "--why", "blurred", "--by", "Ben")
    assert code == 0
    first, photograph, slip = history(run)
    assert ", by " not in first
    assert ", by Ben: " in photograph
    assert ", by Ben: undone: " in slip
    assert slip.endswith("because blurred")


def test_the_surroundings_may_name_who_tells(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CUREWATCH_BY", "Ann")
    run("mix", ADHESIVE, "--ago", "5 min")
    run("step", "note", "1", "by another", "--by", "Ben")
    first, second = history(run)
    assert ", by Ann: " in first
    assert ", by Ben: " in second


def test_a_device_with_a_name_signs_what_it_tells(tmp_path: Path) -> None:
    garage = open_garage(tmp_path)
    number = garage.mix(ADHESIVE, 20, part="skin", job="rear")
    browser = garage.app.test_client()
    post = partial(browser.post, headers={"Origin": "http://localhost"})
    post("/choices", data={"name": " Zoë  王 "})
    drawn = json.dumps(dash_send(browser, arriving("/choices")).json, ensure_ascii=False)
    assert '"value": "Zoë 王"' in drawn
    sent(browser, "step note", {"text": "thin"}, key=str(number))
    post("/choices", data={"name": ""})
    sent(browser, "step note", {"text": "thick"}, key=str(number))
    thin, thick = garage.store.events([number])[number][-2:]
    assert (thin.body["text"], thin.body["by"]) == ("thin", "Zoë 王")
    assert "by" not in thick.body
    garage.store.close()


def test_nobody_else_is_named_afterwards() -> None:
    with pytest.raises(ValueError, match="x"), telling("Ann"):
        raise ValueError("x")
    assert named("a\n" + "b" * 200) == "a " + "b" * 58
