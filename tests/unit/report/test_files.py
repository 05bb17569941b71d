"""Files of a run come whole or not at all."""

import json
from pathlib import Path

import pytest
import report_builders

from tubfem.report import files, vtu
from tubfem.report.files import write_results, write_together

NAMES = {
    "report.html",
    "results.json",
    "regions.csv",
    "joints.csv",
    "hard_points.csv",
    "fields.vtu",
    "regions.png",
    "drawing.json",
}
NAMES |= {"torsion-strain.png", "torsion-margins.png", "torsion-joints.png", "torsion-twist.png"}


def contents(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture
def quick(monkeypatch):
    """Files without drawing: pictures have tests of their own."""
    monkeypatch.setattr(files, "draw_all", lambda folder, *_: (folder / "regions.png").write_bytes(b"x"))
    return report_builders.small_report(2)


def test_all_files_are_written_and_listed(tmp_path):
    model, findings = report_builders.small_report(2)
    names = write_results(tmp_path / "out", model, findings, {}, version="0.0")
    assert set(names) == NAMES == set(contents(tmp_path / "out"))
    assert set(json.loads((tmp_path / "out/results.json").read_text())["files"]) == NAMES
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_failed_run_leaves_the_old_files_as_they_were(quick, tmp_path, monkeypatch):
    out = tmp_path / "deep" / "out"
    write_results(out, *quick, {}, version="0.0")
    before = contents(out)

    def fail(*_):
        raise OSError("disk full")

    monkeypatch.setattr(vtu, "write_vtu", fail)
    with pytest.raises(OSError, match="disk full"):
        write_results(out, *quick, {}, version="9.9")
    assert contents(out) == before
    assert [path.name for path in out.parent.iterdir()] == ["out"]


def test_a_first_run_that_fails_leaves_nothing(quick, tmp_path, monkeypatch):
    monkeypatch.setattr(vtu, "write_vtu", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        write_results(tmp_path / "out", *quick, {}, version="0.0")
    assert list(tmp_path.iterdir()) == []


def test_a_fault_while_files_are_moved_puts_everything_back(tmp_path, monkeypatch):
    out = tmp_path / "out"
    out.mkdir()
    (out / "a").write_text("old a")
    (out / "b").write_text("old b")

    def fill(folder):
        (folder / "a").write_text("new a")
        (folder / "b").write_text("new b")

    rename = Path.rename

    def stumble(self, target):
        if self.parent.name == "new" and self.name == "b":
            raise OSError("gone")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", stumble)
    with pytest.raises(OSError, match="gone"):
        write_together(out, fill)
    assert contents(out) == {"a": b"old a", "b": b"old b"}


def test_stale_files_go_and_foreign_ones_stay(quick, tmp_path):
    out = tmp_path / "out"
    write_results(out, *quick, {}, version="0.0")
    listed = json.loads((out / "results.json").read_text())
    listed["files"] += ["older-twist.png", "../outside"]
    (out / "results.json").write_text(json.dumps(listed))
    (out / "older-twist.png").write_text("stale")
    (out / "notes.txt").write_text("the builder's own")
    (tmp_path / "outside").write_text("not ours")
    write_results(out, *quick, {}, version="0.0")
    assert not (out / "older-twist.png").exists()
    assert (out / "notes.txt").read_text() == "the builder's own"
    assert (tmp_path / "outside").exists()
