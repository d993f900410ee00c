"""The start: three cards, the demo, a file to open, the jobs being worked on."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from typing import Any

from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from geartrack.cards.answer import CardAnswer
from geartrack.cards.entries import Card
from geartrack.datafiles import data_path
from geartrack.errors import InputError, refuse
from geartrack.web import work_cards
from geartrack.web.bench import bench_of, change, see, svg_answer, texts
from geartrack.web.faults import sorted_faults
from geartrack.web.forms import FIELDS, Faults
from geartrack.web.render import is_live, page
from geartrack.web.uploads import gathered

CARDS = {
    "phone": ("geartrack.cards.phone", "On the phone", "Four answers. Is the boss likely to be in the way?"),
    "old-gears": (
        "geartrack.cards.old_gears",
        "Old gears still fitted",
        "A gap and two ring heights give the new gap. No drawing.",
    ),
    "bare-case": ("geartrack.cards.bare_case", "Bare case on the bench", "Straightedge, bars and caliper. No gears."),
}
"""Name of each card, its module, its title, and what it is for."""
DEMO = "jobs/grind.toml"
EMPTY: dict[str, Any] = {"format": 1, "name": "New job", "units": "in", "axle": {}, "gears": {}, "boss": {}}


def card_of(name: str) -> Card:
    """The card of that name; refuses another name."""
    if name not in CARDS:
        raise refuse("card", f"there is no card {name[:30]!r}", ", ".join(CARDS))
    found: Card = import_module(CARDS[name][0]).CARD
    return found


async def start(request: Request) -> Response:
    """The first page."""
    cards = [(name, title, says, card_of(name).entries) for name, (_, title, says) in CARDS.items()]
    return page(request, "start.html", cards=cards, drafts=bench_of(request).drafts.all()[:8])


async def card(request: Request) -> Response:
    """A card with nothing typed yet."""
    name = request.path_params["card"]
    return _card_page(request, name, {}, "in", None, Faults())


@change
async def work_card(request: Request, form: FormData) -> Response:
    """A card's answer to what is typed so far."""
    name, typed = request.path_params["card"], texts(form)
    chosen = card_of(name)
    units = "mm" if typed.get("units") == "mm" else "in"
    entries = {entry.key: typed.get(entry.key, "") for entry in chosen.entries}
    said = {key: text for key, text in entries.items() if text.strip()}
    answer, faults = None, Faults()
    if said:
        try:
            workers = bench_of(request).workers
            answer = await workers.run(
                work_cards.card_answer, CARDS[name][0], said, units, lane="quick", key=f"card {request.state.token}"
            )
        except InputError as error:
            faults = sorted_faults(error.findings, entries)
    return _card_page(request, name, entries, units, answer, faults)


def _card_page(request: Request, name: str, typed: dict[str, str], units: str, answer: Any, faults: Faults) -> Response:
    template = "card_answer.html" if is_live(request) else "card.html"
    _, title, says = CARDS[name]
    filled = {"entries": card_of(name).entries, "typed": typed, "units": units, "answer": answer, "faults": faults}
    return page(request, template, name=name, title=title, says=says, lacks=_lacking(answer), **filled)


def _lacking(answer: CardAnswer | None) -> list[str]:
    """What a card's job still needs, in the words of its fields."""
    keys = answer.job_lacks if answer else ()
    return [FIELDS[key].label.lower() if key in FIELDS else key.rpartition(".")[2].replace("_", " ") for key in keys]


@change
async def take_card(request: Request, form: FormData) -> Response:
    """Go on with a card's entries as a job."""
    name, typed = request.path_params["card"], texts(form)
    said = {e.key: typed[e.key] for e in card_of(name).entries if typed.get(e.key, "").strip()}
    units = "mm" if typed.get("units") == "mm" else "in"
    bench = bench_of(request)
    answer = await bench.workers.run(
        work_cards.card_answer, CARDS[name][0], said, units, lane="quick", key=f"take {request.state.token}"
    )
    draft = bench.drafts.begin(EMPTY | dict(answer.job or {}), f"from the card {CARDS[name][1]}")
    return see(request, f"/job/{draft.id}")


@change
async def demo(request: Request, form: FormData) -> Response:
    """The demo's job, to work on."""
    bench = bench_of(request)
    main = data_path(DEMO)
    beside = {path.name: path.read_bytes() for path in _demo_files(main)}
    document = gathered(main.read_bytes(), main.name, beside, bench.drafts.files)
    return see(request, f"/job/{bench.drafts.begin(document, 'the demo').id}")


def _demo_files(main: Path) -> list[Path]:
    """The files that the demo's jobs name, scans aside."""
    folder = main.parents[1]
    return [path for path in folder.rglob("*") if path.is_file() and path.suffix in (".toml", ".csv", ".dxf", ".svg")]


@change
async def blank(request: Request, form: FormData) -> Response:
    """A job with nothing in it yet."""
    return see(request, f"/job/{bench_of(request).drafts.begin(EMPTY, 'begun').id}")


@change
async def open_file(request: Request, form: FormData) -> Response:
    """A job file with the files it names, as chosen or dropped together."""
    bench = bench_of(request)
    files = [each for each in form.getlist("files") if isinstance(each, UploadFile) and each.filename]
    contents = {each.filename or "": await each.read() for each in files}
    jobs = [name for name in contents if name.casefold().endswith(".toml")]
    if not jobs:
        raise refuse("files", "there is no job among them", "a job file (.toml), with the files that it names")
    main = max(jobs, key=lambda name: _tables(contents[name]))
    document = gathered(contents[main], main[:60], contents, bench.drafts.files)
    return see(request, f"/job/{bench.drafts.begin(document, f'opened {main[:60]}').id}")


def _tables(content: bytes) -> int:
    """How many of a job's tables a file has: the job is the file with most of them."""
    return sum(content.count(f"[{table}]".encode()) for table in ("axle", "gears", "boss", "case", "target"))


async def method(request: Request) -> Response:
    """The drawing of a way to take a reading, as SVG."""
    bench, name = bench_of(request), request.path_params["name"]
    svg = await bench.kept_by(work_cards.method_svg, name, lane="quick")
    return svg_answer(svg)
