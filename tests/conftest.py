"""Settings that hold for every test: a property test is neither timed nor different from one run to the next.

Commands draw low to high from few draws, so that the suite is quick; tests of the draws themselves say how many.
"""

import importlib.util
import os

from hypothesis import settings

if importlib.util.find_spec("axe_playwright_python"):  # it reads its script by the locale, which a solid kernel changes
    import axe_playwright_python.sync_playwright  # noqa: F401

os.environ["GEARTRACK_DRAWS"] = "256"
os.environ.pop("COLUMNS", None)  # a test worker sets it, and what a command prints would be narrower for it

settings.register_profile("geartrack", deadline=None, derandomize=True)
settings.load_profile("geartrack")
