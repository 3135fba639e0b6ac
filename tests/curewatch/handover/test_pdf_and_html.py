"""The hand-over sheet as PDF and HTML: everything in it, in every script, to be printed."""

from __future__ import annotations

import io
import re
from datetime import timedelta
from pathlib import Path

import pytest
from PIL import Image
from pypdf import PdfReader

from curewatch.bench import marks
from curewatch.bench.bench import Bench, Details
from curewatch.errors import StepError
from curewatch.handover.blocks import Document, Drawing, Heading, Section, TableBlock, Text, texts
from curewatch.handover.fonts import MISSING, choose, shown
from curewatch.handover.handover import document
from curewatch.handover.html import to_html
from curewatch.handover.pdf import to_pdf
from curewatch.logbook import photographs
from tests.conftest import Run
from tests.support.logbooks import (
    ADHESIVE,
    BERLIN,
    JOB,
    NOW,
    PAPER,
    PRIMER,
    ago,
    evening,
    opened,
    picture,
)


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return evening(tmp_path)


def pdf(bench: Bench, job: str = JOB) -> PdfReader:
    return PdfReader(io.BytesIO(to_pdf(document(bench, job, NOW, BERLIN, PAPER.say), NOW)))


def words(read: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text() for page in read.pages).split())


def html(bench: Bench) -> str:
    text = to_html(document(bench, JOB, NOW, BERLIN, PAPER.say))
    return " ".join(re.sub(r"<[^>]+>", " ", text.partition("</style>")[2]).split())


HELD = (
    "as of 2026-11-14 18:00 (Europe/Berlin)",
    "Step 1: Two-part epoxy panel adhesive",
    "by: Ångström",
    "batch: A-41",
    "hardener batch: H-2",
    "expiry: 2027-03",
    "grit: P24",
    "cleaner: wax remover",
    "cleaned: 2026-11-14 07:50",
    "induction: 2 min",
    "ratio as mixed: 2:1 by volume",
    "signed off by: me",
    "not yet, 2026-11-14 13:50",
    "clamps on",
    "coat on 1 (120 µm wet)",
    "reminders answered: gloves",
    "A-14 → A-41, because misread the can",
    "by a neighbour",
    "note: clamps every 40 mm",
    "before, 2026-11-14 16:35",
    "last checked 2026-11-13 08:40 by me",
    "predicted at mixing",
    "Not recorded:",
    "Labels",
    "To fill in by hand",
)


@pytest.mark.parametrize("text", HELD)
def test_paper_and_file_hold_the_same(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    said, written = _both(tmp_path_factory)
    assert text in said
    assert text in written


_HELD: dict[str, tuple[str, str]] = {}


def _both(factory: pytest.TempPathFactory) -> tuple[str, str]:
    if "both" not in _HELD:
        bench = evening(factory.mktemp("both"))
        _HELD["both"] = words(pdf(bench)), html(bench).replace("&#x27;", "'")
        bench.store.close()
    return _HELD["both"]


def test_it_is_a4_with_numbered_pages_and_its_title(bench: Bench) -> None:
    read = pdf(bench)
    assert read.metadata is not None
    assert read.metadata.title == f"{JOB}: hand-over"
    for number, page in enumerate(read.pages, 1):
        assert [round(float(length)) for length in page.mediabox[2:]] == [595, 842]
        assert f"page {number} of {len(read.pages)}" in " ".join(page.extract_text().split())


def test_fonts_are_inside_and_no_other_is_asked_for(bench: Bench) -> None:
    fonts = [
        font.get_object()["/BaseFont"]
        for page in pdf(bench).pages
        for font in page["/Resources"]["/Font"].values()  # type: ignore[index]
    ]
    assert fonts
    assert all(re.search(r"\+(Noto|FiraGO)", font) for font in fonts)


SCRIPTS = {
    "Latin": "Größe déjà ñandú Łódź",
    "Greek": "Κόλλα πόρτας",
    "Cyrillic": "Дверь багажника",
    "Hebrew": "דלת",
    "Arabic": "باب",
    "Devanagari": "नमक",
    "Thai": "ประตู",
    "Georgian": "კარი",
    "signs": "→ ± ≤ µm ✓ ⚠",
}


def test_the_scripts_of_its_fonts_are_on_the_paper(bench: Bench) -> None:
    """Read back from the PDF; what runs from right to left may be read back either way round, and
    the dots of Arabic letters, drawn on their own, are read back as control characters."""
    for name, text in SCRIPTS.items():
        bench.note(1, f"{name}: {text}", now=NOW)
    plain = re.sub(r"[\x00-\x1f]", "", words(pdf(bench)))
    for name, text in SCRIPTS.items():
        assert text in plain or text[::-1] in plain, name
    assert MISSING not in plain
    assert choose(SCRIPTS.values()).missing == frozenset()


def test_a_character_that_no_font_has_is_marked_and_said(bench: Bench) -> None:
    bench.note(1, "rune \U00012000 here", now=NOW)
    text = words(pdf(bench))
    assert f"rune {MISSING} here" in text
    assert "lack these characters" in text
    assert "U+12000" in text
    assert shown("a\U00012000", frozenset("\U00012000")) == f"a{MISSING}"


def test_only_the_fonts_that_are_needed_are_opened() -> None:
    assert len(choose(["plain words, °C, µm"]).names) == 1
    assert len(choose(["plain", "דלת"]).names) == 2


def test_photographs_are_on_the_paper_and_in_the_file_without_their_place(
    tmp_path: Path,
) -> None:
    bench = evening(tmp_path)
    for number in range(7):
        photographs.add(bench, 1, picture(300 + number, 900), now=ago(1), words=f"no {number}")
    images = [image for page in pdf(bench).pages for image in page.images]
    assert len(images) == 8
    text = to_html(document(bench, JOB, NOW, BERLIN, PAPER.say))
    assert text.count('src="data:image/jpeg;base64,') == 8
    assert not re.findall(r'(?:src|href)="(?!data:image/jpeg)', text)
    for image in images:
        assert not Image.open(io.BytesIO(image.data)).getexif()


def test_a_photograph_whose_file_is_gone_is_said(bench: Bench) -> None:
    [photograph] = photographs.shown(bench.step(1))
    photographs.path_of(bench.store.path, photograph.body["name"]).unlink()
    assert "1 photographs are gone" in words(pdf(bench))


def test_an_override_and_its_reason_are_on_the_paper(bench: Bench) -> None:
    body = {"stops": ["Too cold: 4 °C."], "why": "warmed by a lamp"}
    bench.store.add_event(1, "overridden", ago(590), ago(590), body)
    for text in (words(pdf(bench)), html(bench)):
        assert "mixed despite a stop: Too cold: 4 °C. Reason: warmed by a lamp" in text


def test_long_words_many_rows_and_forty_coats_fit_the_page(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.start(ADHESIVE, now=ago(9), details=Details(part="x" * 400, job=JOB, who="W" * 300))
    for _ in range(40):
        marks.mark(bench, 1, "coat", now=NOW)
    bench.note(1, "y" * 500, now=NOW)
    read = pdf(bench)
    assert 2 <= len(read.pages) <= 9
    assert words(read).replace(" ", "").count("y") >= 500


def test_markup_in_a_name_is_text_in_both(bench: Bench) -> None:
    bench.note(1, "<b>bold</b> **stars** __lines__ & {nb}", now=NOW)
    for text in (words(pdf(bench)), html(bench)):
        assert "bold" in text
    assert "<b>bold</b> **stars** __lines__" in words(pdf(bench))


def test_plain_blocks_of_every_kind() -> None:
    blocks = (Heading(1, "a"), Section((Text("b"), TableBlock(("c",), (("d",),), (1.0,)))))
    assert texts(blocks) == ["a", "b", "c", "d"]
    document = Document("t", blocks)
    assert "<section><p" in to_html(document)
    assert to_pdf(document, NOW).startswith(b"%PDF")


def test_from_the_command_and_the_page(run: Run, tmp_path: Path) -> None:
    run("mix", ADHESIVE, "--job", "roof")
    code, _, _ = run("report", "roof", "--pdf", str(tmp_path / "roof.pdf"))
    assert (code, (tmp_path / "roof.pdf").read_bytes()[:5]) == (0, b"%PDF-")
    code, _, err = run("report", "roof", "--pdf", str(tmp_path / "roof.txt"))
    assert (code, "ends in .pdf" in err) == (2, True)
    with pytest.raises(StepError, match="no step belongs"):
        to_pdf(document(opened(tmp_path), "none", NOW, BERLIN, PAPER.say), NOW)


def test_a_drawing_colours_nothing_that_follows_it() -> None:
    """A lone reading is a filled dot; the cells of the next table stay white."""
    dot = '<svg viewBox="0 0 60 20"><circle cx="5" cy="5" r="1" fill="#B34A00"/></svg>'
    blocks = (Drawing(dot), TableBlock(("a", "b"), (("c", "d"),), (1.0, 1.0)))
    page = PdfReader(io.BytesIO(to_pdf(Document("t", blocks), NOW))).pages[0]
    contents = page.get_contents()
    assert contents is not None
    text = contents.get_data().decode("latin-1")
    assert "0.702 0.2902 0 rg" in text.partition("Q")[0]
    assert "0.702 0.2902 0 rg" not in text.partition("Q")[2]
    assert " re B " not in text.rpartition("0 g\n")[2]


def test_the_recoat_state_may_be_told_for_a_later_day(bench: Bench) -> None:
    primed = "window open until 2026-11-15"
    assert primed in words(pdf(bench)) or "not before 2026-11-14" in words(pdf(bench))
    later = NOW + timedelta(days=90)
    read = PdfReader(
        io.BytesIO(to_pdf(document(bench, JOB, NOW, BERLIN, PAPER.say, as_of=later), NOW))
    )
    assert "as of 2027-02-12 18:00" in words(read)
    assert "scuff before topcoat: its recoat window closed" in words(read)
    with pytest.raises(StepError, match="a day that is over"):
        to_html(document(bench, JOB, NOW, BERLIN, PAPER.say, as_of=NOW - timedelta(days=1)))


def test_the_day_is_told_on_the_command_line(run: Run, tmp_path: Path) -> None:
    run("mix", PRIMER, "--job", "roof", "--acknowledge", "--ago", "2 min")
    file = tmp_path / "roof.html"
    code, _, err = run("report", "roof", "--html", str(file), "--as-of", "2099-01-31")
    assert (code, err) == (0, "")
    assert "as of 2099-01-31 23:59" in file.read_text()
    assert "its recoat window closed" in file.read_text()
    code, _, err = run("report", "roof", "--html", str(file), "--as-of", "2001-01-31")
    assert (code, "a day that is over" in err) == (2, True)


def test_hours_in_which_nothing_was_measured_are_counted_and_not_listed(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    bench.start(ADHESIVE, now=ago(3000), details=Details(part="seam", job=JOB))
    assert "Nothing was measured at 12 more, four hours apart." in words(pdf(bench))
    assert "after 48 h" not in words(pdf(bench))


def test_a_script_the_fonts_lack_is_marked_in_the_pdf_and_whole_in_html(
    run: Run, tmp_path: Path
) -> None:
    run("mix", ADHESIVE, "--job", "屋根", "--ago", "1 min")
    assert run("report", "屋根", "--pdf", str(tmp_path / "a.pdf"))[0] == 0
    printed = words(PdfReader(tmp_path / "a.pdf"))
    assert "U+5C4B" in printed
    assert "The HTML sheet has them" in printed
    assert run("report", "屋根", "--html", str(tmp_path / "b.html"))[0] == 0
    assert "屋根" in (tmp_path / "b.html").read_text()


def test_a_gap_of_every_step_is_named_once_and_none_runs_over_its_cell(tmp_path: Path) -> None:
    bench = opened(tmp_path)
    for back in range(46, 20, -1):
        details = Details(part="skin", job=JOB, batch="A" if back % 2 else None)
        bench.start(ADHESIVE, now=ago(back), details=details)
    text = words(pdf(bench))
    assert "expiry, every step" in text
    cut = text.rpartition("batch, steps 1")[2]
    assert "…" in cut.partition("expiry")[0]
