"""The hand-over sheet of a job: one HTML file to print and put in a folder.

Everything is inside the file: no script, no picture from elsewhere. Gaps are shown as gaps.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape
from pathlib import Path
from zoneinfo import ZoneInfo

from curewatch import logbook, trace
from curewatch.asked import plain
from curewatch.bench import Bench
from curewatch.conditions import Span
from curewatch.course import minimum_c
from curewatch.errors import ConfigError, StepError
from curewatch.gate_dew import DEW_SPREAD_C
from curewatch.logbook import SPANS, Entry
from curewatch.recoat import recoat_state
from curewatch.sheet import Sheet
from curewatch.step import Step
from curewatch.trace import Trace
from curewatch.verdict import Manner, said
from curewatch.views import MilestoneView, Stretch

NO_PART = "part not named"
BY_HAND = (
    "surface preparation: grit, cleaner, when",
    "film thickness, wet and dry",
    "expiry of each batch",
    "thermometer and hygrometer: last check",
    "signed",
)
CAUTIONS = (
    "Every time here is an estimate or a note of what a person saw; labels and safety data sheets "
    "rule.",
    "No one can see from outside whether a bond holds: this sheet does not say that it does.",
    "Structural, seat-belt, steering, brake, fuel and glazing joints: the maker's procedure, local "
    "codes and licensed practice. Nothing here is evidence for such a joint.",
    "Dry-looking paint or filler may still give off solvent; isocyanate paint that looks dry still "
    "contaminates skin. Sanding dust: a particulate mask; take old paint for lead until tested.",
)
SPAN_WORDS = {
    "surface_temperature": "surface",
    "air_temperature": "air",
    "relative_humidity": "humidity",
    "dew_point_spread": "above dew point",
}
STATES = {
    "workable": "still workable",
    "fingernail": "a fingernail marks it",
    "sands": "sands to powder",
}
DETAIL_WORDS = {
    "amount_g": "amount",
    "hardener_pct": "hardener",
    "film_um": "film thickness",
    "product_c": "temperature of the product",
    "mixed_at": "moment of mixing",
}
RESULTS = {"passed": "it was", "failed": "not yet", "later": "put off"}
STYLE = """
@page { size: A4; margin: 14mm }
body { font: 10.5pt/1.35 "DejaVu Sans", system-ui, sans-serif; color: #111; background: #fff;
  max-width: 182mm; margin: 0 auto; overflow-wrap: anywhere }
h1 { font-size: 18pt; margin: 0 0 1mm } h2 { font-size: 13pt; margin: 7mm 0 1mm;
  border-bottom: 1.5pt solid #111 } h3 { font-size: 11pt; margin: 4mm 0 1mm }
p { margin: 1mm 0 } ul { margin: 1mm 0; padding-left: 5mm }
table { border-collapse: collapse; width: 100%; margin: 1.5mm 0; font-size: 9pt }
th, td { border: 0.5pt solid #999; padding: 0.7mm 1.5mm; text-align: left; vertical-align: top }
th { background: #eee; font-weight: 600 } td.n { font-variant-numeric: tabular-nums }
td.t, td span { white-space: nowrap }
section.step { break-inside: avoid; border-left: 2.5pt solid #bbb; padding-left: 3mm;
  margin: 3mm 0 } h2, h3, .state { break-after: avoid }
.small { font-size: 8.5pt; color: #444 } .state { font-weight: 600 }
.missing { border: 0.8pt dashed #777; padding: 1mm 2mm; margin: 1.5mm 0; font-size: 9pt }
td.blank { width: 60% } svg { width: 100%; height: auto; font-family: inherit }
"""


@dataclass(frozen=True)
class Writer:
    """Puts a job into words for one reader."""

    zone: ZoneInfo
    say: Manner
    now: datetime

    def stamp(self, at: datetime) -> str:
        """Date and time on the reader's wall, the same for every reader of the paper."""
        return f"{at.astimezone(self.zone):%Y-%m-%d %H:%M}"

    def span(self, name: str, span: Span) -> str:
        """Least to most and mean of a measured quantity."""
        least, mean, most = (
            self._value(name, each) for each in (span.minimum, span.mean, span.maximum)
        )
        return f"{least} to {most}, mean {mean}"

    def _value(self, name: str, value: float) -> str:
        if name == "relative_humidity":
            return f"{value:.0f} %"
        if name == "dew_point_spread":
            return self.say.difference(value)
        return self.say.temperature(value)

    def _conditions(self, stretches: Sequence[Stretch]) -> Iterator[str]:
        yield "<table><tr><th>from mixing until</th>"
        yield from (f"<th>{SPAN_WORDS[name]}</th>" for name in SPANS)
        yield "</tr>"
        for each in stretches:
            until = f"{escape(plain(each.until))}, <span>{self.stamp(each.end)}</span>"
            yield f"<tr><td>{until}</td>{''.join(self._cells(each.spans))}</tr>"
        yield "</table>"

    def _cells(self, spans: Mapping[str, Span]) -> Iterator[str]:
        for name in SPANS:
            found = spans.get(name)
            words = self.span(name, found) if found else "not measured"
            yield f'<td class="n">{words}</td>'

    def _milestone(self, step: Step, found: MilestoneView) -> str:
        times = (
            "-" if each is None else self.stamp(each)
            for each in (found.early, found.likely, found.late)
        )
        answers = [
            f"{RESULTS.get(each.result, each.result)}, {self.stamp(each.at)}"
            for each in step.answers.get(found.name, ())
        ]
        cells = (plain(found.name), said(found.label_min), *times)
        fixed = "".join(f'<td class="t">{escape(each)}</td>' for each in cells)
        return f"<tr>{fixed}<td>{escape('; '.join(answers) or 'not tested')}</td></tr>"

    def _milestones(self, entry: Entry) -> str:
        reference = self.say.temperature(entry.step.sheet.reference.temperature_c, 0)
        head = ("", f"label at {reference}", "early", "likely", "late", "tested on the work")
        rows = "".join(self._milestone(entry.step, each) for each in entry.view.milestones)
        return (
            "<table><tr>"
            + "".join(f"<th>{escape(each)}</th>" for each in head)
            + f"</tr>{rows}</table>"
        )

    def _facts(self, step: Step) -> str:
        sheet = step.sheet
        told = [
            ("product", f"{sheet.name} ({sheet.kind}, {sheet.chemistry})"),
            ("ratio", sheet.mix_ratio),
            ("batch", step.batch),
            ("amount", "" if step.amount_g is None else f"{step.amount_g:g} g"),
            ("hardener", "" if step.hardener_pct is None else f"{step.hardener_pct:g} %"),
            ("film", "" if step.film_um is None else f"{step.film_um:g} um"),
            ("by", step.who),
            ("sensor at", step.place),
        ]
        return "; ".join(f"{key}: {escape(value)}" for key, value in told if value)

    def _seen(self, step: Step) -> Iterator[str]:
        for each in step.witnesses:
            seen = STATES.get(each.state, each.state)
            yield f"{self.stamp(each.at)}: dab ({each.sample}) {seen}"
        for at, keys in _together(step.acknowledged):
            yield f"{self.stamp(at)}: reminders answered: {', '.join(keys)}"
        for at, keys in _together(step.amended):
            named = ", ".join(DETAIL_WORDS.get(key, plain(key)) for key in keys)
            yield f"{self.stamp(at)}: told or corrected afterwards: {named}"
        yield from (f"note: {each}" for each in step.notes)

    def _plot(self, step: Step, found: Trace) -> str:
        spread = step.sheet.limits.dew_spread_min_c
        limit = DEW_SPREAD_C if spread is None else spread
        least = minimum_c(step.sheet)
        drawn = trace.drawing(
            found, least, limit, lambda c: self.say.temperature(c, 0), self.say.difference
        )
        if not drawn:
            return '<p class="missing">No plot: nothing was measured during this step.</p>'
        legend = (
            f"Above: surface (solid), air (dotted), the product's {self.say.temperature(least, 0)} "
            f"(dashed). Below: spread above the dew point, {self.say.difference(limit)} dashed. "
            "A break is a gap in the readings; - where no time could be given."
        )
        return f'{drawn}<p class="small">{legend}</p>'

    def step(self, entry: Entry, found: Trace) -> Iterator[str]:
        """One step: what, when, in which air, what was seen, and what was not recorded."""
        step = entry.step
        late = (step.told_at - step.mixed_at).total_seconds() / 60
        mixed = f"mixed {self.stamp(step.mixed_at)}"
        mixed += f", told {said(late)} afterwards" if late >= 1 else ""
        ended = f", {self.stamp(step.closed_at)}" if step.closed_at else ""
        yield f'<section class="step"><h3>Step {step.id}: {escape(step.sheet.name)}</h3>'
        yield f"<p>{mixed}; {escape(step.state)}{ended}</p><p>{self._facts(step)}</p>"
        yield self._milestones(entry)
        yield from self._conditions(entry.stretches)
        yield self._plot(step, found)
        seen = "".join(f"<li>{escape(each)}</li>" for each in self._seen(step))
        yield f"<ul>{seen}</ul>" if seen else ""
        yield f'<p class="missing">Not recorded: {", ".join(not_recorded(entry))}</p></section>'

    def part(self, name: str, held: Sequence[tuple[Entry, Trace]]) -> Iterator[str]:
        """One part with its steps in order and what lies on top."""
        last = held[-1][0].view
        yield f"<h2>{escape(name)}</h2>"
        yield f'<p class="state">{escape(recoat_state(last, self.now, self.stamp))}</p>'
        for entry, found in held:
            yield from self.step(entry, found)

    def _overview(self, parts: Mapping[str, Sequence[tuple[Entry, Trace]]]) -> Iterator[str]:
        yield "<table><tr><th>part</th><th>steps in order</th><th>before the next coat</th></tr>"
        for name, held in parts.items():
            steps = "; ".join(f"{entry.step.id} {entry.step.sheet.name}" for entry, _ in held)
            state = recoat_state(held[-1][0].view, self.now, self.stamp)
            cells = "".join(f"<td>{escape(each)}</td>" for each in (name, steps, state))
            yield f"<tr>{cells}</tr>"
        yield "</table>"

    def page(self, job: str, held: Sequence[tuple[Entry, Trace]]) -> str:
        """The whole sheet, the steps of each part in order."""
        title, parts = escape(job), by_part(held)
        as_of = f"as of {self.stamp(self.now)} ({self.zone.key})"
        out = [
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            f"<title>{title}: hand-over</title><style>{STYLE}</style></head><body>",
            f"<h1>{title}</h1><p>What was done to this job, {as_of}. Recorded with curewatch.</p>",
            *self._overview(parts),
        ]
        for name, steps in parts.items():
            out += self.part(name, steps)
        out += self._end(held)
        return "".join(out) + "</body></html>\n"

    def _end(self, held: Sequence[tuple[Entry, Trace]]) -> Iterator[str]:
        yield "<h2>To fill in by hand</h2><table>"
        yield from (f'<tr><td>{each}</td><td class="blank"></td></tr>' for each in BY_HAND)
        yield "</table><h2>Labels</h2><ul>"
        yield from (f"<li>{escape(each)}</li>" for each in labels(held))
        yield "</ul><h2>Cautions</h2><ul>"
        yield from (f"<li>{escape(each)}</li>" for each in CAUTIONS)
        yield "</ul>"


def _together(held: Mapping[str, datetime]) -> list[tuple[datetime, list[str]]]:
    """The keys told at each instant, in order of time."""
    return [(at, [key for key in held if held[key] == at]) for at in sorted(set(held.values()))]


def labels(held: Sequence[tuple[Entry, Trace]]) -> list[str]:
    """Where the figures of each product come from."""
    sheets: dict[str, Sheet] = {entry.step.sheet.text: entry.step.sheet for entry, _ in held}
    return [f"{each.name}: {each.source_note or 'no source noted'}" for each in sheets.values()]


def not_recorded(entry: Entry) -> list[str]:
    """What a reader would look for and will not find."""
    step = entry.step
    asked = {
        "part": step.part,
        "batch": step.batch,
        "amount": step.amount_g,
        "who did it": step.who,
        "film thickness": step.film_um,
        "a look at the dab": step.witnesses,
        "a test on the work": step.answers,
    }
    missing = [name for name, value in asked.items() if not value]
    measured = {name for each in entry.stretches for name in each.spans}
    missing += [SPAN_WORDS[name] for name in SPANS if name not in measured]
    open_ones = [each.key for each in entry.view.reminders if each.answered_at is None]
    missing += [f"reminder {each}" for each in open_ones]
    return [*missing, "surface preparation"]


def by_part(
    held: Sequence[tuple[Entry, Trace]],
) -> dict[str, list[tuple[Entry, Trace]]]:
    """The steps by part, each part's in the order of mixing."""
    parts: dict[str, list[tuple[Entry, Trace]]] = {}
    for each in sorted(held, key=lambda pair: (pair[0].step.mixed_at, pair[0].step.id)):
        parts.setdefault(each[0].step.part or NO_PART, []).append(each)
    return parts


def _traced(bench: Bench, entry: Entry, now: datetime) -> Trace:
    step = entry.step
    end = max(step.closed_at or now, step.mixed_at)
    readings = bench.store.readings(step.mixed_at, end, bucket_s=trace.bucket_s(step.mixed_at, end))
    return trace.trace(readings, step.mixed_at, end, step.place)


def handover(bench: Bench, job: str, now: datetime, zone: ZoneInfo, say: Manner) -> str:
    """The hand-over sheet of a job as of now. Raises StepError where the job has no step."""
    entries = logbook.logbook(bench, now, job=job)
    if not entries:
        raise StepError(f"no step belongs to the job {job[:60]!r}", fix="see: curewatch log")
    return Writer(zone, say, now).page(
        job, [(entry, _traced(bench, entry, now)) for entry in entries]
    )


def write(
    bench: Bench, job: str | None, now: datetime, zone: ZoneInfo, say: Manner, file: Path
) -> None:
    """Write a job's hand-over sheet to a file. Raises ConfigError where that cannot be done."""
    if job is None:
        raise ConfigError("the hand-over sheet is of one job", fix='name it with --job "..."')
    text = handover(bench, job, now, zone, say)
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise ConfigError(f"cannot be written ({error})", where=str(file), fix="check it") from None
