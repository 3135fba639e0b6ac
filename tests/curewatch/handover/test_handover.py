"""The hand-over sheet of a job: what whoever paints or buys it reads on paper."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta
from html import unescape
from html.parser import HTMLParser
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from playwright.sync_api import Browser

from curewatch.bench.bench import Bench, Details
from curewatch.bench.views import MilestoneView, StepView
from curewatch.climate.flag import Flag
from curewatch.climate.reading import Reading, make_reading
from curewatch.cure.forecast import Forecast
from curewatch.errors import ConfigError, StepError
from curewatch.handover import plot
from curewatch.handover.content import CAUTIONS
from curewatch.handover.handover import document, write
from curewatch.handover.html import to_html
from curewatch.handover.plot import Trace, nice_step, pieces
from curewatch.handover.recoat import recoat_state
from curewatch.products.sheet import generic_sheets
from curewatch.store.store import Store
from curewatch.wording.words import ReaderFormat
from tests.conftest import Run

NOW = datetime(2026, 11, 14, 17, 0, tzinfo=UTC)
BERLIN = ZoneInfo("Europe/Berlin")
SAY = ReaderFormat(BERLIN)
ADHESIVE, FILLER = "epoxy-panel-adhesive", "finishing-polyester-filler"
JOB = "rear corner"


def ago(minutes: float) -> datetime:
    return NOW - timedelta(minutes=minutes)


def night(start: datetime, minutes: int, but: range = range(0)) -> list[Reading]:
    """Readings each minute but for a gap: panel 14 C, air 15 C, 60 %."""
    return [
        make_reading(place, quantity, value, start + timedelta(minutes=minute), "probe")
        for minute in range(minutes)
        if minute not in but
        for place, quantity, value in (
            ("panel", "surface_temperature", 14.0),
            ("air", "air_temperature", 15.0),
            ("air", "relative_humidity", 60.0),
        )
    ]


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    store = Store(tmp_path / "curewatch.sqlite")
    bench = Bench(store)
    store.add_readings(night(ago(600), 600, but=range(200, 320)))
    bonded = Details(part="lower patch", job=JOB, batch="A-14", amount_g=60.0, who="me")
    bench.start(ADHESIVE, now=ago(590), details=bonded, acknowledged=["gloves", "dust"])
    bench.witness(1, "tacky", now=ago(400))
    bench.test(1, "reached", now=ago(100), milestone="clamp_time")
    bench.note(1, "clamps every 40 mm", now=ago(90))
    bench.finish(1, now=ago(80))
    filled = Details(part="lower patch", job=JOB, hardener_pct=2.0)
    bench.start(FILLER, now=ago(60), details=filled)
    bench.start(ADHESIVE, now=ago(30), details=Details(part="seam", job="roof"))
    return bench


def page(bench: Bench, job: str = JOB) -> str:
    return to_html(document(bench, job, NOW, BERLIN, SAY))


def plain(html: str) -> str:
    """What a reader sees of the text."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html.partition("</style>")[2])).split())


def test_a_chemistry_and_a_failed_step_are_said_in_words_not_in_codes(bench: Bench) -> None:
    bench.abandon(3, "set before the clamps were on", now=ago(10))
    text = plain(page(bench, "roof"))
    assert "(adhesive, two-part epoxy)" in text
    assert "failed, " in text
    for code in ("epoxy-amine", "abandoned"):
        assert code not in text


def test_the_job_is_told_in_order_with_product_batch_and_conditions(bench: Bench) -> None:
    text = plain(page(bench))
    assert text.index("Step 1: Two-part epoxy") < text.index("Step 2: Finishing")
    for words in (
        JOB,
        "as of 2026-11-14 18:00 (Europe/Berlin)",
        "mixed 2026-11-14 08:10",
        "batch: A-14; amount: 60 g",
        "by: me",
        "14.0 °C throughout",
        "60 % throughout",
        "reached, 2026-11-14 16:20",
        "dab: tacky",
        "reminders answered: gloves, dust",
        "note: clamps every 40 mm",
    ):
        assert words in text, words
    assert "roof" not in text


def test_what_was_not_recorded_is_said_beside_each_step(bench: Bench) -> None:
    first, second = re.findall(r"Not recorded: ([^<]+)", page(bench))
    for missing in ("batch", "amount", "who did it", "a look at the dab", "reminder of gloves"):
        assert missing in second
        assert missing == "reminder of gloves" or missing not in first
    assert "reminder of leftovers" in first
    assert "surface preparation" in first


def test_every_caution_and_the_labels_origin_are_on_it(bench: Bench) -> None:
    text = plain(page(bench))
    for caution in CAUTIONS:
        assert caution in text
    assert "replace with your label" in text
    assert "probe (surface at panel): never checked" in text
    assert "signed" in text


def test_it_stands_alone(bench: Bench) -> None:
    html = page(bench)
    for outer in ("<script", "src=", "href=", "url(", "@import", "http:", "https:"):
        assert outer not in html
    assert html.count("<svg") == 2


class _Balance(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:
        if tag not in ("meta", "img"):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: object) -> None:
        assert tag in ("line", "circle", "polyline")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", "../../etc/passwd", "\"'&<b>", "Тормоз 門 ‮abc", "x" * 400]
)
def test_a_name_with_markup_stays_text(bench: Bench, name: str) -> None:
    details = Details(part=name, job=name, batch=name, who=name)
    bench.start(ADHESIVE, now=ago(5), details=details)
    bench.note(4, name, now=NOW)
    html = page(bench, name)
    assert "<script" not in html
    assert "<b>" not in html
    reader = _Balance()
    reader.feed(html)
    assert reader.open == []


def test_no_reading_is_a_gap_and_no_flat_line(tmp_path: Path) -> None:
    store = Store(tmp_path / "empty.sqlite")
    bench = Bench(store)
    bench.start(ADHESIVE, now=ago(60), details=Details(job=JOB))
    html = page(bench)
    assert "<svg" not in html
    assert "nothing was measured during this step" in html
    assert "not measured" in html
    assert "part not named" in html


def test_a_job_without_steps_is_refused(bench: Bench) -> None:
    with pytest.raises(StepError, match="no step belongs to the job 'left door'"):
        page(bench, "left door")


def test_a_file_that_cannot_be_written_is_said(bench: Bench, tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="cannot be written"):
        write(bench, JOB, NOW, BERLIN, SAY, tmp_path / "nowhere" / "sheet.html")


def lying(
    state: str = "finished",
    closes_h: float | None = None,
    **late_h: tuple[float | None, str | None],
) -> StepView:
    """A step whose milestones' late bounds are hours from now, each answered or not."""

    def at(hours: float | None) -> datetime | None:
        return None if hours is None else NOW + timedelta(hours=hours)

    marks = [
        MilestoneView(name, at(h), at(h), at(h), at(h), 60, (), answered, False)
        for name, (h, answered) in late_h.items()
    ]
    if closes_h is not None:
        marks.append(
            MilestoneView("recoat_closes", None, None, None, at(closes_h), 60, (), None, False)
        )
    return StepView(
        1, generic_sheets()["epoxy-primer"], "skin", JOB, "panel", None, None, "", ago(9), ago(9),
        Forecast((), (), 1.0, ()), tuple(marks), (), (), (), (), (), state,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("step", "says"),
    [
        (lying(closes_h=-1, recoat_opens=(-20, "reached")), "scuff before topcoat: its recoat"),
        (lying(closes_h=5, recoat_opens=(-1, None)), "window open until 2026-11-14 23:00"),
        (lying(closes_h=9, recoat_opens=(2, None)), "not before 2026-11-14 20:00 (recoat opens"),
        (lying(sand_ready=(2, "not-yet")), "not yet"),
        (lying(sand_ready=(2, "reached")), "scuff before topcoat, as the topcoat's label"),
        (lying(sand_ready=(None, None)), "no time can be given for sand-ready"),
        (lying(), "no recoat window: scuff before topcoat"),
        (lying("abandoned", sand_ready=(-2, "reached")), "take it off down to sound metal"),
    ],
)
def test_before_the_next_coat(step: StepView, says: str) -> None:
    assert says in recoat_state(step, NOW, lambda at: f"{at.astimezone(BERLIN):%Y-%m-%d %H:%M}")


def test_a_gap_breaks_the_line() -> None:
    trace = plot.trace(night(ago(600), 600, but=range(200, 320)), ago(600), NOW)
    drawn = plot.drawing(trace, 10, 3, lambda c: f"{c:g}", lambda k: f"{k:g}")
    blue = [text for text in drawn.split("<") if plot.SURFACE_COLOUR in text]
    assert len(blue) == 2
    assert len(list(pieces(trace.surface_c, 0.75))) == 2
    # by hand: Magnus dew point of 15 C and 60 % is 7.3 C
    assert {round(value, 1) for _, value in trace.spread_k} == {6.7}


def test_flagged_readings_are_not_drawn() -> None:
    odd = Reading("panel", "surface_temperature", 90.0, ago(5), "probe", Flag("jump"))
    assert plot.trace([odd], ago(10), NOW).empty


@given(
    st.lists(st.tuples(st.floats(0, 100), st.floats(-30, 60)), min_size=1, max_size=40),
    st.floats(0.05, 100),
)
def test_every_drawing_stays_inside_its_frame(
    points: list[tuple[float, float]], length_h: float
) -> None:
    inside = tuple((min(hours, length_h), value) for hours, value in sorted(points))
    trace = Trace(length_h, inside, (), inside)
    drawn = plot.drawing(trace, 10, 3, lambda c: f"{c:g}", lambda k: f"{k:g}")
    for name, most in (("x", plot.WIDTH), ("y", plot.HEIGHT)):
        for text in re.findall(rf'\b(?:c?{name}[12]?)="([-\d.]+)"', drawn):
            assert -0.1 <= float(text) <= most + 0.1
    for x, y in re.findall(r"([-\d.]+),([-\d.]+)", drawn):
        assert plot.LEFT - 0.1 <= float(x) <= plot.WIDTH
        assert plot.TEMPERATURE[0] - 0.1 <= float(y) <= plot.SPREAD[1] + 0.1
    ET.fromstring(drawn)


@given(st.floats(1e-3, 1e5), st.integers(2, 12))
def test_marks_are_round_and_few(span: float, most: int) -> None:
    step = nice_step(span, most)
    assert span / step <= most + 1e-6
    assert f"{step:.0e}"[0] in "125"


def test_the_sheet_from_the_terminal(run: Run, tmp_path: Path) -> None:
    run("mix", ADHESIVE, "--part", "seam", "--job", "roof")
    file = tmp_path / "roof.html"
    code, out, _ = run("report", "roof", "--html", str(file))
    assert (code, str(file) in out) == (0, True)
    assert "seam" in file.read_text("utf-8")
    code, _, err = run("report", "--html", str(file))
    assert (code, "'JOB'" in err) == (2, True)


def test_it_prints_on_white_paper_with_its_plots(
    bench: Bench, tmp_path: Path, browser: Browser
) -> None:
    """Rendered by chromium: a PDF, and ink on white in both plots' colours."""
    file = tmp_path / "sheet.html"
    write(bench, JOB, NOW, BERLIN, SAY, file)
    page = browser.new_context(viewport={"width": 900, "height": 2400}).new_page()
    page.goto(file.as_uri())
    assert page.pdf().startswith(b"%PDF")
    pixels = np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB")).astype(int)
    assert (pixels.min(axis=2) > 254).mean() > 0.6
    for drawn in (plot.SURFACE_COLOUR, plot.SPREAD_COLOUR):
        ink = np.array([int(drawn[i : i + 2], 16) for i in (1, 3, 5)])
        assert (np.abs(pixels - ink).sum(axis=2) < 60).sum() > 200
