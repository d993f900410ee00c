"""The demo's jobs for tests: read fresh, changed by dotted keys."""

from geartrack.datafiles import data_path
from geartrack.job import Job, read_job, with_changes


def demo_job(name: str, **changes: str) -> Job:
    """A demo job; keyword a__b is the key a.b, typed as on the command line."""
    job = read_job(data_path(f"jobs/{name}.toml"))
    return with_changes(job, {key.replace("__", "."): text for key, text in changes.items()}) if changes else job
