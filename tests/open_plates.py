"""A square plate with one opening in its middle, pulled or sheared, as a case file would have it."""

from tubfem.case.read import load_case

PULL = '[{ on = "B-C", force = ["F N", 0, 0] }, { on = "D-A", force = ["-F N", 0, 0] }]'
SHEAR = """[
  { on = "B-C", force = [0, "F N", 0] }, { on = "D-A", force = [0, "-F N", 0] },
  { on = "C-D", force = ["F N", 0, 0] }, { on = "A-B", force = ["-F N", 0, 0] },
]"""


def plate(folder, hole, ply, *, size, width=1000, plies=1, angle=0, force=1e3, shear=False, patch=""):
    """The case: `hole` and `ply` as tables of the file without their braces; width [mm], force [N] on an edge."""
    at = "" if "polygon" in hole else f", at = [{width / 2}, {width / 2}, 0]"
    text = f"""
        [mesh]
        size = {size}
        [points]
        A = [0, 0, 0]
        B = [{width}, 0, 0]
        C = [{width}, {width}, 0]
        D = [0, {width}, 0]
        [panels.plate]
        outline = ["A", "B", "C", "D"]
        tool = "down"
        zero = [1, 0, 0]
        origin = "A"
        along = "A-B"
        openings.hole = {{ {hole}{at} }}
        [plies]
        p = {{ {ply}, density = "1600 kg/m^3" }}
        [layups]
        plate = ["{plies} x p @ {angle}"]
        [patches]
        {patch}
        [load_cases.pull]
        kind = "static"
        supports = [
          {{ on = ["A-B", "B-C", "C-D", "D-A"], fix = "z" }},
          {{ on = "A", fix = ["x", "y"] }}, {{ on = "B", fix = "y" }},
        ]
        forces = {(SHEAR if shear else PULL).replace("F N", f"{force:.9g} N")}
    """
    path = folder / "plate.toml"
    path.write_text(text)
    return load_case(path)
