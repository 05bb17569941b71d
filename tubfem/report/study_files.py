"""A study's two files, NAME.json and its picture NAME.png, and its place in the page beside them."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure

from tubfem.report.figures import save
from tubfem.report.files import renew_page, write_together
from tubfem.report.json_file import write_json


def write_study(out: Path, name: str, contents: Mapping[str, Any], figure: Figure) -> tuple[str, ...]:
    """Write both into `out`, or neither, and renew the page of a run that lies there. Returns the files' names."""

    def fill(folder: Path) -> None:
        write_json(folder / f"{name}.json", contents)
        save(figure, folder / f"{name}.png")

    return *write_together(out, fill, keep_earlier=True), *renew_page(out)
