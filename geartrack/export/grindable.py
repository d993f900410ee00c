"""What an export may be ground by; see geartrack.study.grindable."""

from geartrack.study.grindable import cuts_to_grind, hand_of, stop_of

__all__ = ["cuts_to_grind", "hand_of", "stop_of"]
