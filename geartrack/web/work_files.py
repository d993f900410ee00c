"""The files to take away, by name: made in a worker, as the commands make them."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from geartrack.errors import refuse
from geartrack.job import Job
from geartrack.job.borrow import FILES as BOSS_FILES
from geartrack.job.write import styled
from geartrack.study import Answer, compare_ratios, pairs_between, quote_for
from geartrack.web.work import Tick, answered, at, job_of, of_job


@dataclass(frozen=True)
class File:
    """A file that may be taken away: its title, what it is for, and how it is made of an answer."""

    title: str
    says: str
    make: Callable[[Answer, Path], bytes]
    to_print: bool = False


def _paper(answer: Answer) -> Any:
    from geartrack.export.paper import paper_for

    return paper_for(None, answer.job.units)


def _bench(answer: Answer, out: Path) -> bytes:
    from geartrack.sheets.bench import bench_sheet
    from geartrack.sheets.file import sheet_file

    return sheet_file(bench_sheet(answer), out, _paper(answer))


def _customer(answer: Answer, out: Path) -> bytes:
    from geartrack.sheets.customer import customer_sheet
    from geartrack.sheets.file import sheet_file

    return sheet_file(customer_sheet(quote_for(answer, date.today())), out, _paper(answer))


def _counter(answer: Answer, out: Path) -> bytes:
    from geartrack.sheets.counter import counter_sheet
    from geartrack.sheets.file import sheet_file

    return sheet_file(counter_sheet(compare_ratios(answer.job, pairs_between(3.5, 6.2))), out, _paper(answer))


def _template(answer: Answer, out: Path) -> bytes:
    from geartrack.export.template import template, template_file

    return template_file(template(answer), out, _paper(answer))


def _depths(answer: Answer, out: Path) -> bytes:
    from geartrack.export.depth_table import depth_file, depth_table

    return depth_file(depth_table(answer), out, _paper(answer))


def _solids(answer: Answer, out: Path) -> bytes:
    from geartrack.export.solids import solid_files, solids

    return _zipped(solid_files(solids(answer)))


def _gauge(answer: Answer, out: Path) -> bytes:
    from geartrack.export.gauge import gauge_files, gauges, typed_fit

    return _zipped(gauge_files(answer, gauges(answer, typed_fit(answer.job, None, None))))


def _figure(answer: Answer, out: Path) -> bytes:
    from geartrack.draw import check_figure, svg_text

    return svg_text(check_figure(answer, answer.job.units)).encode()


def _json(answer: Answer, out: Path) -> bytes:
    import json

    from geartrack.study import as_document

    return (json.dumps(as_document(answer), indent=2, allow_nan=False) + "\n").encode()


JOB = "job.zip"
FILES: Mapping[str, File] = {
    "bench-sheet.pdf": File("Bench sheet", "verdict, depths, STOP, room for every reading", _bench, True),
    "bench-sheet.html": File("Bench sheet to read", "the same, in the browser", _bench, True),
    "customer.pdf": File("Customer's page", "the quote, to answer and to sign", _customer, True),
    "counter.pdf": File("Counter sheet", "the gap that each ratio would leave", _counter, True),
    "template.pdf": File("True-scale strip", "to wrap round the boss; print at 100 %", _template, True),
    "template.svg": File("Strip for a cutter", "the same as SVG", _template),
    "template.dxf": File("Strip for CAD", "the same as DXF", _template),
    "depths.pdf": File("Depth table", "depth, STOP and wall left at each place", _depths, True),
    "depths.csv": File("Depth table for a sheet program", "the same as CSV", _depths),
    "solids.zip": File("Solids", "metal to remove, boss before and after, ring: STL, 3MF, GLB", _solids),
    "gauge.zip": File("Gauges to print", "GO and STOP, that sit in the pilot bore", _gauge),
    "answer.svg": File("Drawing", "all views on one sheet", _figure),
    "answer.json": File("Answer as JSON", "as `geartrack check --json` prints it", _json),
}


def made(tick: Tick, document: Mapping[str, Any], files: Path, name: str) -> bytes:
    """A file of a draft's answer, low to high by draws."""
    if name == JOB:
        return _job_files(job_of(document, files), document, files)
    if name not in FILES:
        raise refuse("file", f"there is no {name[:30]!r} here", ", ".join(FILES))
    return FILES[name].make(answered(document, files, draws=True), Path(name))


def _job_files(job: Job, document: Mapping[str, Any], files: Path) -> bytes:
    """The job as it was typed, with the files that it names; read first, since only a sound job is written."""
    named = [at(document, steps) for steps in BOSS_FILES]
    beside = {name: (files / name).read_bytes() for name in named if name}
    return _zipped({"job.toml": job_text(job.name, document).encode()} | beside)


def job_text(name: str, document: Mapping[str, Any]) -> str:
    """A draft's document as the text of a job file."""
    import tomlkit

    return tomlkit.dumps(styled({"name": name, **of_job(document)}))


def _zipped(contents: Mapping[str, bytes]) -> bytes:
    """Several files as one, the same bytes for the same files."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in contents.items():
            archive.writestr(zipfile.ZipInfo(name, (2026, 1, 1, 0, 0, 0)), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()
