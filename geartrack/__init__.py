"""geartrack: does a steep ring and pinion set touch the pilot-bearing boss, where, and how little metal has to go."""

__version__ = "0.1.0"
