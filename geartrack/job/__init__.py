"""The typed job file: read with all findings at once, changed, written."""

from geartrack.job.fields import TOOLS, Tool
from geartrack.job.model import (
    Axle,
    Boss,
    Case,
    Gears,
    Job,
    Measured,
    Running,
    Shop,
    StationsFile,
    Target,
    Turning,
)
from geartrack.job.parts import Cone, Cut, Cylinder, Fillet, Pad, Part, Rib
from geartrack.job.read import job_from_dict, locate, read_job, with_changes

__all__ = [
    "TOOLS",
    "Axle",
    "Boss",
    "Case",
    "Cone",
    "Cut",
    "Cylinder",
    "Fillet",
    "Gears",
    "Job",
    "Measured",
    "Pad",
    "Part",
    "Rib",
    "Running",
    "Shop",
    "StationsFile",
    "Target",
    "Tool",
    "Turning",
    "job_from_dict",
    "locate",
    "read_job",
    "with_changes",
]
