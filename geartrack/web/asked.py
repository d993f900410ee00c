"""What may be asked of the JSON API: the bodies of its requests, read by pydantic, which describes them too."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Text = Annotated[str, Field(max_length=200)]


class Asked(BaseModel):
    """Every body: no key but its own."""

    model_config = ConfigDict(extra="forbid", strict=True, populate_by_name=True)


class OfJob(Asked):
    """A job as a job file holds it, with the texts of the files that it names, and what is said instead of the file."""

    job: Annotated[dict[str, Any], Field(description="The tables of a job file, as JSON; lengths as text with a unit.")]
    files: Annotated[
        dict[str, str], Field(max_length=20, description="Texts of the files that the job names, by name.")
    ] = {}
    teeth: Annotated[Text | None, Field(description="Another tooth pair or ratio, such as 8/39.")] = None
    target: Annotated[Text | None, Field(description='Gap wanted, such as "0.020 in".')] = None
    units: Annotated[Literal["in", "mm"] | None, Field(description="Unit in which words give lengths first.")] = None


class Drawn(OfJob):
    """How low to high is drawn; confidence [percent]: chance of the cut to hold."""

    fast: Annotated[bool, Field(description="The straight sum of all limits: quicker and wider.")] = False
    draws: Annotated[int | None, Field(ge=256, le=65536, description="A power of two.")] = None
    seed: Annotated[int | None, Field(ge=0, le=2**31, description="The same seed draws the same.")] = None
    confidence: Annotated[float | None, Field(ge=50, le=99.9, description="Chance of the cut to hold [percent].")] = (
        None
    )


class Ratios(OfJob):
    """Which tooth pairs are compared; lowest, highest: ratios [-]."""

    lowest: Annotated[float, Field(alias="from", ge=1, le=12, description="Lowest ratio [-].")] = 3.5
    highest: Annotated[float, Field(alias="to", ge=1, le=12, description="Highest ratio [-].")] = 6.2
    pairs: Annotated[Text | None, Field(description='Only these: "9/35, 8/39".')] = None
    fast: bool = False


class Passes(Drawn):
    """The cut in passes."""

    depth_each: Annotated[Text | None, Field(description='Deepest new cut of a pass, such as "0.005 in".')] = None
    now_at: Annotated[list[Text], Field(max_length=40, description="Gaps read at the fit checks, in order.")] = []
    after: Annotated[int | None, Field(ge=0, le=100, description="Passes made when the first gap was read.")] = None


class Gears(Asked):
    """A gear set by its main figures."""

    teeth: Annotated[Text, Field(description="Pinion and ring teeth, or a ratio.")]
    ring_diameter: Text
    offset: Text = "0 mm"
    face_width: Text | None = None
    pinion_spiral: Text | None = None
    cutter_radius: Text | None = None
    taper: Literal["standard", "duplex", "uniform"] = "standard"
    kind: Literal["hypoid", "spiral bevel", "straight bevel"] | None = None


BODIES: dict[str, tuple[type[Asked], str]] = {
    "check": (Drawn, "Does this job's gear set touch the boss, and what has to go?"),
    "next": (Drawn, "Which reading to take next: the check, with its readings still to take"),
    "ratios": (Ratios, "Gap, depth and wall left for each ratio this axle could have"),
    "passes": (Passes, "The cut in passes"),
    "quote": (Drawn, "Hours and money for what the check found"),
    "gears": (Gears, "Every dimension of a gear set"),
}
"""What may be asked, by the name of the command that prints the same."""
