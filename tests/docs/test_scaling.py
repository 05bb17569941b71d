"""The study that docs/scaling.md shows does what it says."""

import json
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_the_study_over_geometry_runs_stops_and_goes_on(tmp_path):
    (script,) = re.findall(r"```python\n(.*?)```", (ROOT / "docs" / "scaling.md").read_text("utf-8"), re.DOTALL)
    (tmp_path / "heights.py").write_text(script.replace("range(150, 260, 10)", "(180, 200, 220)"), encoding="utf-8")
    (tmp_path / "cases").mkdir()
    text = (ROOT / "cases" / "starter.toml").read_text(encoding="utf-8")
    assert text.count("[92, 200]") == 1
    (tmp_path / "cases" / "starter.toml").write_text(text.replace("size = 40", "size = 120"), encoding="utf-8")

    def study():
        command = [sys.executable, "heights.py"]
        path = {"PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"}
        return subprocess.run(command, cwd=tmp_path, env=path, capture_output=True, text=True, check=False)

    done = study()
    assert done.returncode == 0, done.stderr
    results = tmp_path / "results"
    found = json.loads((results / "heights.json").read_text())
    assert list(found) == ["height 180", "height 200", "height 220"]
    mass = [found[name][1] for name in found]
    assert mass == sorted(mass)  # a higher tunnel has more wall
    kept = sorted((results / "finished" / "heights").iterdir())
    assert len(kept) == 3
    kept[0].unlink()
    again = study()
    assert "2 of 3 done before" in again.stdout
    assert json.loads((results / "heights.json").read_text()) == found
