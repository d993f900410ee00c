"""The pinion support's log as a plain document, torques in N.m; see geartrack.study.document."""

from __future__ import annotations

from dataclasses import asdict

from geartrack.setup_log import SetupAnswer
from geartrack.study.document import Document, as_document, head


@as_document.register
def document_of_setup(answer: SetupAnswer) -> Document:
    """The document of what a job's readings on its pinion support say."""
    setup = answer.job.setup
    return head("setup") | {
        "job": answer.job.name,
        "spacer": setup.kind,
        "bearings": setup.bearings,
        "target": {
            "from": setup.target_from or None,
            "seal": setup.target_seal if setup.target else None,
            "alone_nm": list(answer.target_nm) if answer.target_nm else None,
            "seal_in_nm": list(answer.target_seal_in_nm) if answer.target_seal_in_nm else None,
        },
        "drag": asdict(answer.drag) if answer.drag else None,
        "readings": [
            {
                "torque_nm": each.reading.torque.value,
                "seal": each.reading.seal,
                "bearings": each.reading.bearings,
                "stage": each.reading.stage,
                "alone_nm": each.alone_nm,
                "against_target": each.against,
            }
            for each in answer.readings
        ],
        "stacks": [asdict(each) for each in answer.tried],
        "next": asdict(answer.next) if answer.next else None,
        "combinations": [asdict(each) | {"shims_mm": list(each.shims_mm)} for each in answer.combinations],
        "crush": asdict(answer.crush) if answer.crush else None,
        "flagged": list(answer.flagged),
    }
