"""The shop's own list: a folder of axle files, cases and rates beside it, found by name (data/axles is one)."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from geartrack.errors import refuse
from geartrack.job import Job, job_from_dict
from geartrack.materials import Material

# Stands in for a boss that is not known while an axle file is read; no number of it is used.
_ANY_BOSS: Mapping[str, Any] = {
    "end_face": "50 mm",
    "bore_diameter": "38 mm",
    "bore_depth": "20 mm",
    "parts": [{"kind": "cylinder", "diameter": "54 mm", "from": "0 mm", "to": "22 mm"}],
}


@dataclass(frozen=True)
class ShopList:
    """A folder of axle files; `cases` and `shop.toml` are looked for beside it. folder None: no list."""

    folder: Path | None

    def names(self) -> list[str]:
        """The axles' names: their files' names without the ending."""
        return sorted(path.stem for path in self.folder.glob("*.toml")) if self.folder else []

    def axle(self, said: str) -> Path | None:
        """The axle file that was meant: by its whole name, or by a part of the name that only one has."""
        wanted = "-".join(said.lower().split())
        names = [name for name in self.names() if wanted and wanted in name.lower()]
        exact = [name for name in names if name.lower() == wanted]
        chosen = exact or (names if len(names) == 1 else [])
        return self.folder / f"{chosen[0]}.toml" if chosen and self.folder else None

    def cases(self, axle: Path, metal: Material) -> Iterator[Path]:
        """Case files for an axle: named after it or after the first word of its name, of that metal (unknown: any)."""
        folder = axle.parent.parent / "cases"
        names = (axle.stem, axle.stem.split("-")[0])
        for path in sorted(folder.glob("*.toml")):
            if any(path.stem == name or path.stem.startswith(f"{name}-") for name in names):
                job = job_from_dict(_around(axle) | {"case": {"file": str(path.resolve())}}, folder, path.name)
                if metal in (Material.UNKNOWN, job.case.material):
                    yield path

    @property
    def rates(self) -> Path | None:
        """The file of the shop's rates beside the list, if there is one."""
        path = self.folder.parent / "shop.toml" if self.folder else None
        return path if path and path.is_file() else None

    def axle_job(self, axle: Path | None) -> Job:
        """A job of which only the axle and the shop's rates mean anything; without an axle only the rates do."""
        shop = {"shop": {"file": str(self.rates.resolve())}} if self.rates else {}
        return job_from_dict(_around(axle) | shop, Path(), axle.name if axle else "shop.toml")


def shop_list(axles: Path | None, base: Path) -> ShopList:
    """The list in a folder that was named, else in `axles` beside the job's folder or in it."""
    if axles and not axles.is_dir():
        raise refuse("--axles", f"{axles} is no folder", "the folder that holds the shop's axle files")
    places = [axles] if axles else [base / "axles", base.resolve().parent / "axles"]
    return ShopList(next((place for place in places if place.is_dir()), None))


def seen_from(path: Path, base: Path) -> str:
    """A file's name as a job in the folder `base` gives it."""
    try:
        return Path(os.path.relpath(path.resolve(), base.resolve())).as_posix()
    except ValueError:  # on another drive
        return path.resolve().as_posix()


def _around(axle: Path | None) -> dict[str, Any]:
    """The least job that an axle file can stand in."""
    table = {"file": str(axle.resolve())} if axle else {"ring_diameter": "240 mm", "offset": "0 mm"}
    return {"name": "list", "axle": table, "gears": {"teeth": "8/39"}, "boss": dict(_ANY_BOSS)}
