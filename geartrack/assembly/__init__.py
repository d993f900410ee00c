"""A job's numbers put together: the ring in its place, the boss in its seat, for any values of the inputs."""

from geartrack.assembly.bodies import assemble, closer_by, turning_bodies
from geartrack.assembly.load import running_load
from geartrack.assembly.many import Many, many
from geartrack.assembly.model import WEIGHED, Assembly, Plan, Values
from geartrack.assembly.places import at_place
from geartrack.assembly.plan import for_pair, placed_by, plan
from geartrack.assembly.walls import FORM_MM, wall_spread, walls_read

__all__ = [
    "FORM_MM",
    "WEIGHED",
    "Assembly",
    "Many",
    "Plan",
    "Values",
    "assemble",
    "at_place",
    "closer_by",
    "for_pair",
    "many",
    "placed_by",
    "plan",
    "running_load",
    "turning_bodies",
    "wall_spread",
    "walls_read",
]
