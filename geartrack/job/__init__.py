"""The typed job file: read with all findings at once, changed, written."""

from geartrack.job.fields import typed_length
from geartrack.job.files import StationsFile
from geartrack.job.model import (
    Axle,
    Boss,
    Case,
    Correlated,
    Gears,
    Job,
    Measured,
    OldGears,
    Running,
    Shift3,
    Target,
    Turning,
)
from geartrack.job.parts import Cone, Cut, Cylinder, Fillet, Pad, Part, Rib
from geartrack.job.read import from_other_file, job_from_dict, locate, read_job, with_changes
from geartrack.job.readings import BarToToe, GapReading, Noted, Taken, TouchReading, WallReading, WindOver
from geartrack.job.setup import Pull, Setup, Stack, TorqueReading, Turned
from geartrack.job.shop import Amount, Shop, given
from geartrack.job.tools import TOOLS, Tool
from geartrack.job.trace import Known, Trace
from geartrack.job.write import job_document, new_job_text, write_job, write_text

__all__ = [
    "TOOLS",
    "Amount",
    "Axle",
    "BarToToe",
    "Boss",
    "Case",
    "Cone",
    "Correlated",
    "Cut",
    "Cylinder",
    "Fillet",
    "GapReading",
    "Gears",
    "Job",
    "Known",
    "Measured",
    "Noted",
    "OldGears",
    "Pad",
    "Part",
    "Pull",
    "Rib",
    "Running",
    "Setup",
    "Shift3",
    "Shop",
    "Stack",
    "StationsFile",
    "Taken",
    "Target",
    "Tool",
    "TorqueReading",
    "TouchReading",
    "Trace",
    "Turned",
    "Turning",
    "WallReading",
    "WindOver",
    "from_other_file",
    "given",
    "job_document",
    "job_from_dict",
    "locate",
    "new_job_text",
    "read_job",
    "typed_length",
    "with_changes",
    "write_job",
    "write_text",
]
