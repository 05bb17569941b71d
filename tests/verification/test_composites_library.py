"""A, B, D by `composites` (S. G. P. Castro), an independent implementation of classical lamination theory.

Any stack, thicknesses and reference surface: agreement to rounding. Its z points as ours does, from the first ply on.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from laminates import abd6, ud

from tubfem.laminate.stack import make_stack

composites = pytest.importorskip("composites", reason="install the extra `test`")
CARBON = ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.25e-3)
GLASS = ud(45e9, 12e9, 4e9, 0.28, thickness=0.4e-3)
LAYERS = st.lists(st.tuples(st.floats(-90, 90), st.sampled_from([CARBON, GLASS])), min_size=1, max_size=8)


def theirs(layers, offset):
    laminate = composites.laminated_plate(
        stack=[angle for angle, _ in layers],
        plyts=[ply.thickness for _, ply in layers],
        laminaprops=[(p.E1, p.E2, p.nu12, p.G12, p.G13, p.G23) for _, p in layers],
        offset=offset,
    )
    return np.block([[laminate.A, laminate.B], [laminate.B, laminate.D]])


def ours(layers, offset):
    half = 0.5 * sum(ply.thickness for _, ply in layers)
    return abd6(make_stack([(np.radians(angle), ply) for angle, ply in layers], tool_z=offset - half))


def scaled(abd, layers):
    """Membrane, coupling and bending in one unit."""
    size = np.repeat([1.0, 1 / sum(ply.thickness for _, ply in layers)], 3)
    return size[:, None] * abd * size


@pytest.mark.parametrize("offset", [0.0, 2e-3])
def test_unbalanced_unsymmetric_stack(record, offset):
    """Every entry of A, B and D of a stack with no symmetry at all, about its middle and about another surface."""
    layers = [(30, CARBON), (-45, GLASS), (0, CARBON), (77, GLASS)]
    a, b = (scaled(side(layers, offset), layers) for side in (ours, theirs))
    record.digits(a, b, rtol=1e-9, atol=1e-9 * np.abs(b).max(), of=f"{1e3 * offset:.0f} mm off the middle")


@settings(max_examples=60, deadline=None, derandomize=True)
@given(LAYERS, st.floats(-5e-3, 5e-3))
def test_any_stack(layers, offset):
    a, b = (scaled(side(layers, offset), layers) for side in (ours, theirs))
    np.testing.assert_allclose(a, b, atol=1e-9 * np.abs(b).max())
