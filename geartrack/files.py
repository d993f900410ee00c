"""Writing a file whole or not at all."""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from geartrack.errors import refuse


def write_whole(content: bytes, path: Path | str, *, overwrite: bool) -> None:
    """Write a file beside its place first, then under its name, so that nobody ever sees half of it.

    Raises InputError if it cannot be written, or is there already and `overwrite` is not said.
    """
    path = Path(path)
    try:
        target = path.resolve()
        if target.is_dir():
            raise refuse(str(path), "is a folder", "name a file in it")
        if target.exists() and not overwrite:
            raise refuse(str(path), "is there already", "another name, or say that it may be written over")
        part = target.with_name(f".{target.name}.{secrets.token_hex(4)}.part")
        try:
            with part.open("xb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
            part.replace(target)
        finally:
            part.unlink(missing_ok=True)
    except OSError as fault:
        what = f"cannot be written: {fault.strerror or fault}"
        raise refuse(str(path), what, "name a folder that can be written to") from None


def write_folder(contents: Mapping[str, bytes], folder: Path | str) -> list[Path]:
    """Write several files by name into a folder, made if it is not there; files of the same names are written over.

    Raises InputError if the folder cannot be made or written to.
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        what = "is a file" if folder.is_file() else f"cannot be made: {fault.strerror or fault}"
        raise refuse(str(folder), what, "name a folder") from None
    for name, content in contents.items():
        write_whole(content, folder / name, overwrite=True)
    return [folder / name for name in contents]
