"""Filler in the fillet of a tabbed joint, against finite elements of its cross-section by scikit-fem, and geometry."""

from math import log, pi, radians, sin, tan

import numpy as np
import pytest
from numpy.testing import assert_allclose

from tubfem.laminate.fillet import fillet_area, fillet_shear

RADIUS = 8e-3
G = 1.1e9


def arc(angle, theta):
    """Distance (n,) from the root to a circle that touches both faces, its radius 1, in the directions theta."""
    middle = 1 / sin(angle / 2)
    beside = np.cos(theta - angle / 2)
    return middle * beside - np.sqrt(np.maximum(1 - middle**2 * (1 - beside**2), 0.0))


def sheared(angle, gap, fine=60):
    """Force along the line for each radian of G: the fillet's cross-section, radius 1, one face moved along the line.

    Quadratic quads in ln ρ and θ, which leave Laplace's equation as it is. Motion 0 on one face, 1 on the other from
    `gap` on; the arc, and the other face within the gap, are free. The root is cut off where it no longer matters.
    """
    import skfem
    from skfem.models.poisson import laplace

    across = 0.5 * (1 - np.cos(np.pi * np.linspace(0, 1, fine + 1))) * angle
    u, theta = skfem.MeshQuad.init_tensor(np.linspace(0, 1, 2 * fine + 1), across).p
    start = log(gap) - 3 * angle
    inner = start + (log(gap) - start) * (1 - (1 - 2 * np.minimum(u, 0.5)) ** 2)
    v = np.clip(2 * u - 1, 0, 1)
    v = np.where(v < 0.5, 2 * v**2, 1 - 2 * (1 - v) ** 2)  # fine at the gap's end and at the arc
    outer = log(gap) + (np.log(arc(angle, theta)) - log(gap)) * v
    plain = skfem.MeshQuad.init_tensor(np.linspace(0, 1, 2 * fine + 1), across)
    mesh = skfem.MeshQuad(np.array([np.where(u <= 0.5, inner, outer), theta]), plain.t)
    basis = skfem.Basis(mesh, skfem.ElementQuad2())
    A = laplace.assemble(basis)
    held = basis.get_dofs(lambda x: np.isclose(x[1], 0)).flatten()
    moved = basis.get_dofs(lambda x: np.isclose(x[1], angle) & (x[0] >= log(gap) - 1e-9)).flatten()
    motion = np.zeros(A.shape[0])
    motion[moved] = 1.0
    motion = skfem.solve(*skfem.condense(A, x=motion, D=np.union1d(held, moved)))
    return motion @ A @ motion


@pytest.mark.parametrize("degrees", [60, 90, 120])
def test_wedge_sheared_along_its_line(record, degrees):
    """Stiffness along the line of a wedge of filler, a gap of a fiftieth of the radius at its root.

    Laplace's equation on the fillet's cross-section, quadratic elements by scikit-fem, 7200 of them: to 1e-4 of what
    four times as many give.
    """
    gap = 0.02
    ours = fillet_shear(RADIUS, radians(degrees), G, root=gap * RADIUS)
    record(f"{degrees} degrees", ours, G * sheared(radians(degrees), gap), 0.1, mesh="120 x 60 quads")


def test_wedge_whose_gap_is_an_eighth_of_it(record):
    """The same at the default gap of 1 mm under an arc of 8 mm: the closed form is of first order in their ratio."""
    ours = fillet_shear(RADIUS, pi / 2, G)
    record("90 degrees", ours, G * sheared(pi / 2, 0.125), 0.1, mesh="120 x 60 quads")


def test_wedge_lies_between_its_sectors():
    """Sectors inside and around the fillet, (G/φ) ln(R/ρ), bound it (Rayleigh); their root is a slit of radius ρ.

    A gap g on one face lies between slits of radius g/4 and g around the root: the first is the half-plane's gap seen
    from afar, g / 4^(φ/π) by the map z^(π/φ), for φ at most π.
    """
    for angle in np.radians([50, 90, 130]):
        inside, around = 1 / sin(angle / 2) - 1, 1 / tan(angle / 2)
        gap = 1e-3
        found = fillet_shear(1.0, angle, 1.0, root=gap)
        assert log(inside / gap) / angle < found < log(around / (gap / 4)) / angle


def test_a_fillet_no_larger_than_its_gap_holds_nothing():
    assert fillet_shear(0.5e-3, pi / 2, G) == 0.0
    assert fillet_shear(RADIUS, pi, G) == fillet_area(RADIUS, pi) == 0.0


@pytest.mark.parametrize("degrees", [30, 60, 90, 120, 150])
def test_cross_section(record, degrees):
    """Cross-section of a fillet: the polygon between both faces and 20 000 points of the arc."""
    angle = radians(degrees)
    theta = 0.5 * (1 - np.cos(np.pi * np.linspace(0, 1, 20001))) * angle
    x, y = arc(angle, theta) * np.array([np.cos(theta), np.sin(theta)])
    polygon = 0.5 * abs(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))
    record.digits(fillet_area(1.0, angle), polygon, rtol=1e-6, of=f"{degrees} degrees")


def test_right_angle_and_sixty_degrees_by_hand():
    assert_allclose(fillet_area(0.02, pi / 2), (1 - pi / 4) * 0.02**2, rtol=1e-12)
    assert_allclose(fillet_area(1.0, pi / 3), 3**0.5 - pi / 3, rtol=1e-12)
