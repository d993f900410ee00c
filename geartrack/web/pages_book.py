"""The shop's book: its jobs with search and state, one job with all that was written of it, jobs side by side."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import Response

from geartrack.errors import InputError, refuse
from geartrack.job.borrow import BORROWING, FILES, parse_toml
from geartrack.shopbook import Book, Record
from geartrack.shopbook.book import taken_back
from geartrack.shopbook.record import FOLLOWS, measure, move_quote, quoted_lines, set_outcome
from geartrack.shopbook.summary import summaries
from geartrack.units import show_both
from geartrack.verdict import WORDS
from geartrack.web.bench import bench_of, change, draft_of, see, texts
from geartrack.web.render import page
from geartrack.web.uploads import OWN_NAME, base_name, keep
from geartrack.web.work import at
from geartrack.web.work_book import kept_in_book

_MOST_BESIDE = 4
_KINDS = {
    "inputs": "job written down",
    "result": "checked",
    "quote": "priced",
    "state": "quote moved",
    "measurement": "read",
    "outcome": "what came of it",
    "undo": "taken back",
}


async def book(request: Request) -> Response:
    """The list of jobs."""
    words = request.query_params.get("words", "")[:200]
    state = request.query_params.get("state", "")[:20]
    found: list[Any] = []
    if bench_of(request).book.exists():
        with Book(bench_of(request).book, read_only=True) as opened:
            found = summaries(opened, opened.numbers(words.split()))
    states = [*FOLLOWS]
    shown = [job for job in found if not state or job.state == state]
    return page(request, "book.html", jobs=shown, words=words, state=state, states=states, verdicts=WORDS)


async def record(request: Request) -> Response:
    """One job of the book."""
    number = request.path_params["number"]
    with Book(bench_of(request).book, read_only=True) as opened:
        found, (job,) = opened.record(number), summaries(opened, [number]) or (None,)
    undone = taken_back(found)
    lines = [(n, e.at[:16].replace("T", " "), _said(e), undone.get(e.uid)) for n, e in enumerate(found.entries, 1)]
    may = FOLLOWS[found.state] if found.state else ()
    filled: dict[str, Any] = {
        "record": found,
        "job": job,
        "history": lines,
        "may": may,
        "lines": quoted_lines(found),
        "both": show_both,
    }
    return page(request, "record.html", **filled, verdicts=WORDS)


def _said(entry: Any) -> str:
    body = entry.document
    told: dict[str, Callable[[], str]] = {
        "inputs": lambda: f"{body['name']}, {body['teeth']}",
        "result": lambda: body["words"],
        "quote": lambda: f"{body['total']['low']} to {body['total']['high']} {body['currency']}",
        "state": lambda: f"{body['state']} {body['note']}".strip(),
        "measurement": lambda: f"{body['what']} {body['typed']}",
        "outcome": lambda: _came(body),
        "undo": lambda: body["note"],
    }
    detail = told[entry.kind]()
    return f"{_KINDS[entry.kind]}: {detail}" if detail else _KINDS[entry.kind]


def _came(body: Mapping[str, Any]) -> str:
    hours = [f"{line} {hours:g} h" for line, hours in body["hours"].items()]
    gap = body["gap_after_mm"]
    return "; ".join([*hours, *([f"gap {show_both(gap, 'in')}"] if gap is not None else []), body["note"]]).strip("; ")


def _written(write: Callable[[Book, int, Mapping[str, str]], object]) -> Any:
    @change
    async def handler(request: Request, form: FormData) -> Response:
        number = request.path_params["number"]
        with Book(bench_of(request).book) as opened:
            write(opened, number, texts(form))
        return see(request, f"/book/{number}")

    return handler


def _state(opened: Book, number: int, typed: Mapping[str, str]) -> None:
    move_quote(opened, number, typed.get("state", ""), typed.get("note", ""))


def _undo(opened: Book, number: int, typed: Mapping[str, str]) -> None:
    entry = typed.get("entry", "")
    opened.undo(number, int(entry) if entry.isdecimal() else None, typed.get("note", ""))


def _measure(opened: Book, number: int, typed: Mapping[str, str]) -> None:
    rest = {key: typed.get(key, "") for key in ("tool", "by", "note")}
    measure(opened, number, typed.get("what", "gap"), typed.get("value", ""), **rest)


def _outcome(opened: Book, number: int, typed: Mapping[str, str]) -> None:
    named = [(key.removeprefix("hours "), text) for key, text in typed.items() if key.startswith("hours ")]
    hours = [f"{line}={text}" for line, text in named if text.strip()]
    gap, mass = (typed.get(key, "").strip() or None for key in ("gap_after", "mass"))
    set_outcome(opened, number, hours=hours, gap_after=gap, mass=mass, note=typed.get("note", ""))


state, undo, read, outcome = _written(_state), _written(_undo), _written(_measure), _written(_outcome)


@change
async def put(request: Request, form: FormData) -> Response:
    """A draft into the book: as a new job, or as another revision of the job it is there already."""
    bench, draft, typed = bench_of(request), draft_of(request), texts(form)
    customer = typed.get("customer", "").strip() or None
    to = draft.book if typed.get("as") == "revision" else None
    asked = (draft.now.document, bench.drafts.files, bench.book, customer, to)
    number = await bench.workers.run(kept_in_book, *asked, lane="heavy", key=f"{draft.id} book")
    bench.drafts.in_book(draft.id, number)
    return see(request, f"/book/{number}")


@change
async def take(request: Request, form: FormData) -> Response:
    """A job of the book onto the bench again: to revise it, or as a new job like it."""
    bench, number = bench_of(request), request.path_params["number"]
    with Book(bench.book, read_only=True) as opened:
        found = opened.record(number)
    draft = bench.drafts.begin(_document(found, bench.drafts.files), f"job {number} of the book")
    if texts(form).get("as") != "new":
        bench.drafts.in_book(draft.id, number)
    return see(request, f"/job/{draft.id}")


@change
async def copy(request: Request, form: FormData) -> Response:
    """Another draft like this one, to try something else in."""
    draft = draft_of(request)
    document = draft.now.document | {"name": f"{draft.now.document.get('name', 'Job')}, again"}
    return see(request, f"/job/{bench_of(request).drafts.begin(document, 'copied').id}")


def _document(found: Record, files: Any) -> dict[str, Any]:
    """The newest inputs as a draft's document: as typed where nothing else was borrowed for it, else as read."""
    inputs = found.newest("inputs")
    if inputs is None:
        raise refuse(f"job {found.number}", "has no inputs in force", "its history, where they may be brought back")
    body = inputs.document
    document: dict[str, Any] = parse_toml(body["toml"], "job.toml")
    if any("file" in table for name in BORROWING if isinstance(table := document.get(name), dict)):
        document = body["job"]
    for steps in FILES:
        named = at(document, steps)
        if named is None:
            continue
        own, text = base_name(named), body["tables"].get(named) or body["tables"].get(named.rpartition("/")[2])
        if text is not None:
            own = keep(text.encode(), named, files)
        elif not (OWN_NAME.fullmatch(own) and (files / own).is_file()):
            raise refuse(f"job {found.number}", f"names {own}, which the book does not hold", "the job file with it")
        holder = at(document, steps[:-1])
        holder[steps[-1]] = own
    return document


async def compare(request: Request) -> Response:
    """Jobs of the book side by side."""
    numbers = [int(n) for n in request.query_params.getlist("job") if n.isdecimal()][:_MOST_BESIDE]
    if len(numbers) < 2:
        raise InputError(*refuse("compare", "takes two jobs or more", "tick them in the list").findings)
    with Book(bench_of(request).book, read_only=True) as opened:
        jobs = summaries(opened, numbers)
        results = [opened.record(number).newest("result") for number in numbers]
    documents = [each.document if each else None for each in results]
    return page(request, "compare.html", jobs=jobs, results=documents, both=show_both, verdicts=WORDS)
