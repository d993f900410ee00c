"""Numbers of a card as a job file's texts."""

from __future__ import annotations

from geartrack.quantity import Quantity


def in_mm(value_mm: float) -> str:
    """A length as a job holds it."""
    return f"{value_mm:.3f} mm"


def table(quantity: Quantity) -> dict[str, str]:
    """A quantity as a job's table."""
    limits = {"value": quantity.value, "low": quantity.low, "high": quantity.high}
    return {key: in_mm(value) for key, value in limits.items()} | {
        "origin": str(quantity.origin),
        "how": quantity.source,
    }
