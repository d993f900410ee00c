"""Makes README's pictures, shared/pictures/*.png, by the commands that README shows under "From a scan to the grinder".

Run from the project's folder: python tests/readme_pictures.py. Figures and the template's page are what the commands
write, made smaller; solids and gauge are the .glb files, drawn here.
"""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import trimesh
from command_line import run_geartrack
from matplotlib.figure import Figure
from mpl_toolkits.mplot3d.art3d import Poly3DCollection
from PIL import Image

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "shared" / "pictures"
HEADING = "From a scan to the grinder"
NAMES = ("scan", "check", "template", "solids", "gauge")
WIDE, INCHES = 720, (7.2, 3.3)
ELEVATION, AZIMUTH = 32.0, 28.0  # degrees: from the pinion-nut end, the ring gear's side up
LIGHT = np.array([0.75, 0.25, 0.61])


def commands() -> list[list[str]]:
    """The arguments of each command of the story, as README shows them."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (section,) = re.findall(rf"^## {HEADING}\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    (block,) = re.findall(r"^```bash\n(.*?)^```", section, re.MULTILINE | re.DOTALL)
    return [shlex.split(line)[1:] for line in block.splitlines()]


def story(folder: Path) -> None:
    """Run the commands in a folder."""
    for arguments in commands():
        ran = run_geartrack(*arguments, cwd=folder)
        if ran.returncode:
            raise RuntimeError(f"geartrack {shlex.join(arguments)}: {ran.stderr}")


def solid(path: Path, name: str) -> tuple[Any, Any]:
    """Corners (m, 3, 3) in the boss frame [mm] and colours (m, 3) of one body of a .glb."""
    mesh = trimesh.load_scene(path).geometry[name]
    colours = np.asarray(mesh.visual.vertex_attributes["color"])[:, :3] / 255.0
    return mesh.vertices[mesh.faces] * 1000.0, colours[mesh.faces].mean(axis=1)


def view(figure: Figure, place: int, bodies: list[tuple[Any, Any]], middle: Any, half: float, title: str) -> None:
    """Bodies seen from the pinion-nut end within `half` of a middle [mm], each side with its light."""
    toward = np.array(
        [np.cos(np.radians(a)) * np.cos(np.radians(ELEVATION)) for a in (AZIMUTH, 90 - AZIMUTH)]
        + [np.sin(np.radians(ELEVATION))]
    )
    ax = figure.add_subplot(1, 2, place, projection="3d", computed_zorder=False)
    ax.set_proj_type("ortho")
    ax.view_init(ELEVATION, AZIMUTH)
    corners, colours = (np.concatenate(each) for each in zip(*bodies, strict=True))
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-12)[:, None]
    near = (corners.min(axis=1) < middle + 1.5 * half) & (corners.max(axis=1) > middle - 1.5 * half)
    seen = (normals @ toward > 0) & near.all(axis=1)
    shade = 0.45 + 0.55 * np.clip(normals[seen] @ LIGHT, 0.0, 1.0)
    drawn = Poly3DCollection(
        corners[seen], facecolors=colours[seen] * shade[:, None], edgecolors="none", antialiased=False
    )
    ax.add_collection3d(drawn)
    ax.set(xlim=middle[0] + np.array([-half, half]), ylim=middle[1] + np.array([-half, half]))
    ax.set_zlim(*(middle[2] + np.array([-half, half])))
    ax.set_box_aspect((1, 1, 1), zoom=1.75)
    ax.set_axis_off()
    figure.text(0.02 + 0.5 * (place - 1), 0.93, title, fontsize=11, fontweight="bold")


def drawn_solids(folder: Path) -> Figure:
    """The boss as relieved, coloured by depth: all of it, and the patch."""
    boss = solid(folder / "solids" / "solids.glb", "boss as relieved")
    patch = solid(folder / "solids" / "solids.glb", "metal to remove")[0].reshape(-1, 3)
    figure = Figure(figsize=INCHES, facecolor="white")
    view(figure, 1, [boss], boss[0].reshape(-1, 3).mean(axis=0), 38.0, "boss as relieved, darker is deeper")
    view(figure, 2, [boss], patch.mean(axis=0), 2.0, "the patch, enlarged")
    return figure


def drawn_gauge(folder: Path) -> Figure:
    """The GO gauge: in place on the boss, and by itself."""
    path = folder / "gauge" / "in-place.glb"
    gauge, boss = solid(path, "sweep gauge GO"), solid(path, "boss as relieved")
    middle = boss[0].reshape(-1, 3).mean(axis=0)
    figure = Figure(figsize=INCHES, facecolor="white")
    view(figure, 1, [boss, gauge], middle, 41.0, "the GO gauge in the pilot bore")
    view(figure, 2, [gauge], middle, 41.0, "by itself")
    return figure


def smaller(image: Image.Image) -> Image.Image:
    """An image of the pictures' width in few colours; an octree keeps the tones, a median cut loses the rare ones."""
    small = image.convert("RGB").resize((WIDE, round(image.height * WIDE / image.width)), Image.Resampling.LANCZOS)
    return small.quantize(128, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE)


def template_page(folder: Path) -> Image.Image:
    """The first page of the template, as poppler draws it, without its empty foot."""
    subprocess.run(["pdftoppm", "-r", "120", "-singlefile", "-png", "strip.pdf", "page"], cwd=folder, check=True)
    image = Image.open(folder / "page.png")
    return image.crop((0, 0, image.width, round(0.72 * image.height)))


def make(folder: Path, into: Path) -> None:
    """The pictures of a story that was run in a folder."""
    into.mkdir(parents=True, exist_ok=True)
    images = {name: Image.open(folder / f"{name}.png") for name in ("scan", "check")}
    images["template"] = template_page(folder)
    for name, image in images.items():
        smaller(image).save(into / f"{name}.png", optimize=True)
    for name, figure in (("solids", drawn_solids(folder)), ("gauge", drawn_gauge(folder))):
        figure.savefig(folder / f"{name}-drawn.png", dpi=200)
        image = Image.open(folder / f"{name}-drawn.png")
        smaller(image).save(into / f"{name}.png", optimize=True)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        story(Path(made))
        make(Path(made), FOLDER)
    sys.stdout.write(f"{sum(path.stat().st_size for path in FOLDER.glob('*.png')):,} bytes\n")
