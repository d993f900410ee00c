"""`python -m geartrack`."""

from geartrack.cli import main

main()
