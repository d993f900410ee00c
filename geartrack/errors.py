"""What geartrack raises. Every message says what, where, and what would be right, on one line."""

from __future__ import annotations

from dataclasses import dataclass


class GeartrackError(Exception):
    """Anything geartrack refuses to do; the text is fit to show to a builder."""


@dataclass(frozen=True)
class Finding:
    """One fault in what was given: `where` (file, key, line), `what` is wrong, and what would be `right`."""

    where: str
    what: str
    right: str = ""

    def __str__(self) -> str:
        text = f"{self.where}: {self.what}" if self.where else self.what
        text = f"{text}; {self.right}" if self.right else text
        return "".join(sign if sign.isprintable() else repr(sign)[1:-1] for sign in text)  # always one line


class InputError(GeartrackError, ValueError):
    """Bad input: one or more findings, each a single line."""

    def __init__(self, *findings: Finding) -> None:
        self.findings = findings
        super().__init__("\n".join(str(f) for f in findings))


class OutOfRangeError(InputError):
    """An input outside what a formula's source allows, or where no solution exists."""


def refuse(where: str, what: str, right: str = "") -> InputError:
    """One finding as an error, ready to raise.

    >>> str(refuse("gears.teeth", "0 teeth on the pinion", "type pinion/ring, such as 8/39"))
    'gears.teeth: 0 teeth on the pinion; type pinion/ring, such as 8/39'
    """
    return InputError(Finding(where, what, right))
