"""A scan's sheet as a document for JSON."""

from __future__ import annotations

from dataclasses import asdict

from geartrack.study.document import Document, as_document, head
from geartrack.study.scan import ScanSheet


@as_document.register
def document_of_scan(sheet: ScanSheet) -> Document:
    """The document of a scan's sheet."""
    return head("scan") | {
        "file": sheet.scan.file,
        "unit": sheet.scan.unit,
        "unit_from": sheet.scan.unit_from,
        "health": asdict(sheet.health),
        "datums": [asdict(each) for each in sheet.datums],
        "bore": {"diameter_mm": sheet.bore_diameter_mm, "depth_mm": sheet.bore_depth_mm},
        "offset": _pair(sheet.offset_mm),
        "end_face": _pair(sheet.end_face_mm),
        "support_face": {"from_end_face": _pair(sheet.support_beyond_mm), "from_ring_axis": _pair(sheet.support_mm)},
        "hand": sheet.hand.value if sheet.hand else None,
        "told_by": sheet.told_by or None,
        "missing": list(sheet.missing),
        "differs": list(sheet.differs),
        "notes": list(sheet.notes),
    }


def _pair(read: tuple[float, float] | None) -> Document | None:
    return None if read is None else {"value_mm": read[0], "give_or_take_mm": read[1]}
