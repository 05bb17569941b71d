"""A second process that draws pictures while the run goes on: it loads what drawing needs while the tub is meshed."""

import os
import pickle
import shutil
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import Any, Self

from tubfem.findings.results import Findings
from tubfem.tub.model import TubModel


class Artist:
    """Draws a tub's regions once its model stands, the rest once the findings are there; use it with `with`.

    What it needs goes through files, not through the pipe, so that handing it over never waits for the drawing.
    """

    def __init__(self) -> None:
        self._room = TemporaryDirectory(prefix="tubfem-")
        self._sheets = Path(self._room.name, "sheets")
        self._sheets.mkdir()
        path = os.pathsep.join(entry for entry in sys.path if entry)
        single = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "tubfem.report.artist", str(self._sheets)],
            stdin=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, **single, "PYTHONPATH": path},
            text=True,
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type | None, fault: BaseException | None, trace: TracebackType | None) -> None:
        if self._process.poll() is None:
            self._process.kill()
        self._process.communicate()
        self._room.cleanup()

    def begin(self, model: TubModel, changes: tuple[str, ...]) -> None:
        """Have the regions drawn; `changes` are named on every picture."""
        self._hand_over("model", (model, changes))

    def go_on(self, findings: Findings) -> None:
        """Have everything else drawn."""
        self._hand_over("findings", findings)

    def deliver(self, folder: Path) -> None:
        """Wait for the pictures and put them into `folder`; RuntimeError if the drawing failed."""
        _, told = self._process.communicate()
        if self._process.returncode:
            raise RuntimeError(f"the process that draws the pictures failed:\n{told}")
        for sheet in sorted(self._sheets.iterdir()):
            shutil.copyfile(sheet, folder / sheet.name)

    def _hand_over(self, name: str, what: object) -> None:
        file = Path(self._room.name, name)
        file.write_bytes(pickle.dumps(what, protocol=pickle.HIGHEST_PROTOCOL))
        with suppress(BrokenPipeError):  # it has failed: `deliver` says why
            print(file, file=self._process.stdin, flush=True)


def main(sheets: Path) -> None:
    """What the second process does: it reads where the model lies, then where the findings lie."""
    from tubfem.report.pictures import draw_found, draw_regions

    model, changes = _received()
    draw_regions(sheets, model, changes)
    draw_found(sheets, model, _received(), changes)


def _received() -> Any:
    return pickle.loads(Path(sys.stdin.readline().rstrip("\n")).read_bytes())


if __name__ == "__main__":
    main(Path(sys.argv[1]))
