"""A second process that draws pictures while the run goes on: it loads what drawing needs while the tub is meshed."""

import os
import pickle
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from types import TracebackType
from typing import Any, Self


class Artist:
    """Takes orders, one after the other, and delivers all their files at the end; use it with `with`.

    Orders go through files, not through the pipe, so that giving one never waits for the drawing before it.
    """

    def __init__(self) -> None:
        self._room = TemporaryDirectory(prefix="tubfem-")
        self.sheets = Path(self._room.name, "sheets")  # where orders let their files be written
        self.sheets.mkdir()
        path = os.pathsep.join(entry for entry in sys.path if entry)
        single = dict.fromkeys(("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"), "1")
        self._process = subprocess.Popen(
            [sys.executable, "-P", "-m", "tubfem.report.artist"],
            stdin=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**os.environ, **single, "PYTHONPATH": path},
            text=True,
        )
        self._orders = 0

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type | None, fault: BaseException | None, trace: TracebackType | None) -> None:
        if self._process.poll() is None:
            self._process.kill()
        self._process.communicate()
        self._room.cleanup()

    def order(self, draw: str, *arguments: Any) -> None:
        """Have a function of `tubfem.report.pictures` called with `sheets` and these arguments."""
        self._orders += 1
        order = Path(self._room.name, f"order{self._orders}")
        order.write_bytes(pickle.dumps((draw, self.sheets, arguments), protocol=pickle.HIGHEST_PROTOCOL))
        try:
            print(order, file=self._process.stdin, flush=True)
        except BrokenPipeError:
            self._refuse()

    def deliver(self, folder: Path) -> None:
        """Wait for what was ordered and move it into `folder`; RuntimeError if the drawing failed."""
        _, told = self._process.communicate()
        if self._process.returncode:
            self._refuse(told)
        for sheet in sorted(self.sheets.iterdir()):
            (folder / sheet.name).write_bytes(sheet.read_bytes())
            sheet.unlink()

    def _refuse(self, told: str | None = None) -> None:
        told = self._process.communicate()[1] if told is None else told
        raise RuntimeError(f"the process that draws the pictures failed (exit {self._process.returncode}):\n{told}")


def main() -> None:
    """What the second process does: read names of orders until there are no more."""
    from tubfem.report import pictures

    for line in sys.stdin:
        order = Path(line.rstrip("\n"))
        draw, sheets, arguments = pickle.loads(order.read_bytes())
        order.unlink()
        getattr(pictures, draw)(sheets, *arguments)


if __name__ == "__main__":
    main()
