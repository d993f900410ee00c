"""Writers of a shop's book that are killed at any moment, and what must be in the book afterwards."""

from __future__ import annotations

import json
import os
import random
import select
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from book_entries import check_document, inputs_body, quote_document

from geartrack.shopbook import Book
from geartrack.shopbook.file import back_up
from geartrack.shopbook.rescue import faults_of

LATEST_S = 0.03  # after the deeds waited for, a kill comes within that time; making a book takes about half of it
PATIENCE_S = 30  # with a machine that does nothing
PAGES_TO_CHECKPOINT = 8  # few, so that many kills fall into a checkpoint


@dataclass
class Figures:
    """Over all trials: kills, deeds told as written, those of them lost, deeds found half done, faults, no book yet."""

    kills: int = 0
    told: int = 0
    lost: int = 0
    half: int = 0
    faults: list[str] = field(default_factory=list)
    before_the_book: int = 0
    after_the_last_word: int = 0


def write_on(path: Path, told: int, seed: int, early: bool) -> None:
    """Write deeds without end; a deed's names go to the pipe after its commit has returned, or before it: `early`."""

    def tell(names: list[str]) -> None:
        os.write(told, f"{json.dumps(names)}\n".encode())

    def before_commit(names: list[str]) -> None:
        if early:
            tell(names)
            time.sleep(0.005)

    rng = random.Random(seed)
    while True:
        with Book(path, create=True) as book:
            book.db.execute(f"PRAGMA wal_autocheckpoint = {PAGES_TO_CHECKPOINT}")
            for _ in range(rng.randrange(1, 12)):
                names = one_deed(book, rng, before_commit)
                if not early:
                    tell(names)


def one_deed(book: Book, rng: random.Random, before_commit: Callable[[list[str]], None]) -> list[str]:
    """A job of three entries, an undo, or a backup, which writes no entry; the names of what was written."""
    if rng.random() < 0.1:
        out = book.path.with_name(f"backup-{rng.getrandbits(60):x}")
        back_up(book.db, book.path, out)
        out.unlink()
        return []
    if rng.random() < 0.2 and (numbers := book.numbers()):
        number = rng.choice(numbers[:5])
        with book.writing():
            record = book.record(number)
            names = [book.add("undo", {"note": ""}, job=record.uid, about=record.entries[-1].uid).uid]
            before_commit(names)
        return names
    with book.writing():
        inputs = book.add("inputs", inputs_body(note="x" * rng.randrange(9000)))
        result = book.add("result", check_document(), job=inputs.job, about=inputs.uid)
        quote = book.add("quote", quote_document(), job=inputs.job, about=result.uid)
        names = [inputs.uid, result.uid, quote.uid]
        before_commit(names)
    return names


def one_trial(path: Path, rng: random.Random, figures: Figures, early: bool) -> None:
    """One or two writers, killed after a while nobody can foresee; then the book is looked at."""
    writers = [_started(path, rng.getrandbits(32), early) for _ in range(rng.choice((1, 1, 2)))]
    heard = _heard(writers[0][1], rng.choice((0, 1, 2, 4, 8)))
    time.sleep(rng.random() * LATEST_S)
    for pid, _ in writers:
        os.kill(pid, signal.SIGKILL)
    told: set[str] = set()
    for pid, pipe in writers:
        _, status = os.waitpid(pid, 0)
        if not os.WIFSIGNALED(status):
            figures.faults.append(f"a writer ended by itself, status {status}")
        figures.kills += 1
        lines = (heard + _read(pipe)).decode().splitlines(keepends=True)
        heard = b""
        lines = [line for line in lines if line.endswith("\n")]  # one that the kill cut short was not told
        figures.told += len(lines)
        told |= {name for line in lines for name in json.loads(line)}
    if not path.exists():
        figures.before_the_book += 1
        figures.lost += len(told)
        return
    with Book(path) as book:
        there = {entry.uid: entry for entry in book.entries()}
        figures.faults += faults_of(book)
    figures.lost += len(told - there.keys())
    about = {entry.about for entry in there.values()}
    figures.half += sum(e.kind in ("inputs", "result") and e.uid not in about for e in there.values())
    figures.after_the_last_word += bool(there.keys() - told)


def _started(path: Path, seed: int, early: bool) -> tuple[int, int]:
    pipe, told = os.pipe()
    pid = os.fork()
    if pid == 0:
        code = 1
        try:
            os.close(pipe)
            write_on(path, told, seed, early)
        finally:
            os._exit(code)
    os.close(told)
    return pid, pipe


def _heard(pipe: int, deeds: int) -> bytes:
    """What a writer has told once it has told of so many deeds, however long that takes on a busy machine."""
    heard = b""
    while heard.count(b"\n") < deeds and select.select([pipe], [], [], PATIENCE_S)[0]:
        heard += os.read(pipe, 4096)
    return heard


def _read(pipe: int) -> bytes:
    """All that is left to hear of a writer that has ended."""
    parts = []
    while part := os.read(pipe, 65536):
        parts.append(part)
    os.close(pipe)
    return b"".join(parts)


def run(trials: int, folder: Path, seed: int, *, to_a_book: int = 10, early: bool = False) -> Figures:
    """So many trials, a few to a book, so that many fall into the making of one; `early` plants the fault to find."""
    rng, figures = random.Random(seed), Figures()
    for trial in range(trials):
        one_trial(folder / f"book-{trial // to_a_book}.sqlite", rng, figures, early)
    return figures
