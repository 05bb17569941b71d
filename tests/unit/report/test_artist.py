"""Processes of their own draw what this one would, say why they cannot, and go when they are not wanted any more."""

import pytest
import report_builders

from tubfem.report.artist import HANDS, Artist
from tubfem.report.files import draw_all


def test_it_draws_the_same_pictures_as_this_process(tmp_path):
    model, findings = report_builders.small_report(2)
    for name in ("here", "there"):
        (tmp_path / name).mkdir()
    with Artist() as artist:
        artist.begin(model, ("--add box=tape",))
        artist.go_on(findings)
        draw_all(tmp_path / "here", model, findings, ("--add box=tape",))
        artist.deliver(tmp_path / "there")
    here, there = ({file.name: file.read_bytes() for file in (tmp_path / name).iterdir()} for name in ("here", "there"))
    assert here == there
    assert "regions.png" in here


def test_a_fault_of_the_drawing_is_told_with_its_cause(tmp_path):
    with Artist() as artist:
        artist.begin("not a model", ())
        artist.go_on("no findings")
        with pytest.raises(RuntimeError, match="AttributeError: 'str' object has no attribute 'mesh'"):
            artist.deliver(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_it_ends_when_the_run_fails():
    with pytest.raises(ZeroDivisionError), Artist() as artist:
        _ = 1 / 0
    assert len(artist._hands) == HANDS
    assert all(hand.returncode is not None for hand in artist._hands)
    assert not artist._sheets.exists()
