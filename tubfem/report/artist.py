"""Processes that draw pictures while the run goes on: what they need is loaded while the tub is meshed and solved."""

import os
import pickle
import shutil
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

if TYPE_CHECKING:
    from tubfem.findings.results import Findings
    from tubfem.tub.model import TubModel

HANDS = 2  # processes: the pictures of one load case are as many again, and the run itself writes meanwhile


class Artist:
    """Draws a tub's regions once its model stands, the rest once the findings are there; use it with `with`.

    What its processes need goes through files, not through the pipes, so that handing it over never waits for the
    drawing.
    """

    def __init__(self) -> None:
        self._room = TemporaryDirectory(prefix="tubfem-")
        self._sheets = Path(self._room.name, "sheets")
        self._sheets.mkdir()
        self._hands = [self._start(number) for number in range(HANDS)]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type | None, fault: BaseException | None, trace: TracebackType | None) -> None:
        for hand in self._hands:
            if hand.poll() is None:
                hand.kill()
            hand.communicate()
        self._room.cleanup()

    def begin(self, model: "TubModel", changes: tuple[str, ...]) -> None:
        """Have the regions drawn; `changes` are named on every picture."""
        self._hand_over("model", (model, changes))

    def go_on(self, findings: "Findings") -> None:
        """Have everything else drawn."""
        self._hand_over("findings", findings)

    def deliver(self, folder: Path) -> None:
        """Wait for the pictures and put them into `folder`; RuntimeError if the drawing failed."""
        for hand in self._hands:
            _, told = hand.communicate()
            if hand.returncode:
                raise RuntimeError(f"the process that draws the pictures failed:\n{told}")
        for sheet in sorted(self._sheets.iterdir()):
            shutil.copyfile(sheet, folder / sheet.name)

    def _start(self, number: int) -> subprocess.Popen[str]:
        path = os.pathsep.join(entry for entry in sys.path if entry)
        single = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
        return subprocess.Popen(
            [sys.executable, "-P", "-m", "tubfem.report.artist", str(self._sheets), str(number)],
            stdin=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, **single, "PYTHONPATH": path},
            text=True,
        )

    def _hand_over(self, name: str, what: object) -> None:
        file = Path(self._room.name, name)
        file.write_bytes(pickle.dumps(what, protocol=pickle.HIGHEST_PROTOCOL))
        for hand in self._hands:
            with suppress(BrokenPipeError):  # it has failed: `deliver` says why
                print(file, file=hand.stdin, flush=True)


def main(sheets: Path, number: int) -> None:
    """What process `number` does: it reads where the model lies, then where the findings lie, and draws its share."""
    from tubfem.report.pictures import draw_found, draw_regions

    model, changes = _received()
    with TemporaryDirectory() as waste:  # drawn by all: what is in sight, fonts and the like are ready then
        draw_regions(sheets if number == 0 else Path(waste), model, changes)
    draw_found(sheets, model, _received(), changes, share=slice(number, None, HANDS))


def _received() -> Any:
    return pickle.loads(Path(sys.stdin.readline().rstrip("\n")).read_bytes())


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
