"""Settings that hold for every test: a property test is neither timed nor different from one run to the next."""

from hypothesis import settings

settings.register_profile("geartrack", deadline=None, derandomize=True)
settings.load_profile("geartrack")
