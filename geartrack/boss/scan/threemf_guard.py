"""A 3MF file looked through before its library sees it: what it unpacks to, and how often it places its parts.

A 3MF is a zip of XML models. The library checks neither how large a part unpacks, nor how often objects made of objects
place the same mesh, which by doubling a few times over takes all the time and memory there is.
"""

from __future__ import annotations

import io
import posixpath
import zipfile
import zlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import BinaryIO, NamedTuple

from geartrack.boss.scan.limits import (
    BLOCK_BYTES,
    MOST_DEPTH,
    MOST_ELEMENTS,
    MOST_ENTRIES,
    MOST_PACKED_RATIO,
    MOST_TRIANGLES,
    MOST_UNPACKED_BYTES,
)
from geartrack.boss.scan.raw import WHOLE, reading, too_many
from geartrack.errors import InputError, refuse

_SMALL = 2**20  # bytes: a part that unpacks to less may be packed as tightly as it likes
_ROOT = "_rels/.rels"  # names the main model
UNITS = ("micron", "millimeter", "centimeter", "inch", "foot", "meter")
_READ = (".model", ".rels", "[content_types].xml")  # what the library reads as XML
Key = tuple[str, str]
"""A model's name in the zip, and an object's number in that model."""


class _Count(NamedTuple):
    """What an object places, all that it is put together from with it: parts, vertices, triangles; and how deep [-]."""

    parts: int = 1
    vertices: int = 0
    triangles: int = 0
    depth: int = 0


def looked_through(stream: BinaryIO, where: str) -> tuple[BinaryIO, int]:
    """The zip packed anew from just what was looked through, and how many triangles its build places.

    Raises InputError for what is no 3MF, unpacks to too much, has a document type (and with it entities of any kind),
    or places too much.
    """
    copy = io.BytesIO()
    try:
        with (
            zipfile.ZipFile(stream) as packed,
            zipfile.ZipFile(copy, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as out,
        ):
            parts = {each.filename.strip("/"): _copied(packed, each, out, where) for each in _entries(packed, where)}
    except (zipfile.BadZipFile, RuntimeError, zlib.error, EOFError, ValueError) as fault:
        if isinstance(fault, InputError):
            raise
        raise refuse(where, "is no 3MF file or is spoilt", WHOLE) from None
    return copy, _placed(parts, where)


def _entries(packed: zipfile.ZipFile, where: str) -> list[zipfile.ZipInfo]:
    """The files in it. Raises InputError for what would unpack to too much."""
    entries = [each for each in packed.infolist() if not each.is_dir()]
    if len(entries) > MOST_ENTRIES:
        raise refuse(where, f"holds {len(entries):,} files", "a 3MF file of a scan")
    if sum(each.file_size for each in entries) > MOST_UNPACKED_BYTES:
        raise refuse(where, "would unpack to more than is read", f"at most {MOST_UNPACKED_BYTES / 2**30:.0f} GiB")
    if len({each.filename.strip("/").lower() for each in entries}) < len(entries):
        raise refuse(where, "holds two files of one name", WHOLE)
    for each in entries:
        if each.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise refuse(where, "is packed in a way that no 3MF file is", WHOLE)
        if each.file_size > max(MOST_PACKED_RATIO * each.compress_size, _SMALL):
            raise refuse(where, "is packed tighter than any mesh can be", "a 3MF file of a scan")
    return entries


def _copied(packed: zipfile.ZipFile, entry: zipfile.ZipInfo, out: zipfile.ZipFile, where: str) -> _Part:
    """A file copied as it streams past, looked through if it is one that the library reads."""
    part = _Part(entry.filename.strip("/"), where)
    with packed.open(entry) as content, out.open(part.name, "w") as copy:
        if not part.name.lower().endswith(_READ):
            while piece := content.read(BLOCK_BYTES):
                copy.write(piece)
            return part
        from lxml import etree

        parser = etree.XMLParser(target=part, resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)
        with reading(f"{where}, {part.name[:60]}"):
            while piece := content.read(BLOCK_BYTES // 8):
                copy.write(piece)
                parser.feed(piece)
            parser.close()
    return part


@dataclass
class _Object:
    """vertices, triangles: how many are its own; parts: the objects it is put together from."""

    vertices: int = 0
    triangles: int = 0
    parts: list[Key] = field(default_factory=list)


class _Part:
    """One file's objects, what it builds of them, and the models it names.

    What lxml calls as the elements stream past: no tree is built.
    """

    def __init__(self, name: str, where: str) -> None:
        self.name, self.where = name, where
        self.objects: dict[Key, _Object] = {}
        self.build: list[Key] = []
        self.models: list[str] = []
        self.now = _Object()
        self.depth = self.met = self.links = 0

    def doctype(self, *_: object) -> None:
        raise refuse(self.where, f"{self.name[:60]} has a document type, which no 3MF may have", WHOLE)

    def start(self, tag: str, said: Mapping[str, str]) -> None:
        self.depth, self.met = self.depth + 1, self.met + 1
        if self.depth > MOST_DEPTH:
            raise refuse(self.where, f"{self.name[:60]} is nested deeper than any mesh", WHOLE)
        if self.met > MOST_ELEMENTS:
            raise refuse(self.where, f"{self.name[:60]} has more elements than any mesh that is read", WHOLE)
        match tag[tag.rfind("}") + 1 :]:
            case "vertex":
                self.now.vertices += 1
            case "triangle":
                self.now.triangles += 1
            case "object":
                self._link(said)
                self.now = self.objects.setdefault((self.name, said.get("id", "")), _Object())
            case "component":
                self.now.parts.append(self._link(said))
            case "item":
                self.build.append(self._link(said))
            case "model" if said.get("unit", "millimeter") not in UNITS:
                raise refuse(self.where, f"has an unknown unit {said['unit'][:20]!r}", f"one of {', '.join(UNITS)}")
            case "Relationship" if said.get("Type", "").lower().endswith("/3dmodel"):
                folder = posixpath.dirname(posixpath.dirname(f"/{self.name}"))
                self.models.append(posixpath.normpath(posixpath.join(folder, said.get("Target", ""))).strip("/"))

    def end(self, _: str) -> None:
        self.depth -= 1

    def close(self) -> None:
        """Nothing is left to do; lxml asks for it."""

    def _link(self, said: Mapping[str, str]) -> Key:
        self.links += 1
        if self.links > MOST_ENTRIES:
            raise refuse(self.where, f"{self.name[:60]} has more objects than any scan", WHOLE)
        path = next((text for name, text in said.items() if name.endswith("}path")), self.name)
        return path.strip("/"), said.get("objectid", "")


def _placed(parts: Mapping[str, _Part], where: str) -> int:
    """How many triangles the main model's build places."""
    if _ROOT not in parts or not parts[_ROOT].models:
        raise refuse(where, "names no model", "a 3MF file, or the right name for its format")
    named = {name for part in parts.values() for name in part.models}
    if missing := sorted(name for name in named if not name.lower().endswith(".model") or name not in parts):
        raise refuse(where, f"names a model {missing[0][:60]!r} that it does not hold", WHOLE)
    objects = {key: each for part in parts.values() for key, each in part.objects.items()}
    known: dict[Key, _Count] = {}
    build = [key for name in sorted(set(parts[_ROOT].models)) for key in parts[name].build]
    return _sum(build, objects, known, 0, where).triangles


def _sum(
    keys: Iterable[Key], objects: Mapping[Key, _Object], known: dict[Key, _Count], above: int, where: str
) -> _Count:
    """What some objects place together; each is gone into once, and none deeper than MOST_DEPTH."""
    parts = vertices = triangles = depth = 0
    for key in keys:
        if key not in objects:
            raise refuse(where, f"names an object {key[1][:20]!r} that it does not hold", WHOLE)
        each = objects[key]
        if key not in known and above < MOST_DEPTH:
            inner = _sum(each.parts, objects, known, above + 1, where)
            known[key] = _Count(
                1 + inner.parts, each.vertices + inner.vertices, each.triangles + inner.triangles, 1 + inner.depth
            )
        count = known.get(key, _Count(depth=MOST_DEPTH))
        parts, depth = parts + count.parts, max(depth, count.depth)
        vertices, triangles = vertices + count.vertices, triangles + count.triangles
        if parts > MOST_ENTRIES or above + depth >= MOST_DEPTH:
            raise refuse(where, "is put together from more parts than any scan", WHOLE)
        if max(triangles, vertices // 3) > MOST_TRIANGLES:
            raise too_many(where, max(triangles, vertices // 3))
    return _Count(parts, vertices, triangles, depth)
