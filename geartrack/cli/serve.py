"""`geartrack serve`: the bench page."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="Port on this machine (default: any free one).")
@click.option(
    "--book",
    "place",
    type=click.Path(path_type=Path),
    envvar="GEARTRACK_BOOK",
    help="The shop's book (default: GEARTRACK_BOOK, else book.sqlite in your own data folder).",
)
@click.option("--no-open", is_flag=True, help="Only print the address; open no browser.")
def serve(port: int, place: Path | None, no_open: bool) -> None:
    """The bench page: the whole job in a browser, on this machine only. Ctrl-C ends it; what was typed stays."""
    from geartrack.shopbook import default_place
    from geartrack.web.serve import serve as run

    book = place or default_place()
    folder = book.parent / "bench-page"
    click.echo("Starting the bench page; Ctrl-C ends it.", err=True)
    run(port=port, book=book, folder=folder, open_browser=not no_open, said=click.echo)
