"""The shop's book as tables on a terminal and as JSON; no figure computed here."""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from rich import box
from rich.table import Table

from geartrack.cli.present import console
from geartrack.shopbook.book import Record, taken_back
from geartrack.shopbook.entry import Entry
from geartrack.shopbook.learn import GapBias, Learned, LineHours, Mean
from geartrack.shopbook.report import Report
from geartrack.shopbook.rescue import Rescued
from geartrack.shopbook.summary import Prices, Summary
from geartrack.units import Units, show_both, show_length
from geartrack.verdict import WORDS

SCHEMA = 1


def as_json(document: Any) -> None:
    """A document on stdout; exact money stays text."""
    sys.stdout.write(json.dumps(document, indent=2, allow_nan=False, default=str) + "\n")


def summary_document(job: Summary) -> dict[str, Any]:
    """A job of the list."""
    return {"schema": SCHEMA, "kind": "book job"} | asdict(job)


def record_document(record: Record) -> dict[str, Any]:
    """One job: the newest of each kind that holds, and what came of it."""
    newest = {kind: record.newest(kind) for kind in ("inputs", "result", "quote")}
    return {
        "schema": SCHEMA,
        "kind": "book record",
        "number": record.number,
        "customer": record.customer,
        "state": record.state,
        **{kind: entry.document if entry else None for kind, entry in newest.items()},
        "measurements": [entry.document for entry in record.held if entry.kind == "measurement"],
        "outcome": record.outcome,
    }


def history_document(record: Record) -> dict[str, Any]:
    """Every entry in order, with what took it back."""
    undone = taken_back(record)
    entries = [
        {"entry": n, "at": e.at, "kind": e.kind, "geartrack": e.tool, "taken_back_by": undone.get(e.uid)}
        | {"body": e.document}
        for n, e in enumerate(record.entries, 1)
    ]
    return {"schema": SCHEMA, "kind": "book history", "number": record.number, "entries": entries}


def learned_document(learned: Learned) -> dict[str, Any]:
    """What was learned, with what it proposes."""
    lines = [asdict(each) | {"proposes": each.proposes} for each in learned.lines]
    return {"schema": SCHEMA, "kind": "book learn", "lines": lines, "gap": _gap_document(learned.gap)}


def report_document(made: Report) -> dict[str, Any]:
    """A month's report."""
    return {
        "schema": SCHEMA,
        "kind": "book report",
        "month": made.month,
        "jobs": [summary_document(job) for job in made.jobs],
        "states": dict(made.states),
        "lines": [asdict(each) for each in made.lines],
        "gap": _gap_document(made.gaps),
        "gap_all": _gap_document(made.all_gaps),
        "months": [asdict(each) for each in made.months],
    }


def _gap_document(gap: GapBias | None) -> dict[str, Any] | None:
    if gap is None:
        return None
    return {"bias_mm": asdict(gap.error), "inside": gap.inside, "proposes": gap.proposes}


def jobs(found: Sequence[Summary]) -> None:
    """The list."""
    out = console()
    if not found:
        out.print("No such job in the book.")
        return
    out.print(_job_table(found))


def _job_table(found: Sequence[Summary]) -> Table:
    table = _grid("Job", "added", "name", "teeth", "case", "for", "verdict", "quote", "state")
    for job in found:
        row = (str(job.number), job.added[:10], job.name, job.teeth, job.mark, job.customer or "")
        table.add_row(*row, _verdict(job.verdict), _price(job), job.state or "")
    return table


def _price(job: Summary) -> str:
    return f"{_money(job.prices)} {job.currency}" if job.prices else ""


def _money(prices: Prices) -> str:
    low, likely, high = (f"{price:,.0f}" for price in prices)
    return f"{low} / {likely} / {high}"


def _verdict(code: str | None) -> str:
    return next((words for each, words in WORDS.items() if each == code), code or "")


def job(record: Record, found: Sequence[Summary]) -> None:
    """One job as it stands, in words."""
    out = console()
    if not found:
        out.print(f"Job {record.number}: all that was written of it was taken back; `geartrack book history` shows it.")
        return
    summary = found[0]
    out.print(_job_table(found))
    out.print()
    for entry in record.held:
        if entry.kind in ("measurement", "outcome"):
            out.print(f"{entry.at[:10]}  {said_of(entry)}")
    if summary.gap:
        both = summary.gap.said_mm, summary.gap.read_mm
        out.print(f"Gap said {show_both(both[0], 'in')}, read {show_both(both[1], 'in')}.")
    for line, hours in summary.taken.items():
        quoted = f", quoted {summary.quoted[line][1]:.2f}" if line in summary.quoted else ""
        out.print(f"{line}: {hours:.2f} h{quoted}")
    for photo in record.outcome["photos"]:
        out.print(f"Picture: {photo}")


def history(record: Record) -> None:
    """Every entry in order."""
    table = _grid("Entry", "when", "what", "written by", "taken back")
    undone = taken_back(record)
    for n, entry in enumerate(record.entries, 1):
        back = f"by entry {undone[entry.uid]}" if entry.uid in undone else ""
        if entry.kind == "undo":
            at = next(m for m, each in enumerate(record.entries, 1) if each.uid == entry.about)
            what = f"takes back entry {at}{_noted(entry.document['note'])}"
        else:
            what = said_of(entry)
        table.add_row(str(n), entry.at[:16].replace("T", " "), what, f"geartrack {entry.tool}", back)
    console().print(table)


def said_of(entry: Entry) -> str:
    """An entry in a line."""
    body = entry.document
    if entry.kind == "inputs":
        return f"inputs {body['name']}, {body['teeth']}"
    if entry.kind == "result":
        return f"result {_verdict(body['verdict'])}"
    if entry.kind == "quote":
        total = body["total"]
        return f"quote {total['low']} / {total['likely']} / {total['high']} {body['currency']}"
    if entry.kind == "state":
        return f"quote {body['state']}{_noted(body['note'])}"
    if entry.kind == "measurement":
        how = "".join(f", {word}" for word in (body["tool"], body["by"] and f"by {body['by']}") if word)
        return f"{body['what']} {body['typed']}{how}{_noted(body['note'])}"
    if entry.kind == "outcome":
        said = [f"{line} {hours:g} h" for line, hours in body["hours"].items()]
        said += [f"gap after {show_both(body['gap_after_mm'], 'in')}"] if body["gap_after_mm"] is not None else []
        said += [f"{body['mass_g']:g} g removed"] if body["mass_g"] is not None else []
        said += [f"{len(body['photos'])} pictures"] if body["photos"] else []
        return f"outcome {'; '.join(said)}{_noted(body['note'])}"
    return entry.kind


def _noted(note: str) -> str:
    return f" ({note})" if note else ""


def rescued(saved: Rescued, out: Path) -> str:
    """What a rescue did."""
    lost = (
        f"{saved.lost} entry numbers hold nothing that can be read" if saved.lost else "no gap between the entries read"
    )
    return (
        f"{out} holds entries: {saved.kept}, of jobs: {saved.jobs}; altered and left out: {saved.altered};"
        f" about an entry that is lost: {saved.cut_off}; {lost}."
    )


def learned(found: Learned) -> None:
    """Hours by line and the gap, each with its evidence; a proposal only where the jobs agree."""
    out = console()
    if not found.lines and not found.gap:
        out.print("Nothing to learn from yet: no job has both a quote and hours taken, or a gap said and read.")
        return
    if found.lines:
        out.print(_hours_table(found.lines))
    if found.gap:
        out.print(f"\n{gap_words(found.gap, 'in')}")
        if found.gap.proposes:
            out.print(f"Proposed: expect {show_both(abs(found.gap.error.mean), 'in')} {_way(found.gap)} gap than said.")
    out.print(
        "\nProposals rest on jobs that were won; nothing is changed: put what you agree with into your own files."
    )


def _hours_table(lines: Sequence[LineHours]) -> Table:
    table = _grid("Line", "jobs", "quoted h", "took h", "took / quoted", "low to high", "proposed")
    for each in lines:
        factor = each.factor
        times = f"{factor.mean:.2f}" if factor else "-"
        proposed = f"{each.quoted_hours * factor.mean:.2f} h" if factor and each.proposes else "as it is"
        hours = f"{each.quoted_hours:.2f}", f"{each.taken_hours:.2f}"
        table.add_row(each.line, str(each.n), *hours, times, _ends(factor), proposed)
    return table


def _ends(mean: Mean | None) -> str:
    return "-" if mean is None or mean.low is None or mean.high is None else f"{mean.low:.2f} to {mean.high:.2f}"


def _way(gap: GapBias) -> str:
    return "more" if gap.error.mean > 0 else "less"


def gap_words(gap: GapBias, units: Units) -> str:
    """How the gaps said came out, in a sentence."""
    mean = gap.error
    jobs = f"{mean.n} job{'s' if mean.n > 1 else ''}"
    said = f"Gap read less gap said: {show_both(mean.mean, units)} over {jobs}"
    if mean.low is not None and mean.high is not None:
        said += f", {show_length(mean.low, units)} to {show_length(mean.high, units)}"
    return f"{said}; {gap.inside} of {mean.n} lay within low to high."


def report(made: Report, units: Units) -> None:
    """A month as tables."""
    out, this = console(), made.this
    decided = this.won + this.lost
    won = f"{this.won} of {decided} quotes decided were won" if decided else "no quote was decided"
    out.print(f"The shop's book, {made.month}: jobs added: {this.added}, {won}.", style="bold")
    if made.hours_words:
        out.print(made.hours_words)
    out.print(gap_words(made.gaps, units) if made.gaps else "No gap was both said and read this month.")
    if made.all_gaps and made.all_gaps != made.gaps:
        out.print(f"Up to then. {gap_words(made.all_gaps, units)}")
    out.print()
    out.print(_job_table(made.jobs))
    if made.lines:
        out.print()
        out.print(_hours_table(made.lines))


def save_figure(made: Report, path: Path, units: Units) -> None:
    """The report's figure, in a file."""
    from geartrack.draw.report import report_figure
    from geartrack.draw.save import save

    save(report_figure(made, units), path)


def _grid(*columns: str) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    for column in columns:
        table.add_column(column, overflow="fold")
    return table
