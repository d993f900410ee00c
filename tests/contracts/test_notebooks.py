"""Every notebook opens with its title, is stored without output, and runs from the first cell to the last."""

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

FOLDER = Path(__file__).parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def test_there_are_notebooks():
    assert NOTEBOOKS


@pytest.fixture(params=NOTEBOOKS, ids=lambda path: path.stem)
def notebook(request):
    return nbformat.read(request.param, as_version=4)


def test_it_is_valid_and_opens_with_its_title(notebook):
    nbformat.validate(notebook)
    first = notebook.cells[0]
    assert first.cell_type == "markdown"
    assert first.source.startswith("# ")


def test_it_is_stored_without_output(notebook):
    code = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert code
    assert [cell.source for cell in code if cell.outputs or cell.execution_count is not None] == []


def test_it_runs(notebook, tmp_path, monkeypatch):
    for name in ("IPYTHONDIR", "JUPYTER_DATA_DIR", "JUPYTER_RUNTIME_DIR", "JUPYTER_CONFIG_DIR", "MPLCONFIGDIR"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))
    monkeypatch.setenv("MPLBACKEND", "agg")
    where = {"metadata": {"path": str(FOLDER)}}
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources=where).execute()
