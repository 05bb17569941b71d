"""How much too stiff the mesh makes a tub, estimated from one solution.

Elements carry a resultant that is best in their middle and only partly varies across them. From the middles of an
element and its neighbours a linear field is fitted that varies as the structure itself does; what it has and the
element lacks is the estimated error [idea: O. C. Zienkiewicz & J. Z. Zhu, IJNME 24 (1987) 337; 33 (1992) 1331]. Its
energy over that of the load is the relative error of the compliance.

It finds about half of what is there, see (E.1) of docs/theory.md for the cases it was held against; so the estimate is
twice that energy, and the band 1.25 times the estimate. It is blind to what is narrower than an element, such as the
edge of an open strip in twist, and to the places where loads and springs are set on the mesh.
"""

import numpy as np
from scipy import sparse

from tubfem.arrays import Floats, Ints
from tubfem.findings.results import Findings, MeshBand
from tubfem.findings.strains import Elements, Strains
from tubfem.shell.model import ShellModel
from tubfem.shell.recover import material_frames

FOUND = 0.5  # part of the true error that the recovered field finds: 0.46 to 0.62 seen on tubs and boxes
SAFETY = 1.25
FOLD = np.cos(np.radians(15))  # normals of neighbours farther apart are a fold, such as a section's at a station
LIMIT = 0.03  # a band above this is worth a complaint


def mesh_band(shell: ShellModel, elements: Elements, strains: Strains, total: float) -> MeshBand:
    """The mesh's part in the compliance under a load case whose strain energy is `total` [J]."""
    lacking = error_energy(shell, elements, strains)
    error = np.bincount(elements.region, lacking, minlength=len(elements.regions)) / (FOUND * total)
    by_region = dict(zip(elements.regions, error.tolist(), strict=True))
    return MeshBand(float(error.sum()), SAFETY * float(error.sum()), by_region)


def mesh_doubts(findings: Findings) -> list[str]:
    """Load cases whose mesh band is above the limit, and the region that most of it comes from."""
    doubts = []
    for name, case in findings.load_cases.items():
        if case.mesh.band > LIMIT:
            region = max(case.mesh.regions, key=lambda r: case.mesh.regions[r])
            doubts.append(
                f"mesh: load case {name} may be {100 * case.mesh.band:.1f} % too stiff on this mesh, more than "
                f"{100 * LIMIT:.0f} %, most of it in {region}; a smaller size under [mesh], or tubfem refine"
            )
    return doubts


def error_energy(shell: ShellModel, elements: Elements, strains: Strains) -> Floats:
    """Estimated energy (e,) [J] of what the elements' resultants lack.

    Neighbours share a node of the shell model, the panel and the stack, and lie in nearly one plane: nothing is
    smoothed across a fold, a parted joint or the edge of a lap or patch.
    """
    stack = np.concatenate([block.stack for block in shell.blocks])
    C, compliance = shell.stiffness[stack], np.linalg.inv(shell.stiffness)[stack]
    middle = np.einsum("eij,ej->ei", C, strains.own)
    axes, places = zip(*(material_frames(shell.points, block) for block in shell.blocks), strict=True)
    areas = strains.areas
    weights = [w / w.sum(axis=1, keepdims=True) for w in areas]
    centre = np.concatenate([np.einsum("eq,eqx->ex", w, X) for w, X in zip(weights, places, strict=True)])
    e1 = np.concatenate([frame[:, :, 0].mean(axis=1) for frame in axes])
    e2 = np.concatenate([frame[:, :, 1].mean(axis=1) for frame in axes])
    slope = gradients(neighbours(shell, elements, stack), centre, e1, e2, middle)
    energy, first = [], 0
    for strain, dA, X in zip(strains.at_points, areas, places, strict=True):
        own = slice(first, first + len(dA))
        first += len(dA)
        d = X - centre[own, None]
        local = np.stack([(d * e1[own, None]).sum(-1), (d * e2[own, None]).sum(-1)], -1)  # (e, q, 2)
        fitted = middle[own, None] + local @ slope[own]
        lacking = fitted - strain @ C[own]
        density = (lacking * (lacking @ compliance[own])).sum(-1)  # (e, q), twice the energy per area
        energy.append(0.5 * (density * dA).sum(-1))
    return np.concatenate(energy)


def neighbours(shell: ShellModel, elements: Elements, stack: Ints) -> tuple[Ints, Ints]:
    """Pairs (m,), (m,) of elements, both ways round, that share a node, a panel and a stack and make no fold."""
    node = np.concatenate([block.conn.ravel() for block in shell.blocks])
    corners = np.concatenate([np.full(len(block.conn), block.conn.shape[1]) for block in shell.blocks])
    element = np.repeat(np.arange(len(corners)), corners)
    touch = sparse.csr_array((np.ones(len(node), np.int8), (element, node)), shape=(len(corners), len(shell.points)))
    pairs = sparse.coo_array(touch @ touch.T)
    row, column = pairs.coords
    alike = (row != column) & (elements.panel[row] == elements.panel[column]) & (stack[row] == stack[column])
    alike[alike] = np.sum(elements.normal[row[alike]] * elements.normal[column[alike]], axis=1) > FOLD
    return row[alike], column[alike]


def gradients(pairs: tuple[Ints, Ints], centre: Floats, e1: Floats, e2: Floats, values: Floats) -> Floats:
    """Gradient (e, 2, k) along e1 and e2 of values (e, k) in the middles of elements, by least squares.

    Zero in a direction in which an element has no neighbour.
    """
    row, column = pairs
    count = len(centre)
    d = centre[column] - centre[row]
    x = np.stack([(d * e1[row]).sum(-1), (d * e2[row]).sum(-1)], -1)
    rise = values[column] - values[row]
    weight = 1 / np.einsum("mi,mi->m", x, x)
    moment = np.zeros((count, 2, 2))
    drive = np.zeros((count, 2, values.shape[1]))
    for i in range(2):
        for j in range(2):
            moment[:, i, j] = np.bincount(row, weight * x[:, i] * x[:, j], minlength=count)
        sums = sparse.coo_array((weight * x[:, i], (row, np.arange(len(row)))), shape=(count, len(row)))
        drive[:, i] = sparse.csr_array(sums) @ rise
    return np.linalg.pinv(moment, rcond=1e-3, hermitian=True) @ drive
