"""fields.vtu: the tub's elements with displacements, strains and margins, for any viewer of VTK files."""

from pathlib import Path

import meshio
import numpy as np

from tubfem.arrays import Floats, Ints
from tubfem.findings.results import Findings
from tubfem.tub.model import TubModel

CELLS = {"quad4": "quad", "tria3": "triangle"}
NO_LIMIT = 1e6  # stands for an unlimited margin, which viewers cannot colour


def write_vtu(path: Path, model: TubModel, findings: Findings) -> None:
    """Points are the shell's own, so that parts on either side of a joint move apart.

    Point data: displacement [m] and rotation [rad] of every load case. Cell data: `region` and `panel`, numbers into
    `fields.region` and `fields.panel` of results.json; thickness [m], mass [kg/m2]; strain, strain_peak, margin and
    energy [J/m2] of every load case.
    """
    blocks = model.states[0].shell.blocks
    used = np.unique(np.concatenate([block.conn.ravel() for block in blocks]))
    number = np.full(len(model.states[0].shell.points), -1, dtype=np.int64)
    number[used] = np.arange(len(used))
    sizes = np.cumsum([len(block.conn) for block in blocks])[:-1]

    def split(values: Floats | Ints) -> list[Floats | Ints]:
        return np.split(np.asarray(values), sizes)

    point_data, cell_data = (
        {},
        {
            "region": split(findings.element_region),
            "panel": split(model.mesh.element_panel),
            "thickness": split(findings.element_thickness),
            "mass": split(findings.element_mass),
        },
    )
    for name, load_case in findings.load_cases.items():
        fields = load_case.fields
        point_data[f"{name} displacement"] = fields.displacement[used, :3]
        point_data[f"{name} rotation"] = fields.displacement[used, 3:]
        for field in ("strain", "strain_peak", "energy"):
            cell_data[f"{name} {field}"] = split(getattr(fields, field))
        cell_data[f"{name} margin"] = split(np.minimum(fields.margin, NO_LIMIT))
    mesh = meshio.Mesh(
        model.states[0].shell.points[used],
        [(CELLS[block.kind], number[block.conn]) for block in blocks],
        point_data=point_data,
        cell_data=cell_data,
    )
    mesh.write(path, file_format="vtu")
