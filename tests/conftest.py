"""Settings that hold for every test: a property test is neither timed nor different from one run to the next.

Commands draw low to high from few draws, so that the suite is quick; tests of the draws themselves say how many.
"""

import os

from hypothesis import settings

os.environ["GEARTRACK_DRAWS"] = "256"
os.environ.pop("COLUMNS", None)  # a test worker sets it, and what a command prints would be narrower for it

settings.register_profile("geartrack", deadline=None, derandomize=True)
settings.load_profile("geartrack")
