"""Closed boxes of sandwich walls, measured on their tool face, against both skins as tubes and against solid counts.

Closed form: each skin is a thin tube on its own mid-line, GJ = sum of 4 A_i^2 (G t)_i / s_i (Bredt), with (G t)_i the
shear stiffness A66 of the skin's plies by lamination theory. 2 plies of +-45 stitched glass outside, 15 mm of foam, one
ply inside, so that the wall is far from symmetric about its middle.
"""

import numpy as np
import pytest
from case_texts import read_tables, tables_of
from numpy.testing import assert_allclose

from tubfem.run import run_case
from tubfem.tub.plies import base_stacks

MESH = 25  # mm


def box(width, height, folder):
    """The closed box of `cases/` with sandwich walls; width and height [mm] over the tool face."""
    tables = tables_of("closed_box")
    corners = {
        "right_low": [width / 2, 0],
        "left_low": [-width / 2, 0],
        "left_top": [-width / 2, height],
        "right_top": [width / 2, height],
    }
    tables["mesh"]["size"] = MESH
    tables["sections"]["box"] |= {"at": {"front": corners, "rear": corners}, "measured": "tool"}
    tables["defaults"] = {"resin": "epoxy, room-temperature cure", "process": "hand"}
    tables["plies"] = {
        "biax600": {"fibre": "e-glass", "architecture": "biaxial +-45 stitched", "areal_weight": "600 g/m^2"}
    }
    tables["cores"] = {"foam80": {"material": "PVC foam", "density": "80 kg/m^3"}}
    tables["layups"] = {"box": ["2 x biax600", "foam80 15 mm", "biax600"]}
    for body in tables["load_cases"]["twist"]["rigid"].values():
        body["at"][2] = height / 2
    return read_tables(tables, folder)


def shear_modulus(layer):
    """Q66 of a layer in the wall's axes [Pa]: a layer of its own, away from the code's lamination theory."""
    ply, c, s = layer.ply, np.cos(layer.angle), np.sin(layer.angle)
    reduced = 1 - ply.nu12**2 * ply.E2 / ply.E1
    Q11, Q22, Q12 = ply.E1 / reduced, ply.E2 / reduced, ply.nu12 * ply.E2 / reduced
    return (Q11 + Q22 - 2 * Q12) * c**2 * s**2 + ply.G12 * (c**2 - s**2) ** 2


def tube(width, height, depth, shear):
    """GJ [N m^2] of a skin of shear stiffness G t [N/m] at a depth [m] inside the tool face."""
    b, h = width - 2 * depth, height - 2 * depth
    return 4 * (b * h) ** 2 * shear / (2 * (b + h))


@pytest.fixture(scope="module", params=[(300, 300), (300, 150)], ids=["300x300", "300x150"])
def found(request, tmp_path_factory):
    """Width and height [m], layers from the tool face, findings."""
    case = box(*request.param, tmp_path_factory.mktemp("sandwich"))
    return np.array(request.param) / 1e3, base_stacks(case)["box"], run_case(case)[2]


def test_stiffness_is_that_of_both_skins_as_tubes(record, found):
    """Torsion of a sandwich box: both skins as Bredt's tubes.

    Within 1 % and 3.5 %: at the corners of a wall that is not symmetric a part of the coupling is lost.

    Measured at 25 mm: -0.8 % (300 x 300) and -3.4 % (300 x 150). The foam's own shear in its plane, 2.3 % of
    the skins', is not in the reference.
    """
    (width, height), layers, findings = found
    torque, length = 1000.0, 1.0
    ours = torque * length / findings.load_cases["twist"].probes["front"][3]
    core = next(i for i, layer in enumerate(layers) if layer.ply.core)
    thickness = np.array([layer.ply.thickness for layer in layers])
    reference = 0.0
    for skin, start in ((slice(0, core), 0.0), (slice(core + 1, None), thickness[: core + 1].sum())):
        shear = sum(shear_modulus(layer) * layer.ply.thickness for layer in layers[skin])
        reference += tube(width, height, start + thickness[skin].sum() / 2, shear)
    size = f"{1000 * width:.0f} x {1000 * height:.0f} mm"
    record(f"sandwich box {size}, GJ [N·m²]", ours, reference, 1.0 if width == height else 3.5, mesh="25 mm")


def solid_mass(width, height, layers, length=1.0):
    """Mass [kg] of the walls layer by layer, each a rectangular ring with sharp corners."""
    total, b, h = 0.0, width, height
    for layer in layers:
        t = layer.ply.thickness
        total += layer.ply.rho * (b * h - (b - 2 * t) * (h - 2 * t)) * length
        b, h = b - 2 * t, h - 2 * t
    return total


def test_mass_is_a_solid_count(record, found):
    """Mass of a sandwich box whose walls are not even: layer by layer, each a ring with sharp corners.

    Asked 1 %. Ours is exact, mitres included: the area of the middle surface alone is 1.2 % and 1.7 % light, since with
    two plies outside and one inside what is longer at a corner and what is shorter do not cancel.
    """
    (width, height), layers, findings = found
    size = f"{1000 * width:.0f} x {1000 * height:.0f} mm"
    record(f"sandwich box {size}, mass [kg]", findings.mass.total, solid_mass(width, height, layers), 1e-6, asked=1.0)
    assert_allclose(findings.mass.centre_of_gravity, [0.5, 0.0, height / 2], atol=1e-9)
