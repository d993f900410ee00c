"""Job files: what is written reads back equal, and no document does anything but read or be refused line by line."""

import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import example, given, settings
from hypothesis import strategies as st
from job_documents import TEXT, document, jobs

from geartrack.errors import InputError
from geartrack.job import job_document, job_from_dict, new_job_text, read_job, write_job

KEYS = ["name", "units", "axle", "axle.offset", "axle.hand", "gears.teeth", "gears.face_width", "gears.measured"]
KEYS += ["boss", "boss.parts", "boss.bore_diameter", "boss.stations", "case.cracked", "turning", "shop.rate", "target"]
KEYS += ["axle.file", "boss.file", "default_unit", "format", "gears.nonsense", "running.heat", "readings"]

scalars = st.one_of(
    st.text(max_size=20),
    st.integers(),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.sampled_from(["5 mm", "0.5 in +/- 0.1 in", "nan", "30 deg", "cylinder", "../x.toml", "\0"]),
)
keys = st.sampled_from(["value", "low", "high", "give_or_take", "how", "origin", "shape", "kind", "from", "to", "file"])
values = st.recursive(
    scalars, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys | st.text(max_size=5), inner, max_size=4)
)


def outcome(read):
    """The job, or else the findings and their text."""
    try:
        return read(), (), ""
    except InputError as error:
        return None, error.findings, str(error)


@settings(max_examples=100)
@given(jobs())
def test_a_job_written_reads_back_equal(job):
    with TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        write_job(job, path)
        assert read_job(path) == job
        assert [entry.name for entry in Path(folder).iterdir()] == ["job.toml"]


@settings(max_examples=300)
@given(st.dictionaries(st.sampled_from(KEYS), values, max_size=3))
@example({"axle.offset": 10**400})
@example({"boss.bore_diameter": float("nan")})
@example({"shop.rate": "9" * 200})
@example({"shop.rate": 1e-300})
@example({"gears.measured": []})
@example({"boss.stations": {"path": ".", "typed": "x"}})
def test_any_document_is_read_or_refused_on_lines_of_their_own(changes):
    given_document = {**document(), **{key: value for key, value in changes.items() if "." not in key}}
    for dotted, value in changes.items():
        table, _, key = dotted.partition(".")
        if key and isinstance(given_document.setdefault(table, {}), dict):
            given_document[table][key] = value
    with TemporaryDirectory() as folder:
        job, findings, text = outcome(lambda: job_from_dict(given_document, Path(folder), "job.toml"))
    assert (job is None) == bool(findings)
    assert len(text.splitlines()) == len(findings)
    assert all(finding.where.split(",")[0] in ("job.toml", "../x.toml") for finding in findings)


@settings(max_examples=300)
@given(st.integers(0, len(TEXT)), st.integers(0, 30), st.text(max_size=8))
def test_a_file_with_a_piece_replaced_is_read_or_refused_with_lines_that_exist(start, length, piece):
    text = TEXT[:start] + piece + TEXT[start + length :]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "job.toml"
        path.write_text(text, encoding="utf-8", errors="replace", newline="")
        job, findings, _ = outcome(lambda: read_job(path))
    assert (job is None) == bool(findings)
    lines = [int(f.where.rpartition("(line ")[2][:-1]) for f in findings if "(line " in f.where]
    assert all(1 <= line <= len(text.splitlines()) for line in lines)
    assert all(finding.where.startswith("job.toml") or str(path) in finding.where for finding in findings)


@settings(max_examples=50)
@given(jobs())
def test_a_new_job_holds_every_answer_and_nothing_else(job):
    plain = job_document(job)
    assert tomllib.loads(new_job_text(plain)) == plain
