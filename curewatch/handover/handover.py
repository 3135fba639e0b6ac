"""The hand-over sheet of a job, to print and put in a folder: everything known, gaps as gaps.

It is a document of plain blocks; HTML and PDF are made of the same.
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from curewatch.bench.bench import Bench
from curewatch.errors import ConfigError, StepError
from curewatch.files.private import write_out
from curewatch.formats import ReaderFormat
from curewatch.garage.damaged import Damaged, of_query
from curewatch.handover import plot
from curewatch.handover.blocks import Document, Picture
from curewatch.handover.content import JobSheet
from curewatch.handover.html import to_html
from curewatch.handover.plot import Trace
from curewatch.handover.printed_step import PrintedStep
from curewatch.logbook import logbook, photographs, predictions
from curewatch.logbook.logbook import StepRecord
from curewatch.logbook.paper import FieldFormatter
from curewatch.quality.overview import believed
from curewatch.store.search import StepQuery
from curewatch.text import plain as without_marks


def _traced(bench: Bench, entry: StepRecord, now: datetime) -> Trace:
    step = entry.step
    end = max(step.closed_at or now, step.mixed_at)
    bucket_s = plot.bucket_s(step.mixed_at, end)
    readings = believed(bench.store, step.mixed_at, end, bucket_s=bucket_s)
    return plot.trace(readings, step.mixed_at, end, step.place)


def _printed(bench: Bench, entry: StepRecord, now: datetime, paper: FieldFormatter) -> PrintedStep:
    taken = photographs.shown(entry.step)
    files = [photographs.printable(bench.store.path, photo.body["name"]) for photo in taken]
    pictures = tuple(
        Picture(jpeg, ", ".join(filter(None, (photo.body.get("words"), paper.stamp(photo.at)))))
        for photo, jpeg in zip(taken, files, strict=True)
        if jpeg is not None
    )
    return PrintedStep(
        entry,
        _traced(bench, entry, now),
        predictions.predicted(bench, entry.step),
        tuple(bench.store.events([entry.step.id])[entry.step.id]),
        pictures,
        len(taken) - len(pictures),
    )


def document(
    bench: Bench,
    job: str,
    now: datetime,
    zone: ZoneInfo,
    say: ReaderFormat,
    as_of: datetime | None = None,
) -> Document:
    """The hand-over sheet of a job as known now; as_of: for when its recoat state is said, now or
    later. Raises StepError where the job has no step or that lies behind."""
    if as_of is not None and as_of < now:
        raise StepError(
            "the hand-over sheet is as of a day that is over",
            fix="name today or a later day; earlier states are in the history",
        )
    query = StepQuery(job=without_marks(job).strip())
    failed: list[Damaged] = []
    entries = logbook.logbook(bench, now, query=query, failed=failed)
    if not entries:
        raise StepError(f"no step belongs to the job {job[:60]!r}", fix="see: curewatch log")
    paper = FieldFormatter(zone, say)
    steps = [_printed(bench, entry, now, paper) for entry in entries]
    return JobSheet(paper, as_of or now).document(
        job, steps, [*of_query(bench.store, query), *failed]
    )


def write(
    bench: Bench,
    job: str,
    now: datetime,
    zone: ZoneInfo,
    say: ReaderFormat,
    file: Path,
    as_of: datetime | None = None,
) -> None:
    """Write a job's hand-over sheet, as PDF where the file's name ends so, else as HTML.

    Raises ConfigError where that cannot be done.
    """
    sheet = document(bench, job, now, zone, say, as_of)
    if file.suffix.lower() == ".pdf":
        from curewatch.handover.pdf import to_pdf

        data = to_pdf(sheet, now)
    else:
        data = to_html(sheet).encode()
    try:
        write_out(file, data)
    except OSError as error:
        raise ConfigError(f"cannot be written ({error})", where=str(file), fix="check it") from None
