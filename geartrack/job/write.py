"""Writing job files: whole or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from geartrack.errors import refuse
from geartrack.files import write_whole
from geartrack.job.keys import KEYS
from geartrack.job.model import EITHER, Job
from geartrack.job.read import job_from_dict, put

_HEAD = (
    'A geartrack job. Every length says its unit, as typed on the bench: 9 1/2 in, 20 thou, .020", 0,5 mm.',
    'What was read with a tool: { value = "54.1 mm", how = "caliper" }, or give_or_take = "0.5 mm" in place of how.',
    "Lines that start with # are not read; take the # away and type your own value.",
)
_APART = ("old_gears.", "setup.")  # tables whose keys are never named without them
_TABLES = ("axle", "gears", "gears.measured", "case", "boss", "target", "running", "old_gears", "setup", "shop")

_READINGS = (
    "Readings taken later, one or more between the brackets:",
    'readings = [{ kind = "gap", gap = { value = "0.012 in", how = "feeler" }, caps_torqued = true }]',
    'readings = [{ kind = "wall", wall = { value = "0.350 in", how = "caliper" }, clock = "1 o\'clock", by = "AB" }]',
)


def job_document(job: Job) -> dict[str, Any]:
    """The job as a document that reads back equal, every value spelled out in mm, radians and plain numbers."""
    return job.model_dump(mode="json", by_alias=True, exclude_none=True)


def write_job(document: Mapping[str, Any] | Job | str, path: Path | str, overwrite: bool = False) -> None:
    """Write a job, a document or a TOML text to a file, whole or not at all; an existing file only if told."""
    import tomlkit

    if isinstance(document, Job):
        document = job_document(document)
    if isinstance(document, Mapping) and not isinstance(document, tomlkit.TOMLDocument):
        document = styled(document)
    write_text(path, document if isinstance(document, str) else tomlkit.dumps(document), overwrite)


def write_text(path: Path | str, text: str, overwrite: bool = False) -> None:
    """Write a text file whole or not at all: beside it first, then under its name. Raises InputError if it cannot."""
    try:
        content = text.encode("utf-8")
    except UnicodeEncodeError:
        raise refuse(str(path), "holds a character that no file can hold", "plain text") from None
    write_whole(content, path, overwrite=overwrite)


def new_job_text(answers: Mapping[str, Any], base: Path = Path()) -> str:
    """A commented job file from answers such as {"name": "spare case", "axle.offset": "2.25 in"}.

    A key of one table only, `old_gears` and `setup` aside, may be named without it ("offset"), and "boss_diameter" with
    "boss_length" makes the boss a cylinder. Every key not answered stands there as a comment with an example. The
    answers are checked as a file is, their file names from `base`; InputError holds every finding.
    """
    import tomlkit

    typed: dict[str, Any] = {}
    for key, value in _full_keys(answers).items():
        put(typed, key, value, "answers")
    job_from_dict(typed, base, "answers")
    document = tomlkit.document()
    for line in _HEAD:
        document.add(tomlkit.comment(line))
    document.add(tomlkit.nl())
    _fill(document, "", {"format": 1} | typed)
    for line in _READINGS:
        document.add(tomlkit.comment(line))
    for name in _TABLES:
        table = tomlkit.table()
        outer, _, last = name.rpartition(".")
        _fill(table, name, (typed.get(outer, {}) if outer else typed).get(last, {}))
        holder: Any = document[outer] if outer else document
        holder.add(tomlkit.nl())
        holder.add(last, table)
    return tomlkit.dumps(document)


def _fill(table: Any, name: str, typed: Mapping[str, Any]) -> None:
    """Puts a table's values with their meanings into it, and a comment with an example for every key not typed."""
    import tomlkit

    known = {key.rpartition(".")[2]: about for key, about in KEYS.items() if key.rpartition(".")[0] == name}
    chosen = [key for key in EITHER if key in typed]
    for key in [*(key for key in typed if key not in known), *known]:
        about = known.get(key)
        if (f"{name}.{key}" if name else key) in _TABLES:
            continue
        if key in typed:
            item = _item(typed[key])
            table.add(key, item.comment(about.means) if about and not isinstance(typed[key], list) else item)
        elif about and not (chosen and (key in EITHER or (key.startswith("scan") and chosen != ["scan"]))):
            table.add(tomlkit.comment(f"{key} = {about.example}  # {about.means}"))


def styled(table: Mapping[str, Any], inside: bool = False) -> dict[str, Any]:
    """The document with every value on its key's line, so that a key added below it stays in its own table."""

    def on_its_line(key: str, value: Any) -> Any:
        if isinstance(value, dict) and (not inside or key == "measured"):
            return styled(value, True)
        if inside:
            return _item(value)
        return [styled(each, True) for each in value] if key in ("turning", "readings", "correlated") else value

    return {key: on_its_line(key, value) for key, value in table.items()}


def _item(value: Any) -> Any:
    """A value as it stands on its key's line: tables in braces, lists of tables one to a line."""
    import tomlkit

    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        inline.update(value)
        return inline
    if isinstance(value, list) and any(isinstance(member, Mapping) for member in value):
        array = tomlkit.array().multiline(True)
        array.extend(_item(member) for member in value)
        return array
    return tomlkit.item(value)


def _full_keys(answers: Mapping[str, Any]) -> dict[str, Any]:
    """The answers under their keys in full; a name that is no key stays, to be told as unknown."""
    full: dict[str, Any] = {}
    for name, value in answers.items():
        if value is None:
            continue
        homes = [key for key in KEYS if key.rpartition(".")[2] == name and not key.startswith(_APART)]
        full[homes[0] if len(homes) == 1 and name not in KEYS else name] = value
    sizes = [full.pop(name, None) for name in ("boss_diameter", "boss_length")]
    if any(size is not None for size in sizes):
        part = {"kind": "cylinder", "diameter": sizes[0], "from": "0 mm", "to": sizes[1]}
        full["boss.parts"] = [{key: value for key, value in part.items() if value is not None}]
    return full
