"""How long the bench page takes from a changed value to the new drawing, beside what the drawing alone takes.

    python tests/bench/page_table.py [scan.stl]

Prints a table of medians in milliseconds and, in one run on one machine, their ratios to the drawing of the nearest
place in this process. A page really runs; the clock starts when the form is sent and stops when the drawing is there.
With a scan, the same with that scan for the boss, once it was loaded.
"""

import statistics
import sys
import tempfile
import time
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from page_server import Client, running

from geartrack.datafiles import data_path
from geartrack.draw import near_view
from geartrack.draw.alone import view_svg
from geartrack.job import read_job
from geartrack.study.glance import glance

CHANGES = 15


def median_ms(times):
    return 1000 * statistics.median(times)


def drawing_alone():
    """The nearest place of the demo, worked out and drawn in this process."""
    job, times = read_job(data_path("jobs/grind.toml")), []
    for _ in range(CHANGES):
        start = time.perf_counter()
        view_svg(partial(near_view, answer=glance(job), units="in"), "x", wide=5.2, high=4.5)
        times.append(time.perf_counter() - start)
    return median_ms(times[2:])


def changes(client, path, key, values):
    """From a changed value to its drawing, and to the first verdict [ms]."""
    form, drawn, decided = client.form(path), [], []
    for value in values:
        start = time.perf_counter()
        client.post(path, live=True, **{**form, key: value})
        form["revision"] = str(int(form["revision"]) + 1)
        client.http.get(f"{path}/{form['revision']}/glance.svg").raise_for_status()
        drawn.append(time.perf_counter() - start)
        client.http.get(f"{path}/answer").raise_for_status()
        decided.append(time.perf_counter() - start)
    return median_ms(drawn[2:]), median_ms(decided[2:])


def with_scan(client, scan):
    """A job of the demo with a scan for its boss, loaded."""
    path = client.demo()
    fields = {"token": client.token, "revision": "1", "unit": "mm"}
    with open(scan, "rb") as file:
        brought = client.http.post(f"{path}/scan", data=fields, files={"file": file})
    here, _, query = brought.headers["location"].partition("?")
    client.http.get(f"{here}/look?{query}").raise_for_status()
    client.http.post(f"{here}/use?{query}", data=fields)
    client.http.get(path).raise_for_status()
    return path


def main():
    """Print the table."""
    alone = drawing_alone()
    rows = [("nearest place worked out and drawn, no page", alone)]
    with tempfile.TemporaryDirectory() as folder, running(Path(folder)) as page, Client(page) as client:
        start = time.perf_counter()
        client.http.get("/").raise_for_status()
        rows.append(("first page", 1000 * (time.perf_counter() - start)))
        path = client.demo()
        client.http.get(path).raise_for_status()
        found = changes(client, path, "boss.end_face", [f"49.{n:02d} mm" for n in range(CHANGES)])
        rows += [("demo: changed value to drawing", found[0]), ("demo: changed value to first verdict", found[1])]
        if len(sys.argv) > 1:
            path = with_scan(client, sys.argv[1])
            found = changes(client, path, "target.gap", [f"0.{510 + n} mm" for n in range(CHANGES)])
            rows += [("scan: changed value to drawing", found[0]), ("scan: changed value to first verdict", found[1])]
    lines = ["| | ms | times the drawing alone |", "|---|---|---|"]
    lines += [f"| {name} | {ms:.0f} | {ms / alone:.1f} |" for name, ms in rows]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
