"""The JSON API: the same text as the commands print, and nothing that falls over, whatever it is sent."""

import json

import pytest
import schemathesis
from click.testing import CliRunner
from hypothesis import HealthCheck, given, settings
from page_server import Client, running
from schemathesis.specs.openapi.checks import positive_data_acceptance

from geartrack.cli import main
from geartrack.datafiles import data_path
from geartrack.job import write_job
from geartrack.job.borrow import merged, parse_toml
from geartrack.web.api import description
from geartrack.web.asked import BODIES

JOB = data_path("jobs/grind.toml")
BY_READINGS = data_path("jobs/grind-by-readings.toml")


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    with running(tmp_path_factory.mktemp("page")) as page, Client(page) as found:
        yield found


def whole(path):
    """A demo job's document with the tables that it takes from other files."""
    document = parse_toml(path.read_text(encoding="utf-8"), path.name)
    for name, table in document.items():
        if isinstance(table, dict) and "file" in table:
            theirs = (path.parent / table.pop("file")).read_text(encoding="utf-8")
            document[name] = merged(parse_toml(theirs, name)[name], table)
    return document


def printed(*arguments):
    ran = CliRunner().invoke(main, [*map(str, arguments), "--json"])
    assert ran.exit_code == 0, ran.output
    return ran.output


@pytest.mark.parametrize(
    ("what", "said", "command"),
    [
        ("check", {}, ["check"]),
        ("check", {"fast": True, "units": "mm"}, ["check", "--fast", "--units", "mm"]),
        ("check", {"fast": True, "teeth": "8/39"}, ["check", "--fast", "--teeth", "8/39"]),
        ("check", {"draws": 512, "seed": 7}, ["check", "--draws", "512", "--seed", "7"]),
        ("check", {"fast": True, "target": "0.030 in"}, ["check", "--fast", "--target", "0.030 in"]),
        ("next", {}, ["next"]),
        ("ratios", {"pairs": "9/35, 8/39", "fast": True}, ["ratios", "--teeth", "9/35, 8/39", "--fast"]),
        ("passes", {"depth_each": "0.005 in"}, ["passes", "--depth-each", "0.005 in"]),
        ("passes", {"now_at": ["0.006 in"]}, ["passes", "--now-at", "0.006 in"]),
        ("quote", {}, ["quote"]),
    ],
)
def test_it_answers_what_the_command_prints(client, tmp_path, what, said, command):
    job = tmp_path / "job.toml"
    write_job(whole(JOB), job)
    answer = client.http.post(f"/api/{what}", json={"job": whole(JOB), **said})
    assert answer.status_code == 200, answer.text
    name, *options = command
    assert answer.text == printed(name, job, *options)


def test_gears_are_what_the_command_prints(client):
    answer = client.http.post("/api/gears", json={"teeth": "7/36", "ring_diameter": "240 mm", "offset": "54 mm"})
    assert answer.text == printed("gears", "--teeth", "7/36", "--ring-diameter", "240 mm", "--offset", "54 mm")


def test_a_table_of_readings_comes_with_its_job(client):
    document = whole(BY_READINGS)
    name = document["boss"]["stations"]
    body = {"job": document, "fast": True}
    without = client.http.post("/api/check", json=body)
    assert without.status_code == 422
    assert [each["where"] for each in without.json()["findings"]] == ["job, key boss.stations"]
    table = data_path(f"cases/{name}").read_text(encoding="utf-8")
    answer = client.http.post("/api/check", json=body | {"files": {name: table}})
    assert answer.json()["gap"] == json.loads(printed("check", BY_READINGS, "--fast"))["gap"]


def test_faults_are_told_all_at_once_with_their_keys(client):
    document = whole(JOB)
    document["axle"]["offset"] = "54 furlongs"
    document["boss"]["bore_depth"] = "-3 mm"
    answer = client.http.post("/api/check", json={"job": document})
    assert answer.status_code == 422
    assert [each["where"] for each in answer.json()["findings"]] == ["job, key axle.offset", "job, key boss.bore_depth"]


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"{", "application/json", 422),
        (b"[" * 100_000, "application/json", 422),
        (b'{"teeth": NaN}', "application/json", 422),
        (b"null", "application/json", 422),
        (b'{"teeth": "7/36", "ring_diameter": "240 mm", "x": 1}', "application/json", 422),
        (b'{"teeth": "7/36", "ring_diameter": "240 mm"}', "text/plain", 415),
        (b"teeth=7/36", "application/x-www-form-urlencoded", 415),
    ],
)
def test_what_is_no_request_is_refused(client, body, kind, status):
    answer = client.http.post("/api/gears", content=body, headers={"content-type": kind})
    assert answer.status_code == status
    assert answer.json()["kind"] == "refused"
    assert answer.json()["findings"]
    assert client.http.post("/api/nothing", json={}).status_code == 404


def test_the_description_names_every_command(client):
    served = client.http.get("/api/openapi.json").json()
    assert served == json.loads(json.dumps(description()))
    assert set(served["paths"]) == {f"/api/{name}" for name in BODIES}


def test_nothing_that_is_sent_makes_it_fall_over(client):
    """schemathesis sends bodies made from the description, sound and broken: never a 500, always as described.

    That a sound body is taken is not asked of it: what a job must hold is told by its findings, not by the schema.
    """
    schema = schemathesis.openapi.from_dict(description())
    count = settings(
        max_examples=12, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck)
    )
    tried = []
    for operation in schema.get_all_operations():
        made = operation.ok().as_strategy()

        @count
        @given(case=made)
        def one(case):
            answer = case.call(base_url=client.page.address)
            tried.append(answer.status_code)
            case.validate_response(answer, excluded_checks=[positive_data_acceptance])

        one()
    assert len(tried) > 40
    assert set(tried) <= {200, 413, 415, 422}
