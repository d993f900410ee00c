"""geartrack.datafiles: the accessor's own promises; test_packaging.py tries it in every way of installing."""

import pytest

from geartrack.datafiles import data_path, demo_jobs
from geartrack.errors import InputError


def test_a_name_inside_the_folder_is_found():
    assert "invented" in data_path("README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", ["../pyproject.toml", "jobs/../../README.md", "/etc/hostname", "", ".", "jobs/.."])
def test_a_name_that_leaves_the_folder_is_refused(name):
    with pytest.raises(InputError, match="not a name inside the data folder"):
        data_path(name)


def test_a_missing_file_is_refused_in_one_line():
    with pytest.raises(InputError, match=r"^data file jobs/none\.toml: no such file") as caught:
        data_path("jobs/none.toml")
    assert "\n" not in str(caught.value)


def test_the_demo_has_job_files_in_order_of_name():
    jobs = demo_jobs()
    assert jobs
    assert all(job.is_file() and job.suffix == ".toml" for job in jobs)
    assert list(jobs) == sorted(jobs)
