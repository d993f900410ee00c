"""The shop's book in a worker: a draft checked, priced and written down."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

from geartrack.shopbook import Book
from geartrack.shopbook.record import add_job
from geartrack.study import quote_for
from geartrack.web.work import Tick, answered
from geartrack.web.work_files import job_text


def kept_in_book(
    tick: Tick, document: Mapping[str, Any], files: Path, book: Path, customer: str | None, to: int | None
) -> int:
    """Write a draft with its check and quote into the book, as a new job or a revision of job `to`; its number."""
    answer = answered(document, files, draws=True)
    with tempfile.TemporaryDirectory() as folder, Book(book, create=True) as opened:
        path = Path(folder) / "job.toml"
        path.write_text(job_text(answer.job.name, document), encoding="utf-8")
        return add_job(opened, path, answer, quote_for(answer, date.today()), customer=customer, to=to)
