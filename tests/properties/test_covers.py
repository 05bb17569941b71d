"""Covered cells: right to half a cell on any mesh, the same however the elements are numbered."""

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from tub_builders import panel, tub_mesh

from tubfem.arrays import frozen
from tubfem.tub.cover import circle, covered_cells, element_cells, strip

LINE = np.array([(0.1, 0.05, 0.0), (0.5, 0.1, 0.0), (0.95, 0.02, 0.0)])
FIELDS = st.one_of(
    st.floats(0.01, 0.3).map(lambda width: strip([LINE], width)),
    st.tuples(st.floats(0.1, 0.9), st.floats(0.1, 0.6), st.floats(0.02, 0.5)).map(
        lambda at: circle(np.array([at[0], at[1], 0.0]), at[2])
    ),
)
CELLS = st.tuples(st.integers(3, 17), st.integers(3, 11))
SKEW = st.lists(st.floats(-0.15, 0.15), min_size=8, max_size=8)


def skewed(cells, skew):
    corners = np.array([(0, 0, 0), (1, 0, 0), (1, 0.7, 0), (0, 0.7, 0)], dtype=float)
    corners[:, :2] += np.reshape(skew, (4, 2))
    return tub_mesh([panel("p", corners, cells)])


@settings(max_examples=60, deadline=None)
@given(field=FIELDS, cells=CELLS, skew=SKEW)
def test_covered_area_is_right_to_half_a_cell(field, cells, skew):
    mesh = skewed(cells, skew)
    parts = element_cells(mesh)
    covered, area, taken = covered_cells(mesh, parts, np.arange(mesh.element_count), field)
    assert abs(taken - area) <= parts.area.max() / 32 * (1 + 1e-9)
    assert abs(covered.sum(1) @ parts.area / 16 - taken) <= 1e-12


@settings(max_examples=30, deadline=None)
@given(field=FIELDS, cells=CELLS, skew=SKEW, seed=st.integers(0, 99))
def test_numbering_of_elements_does_not_matter(field, cells, skew, seed):
    mesh = skewed(cells, skew)
    order = np.random.default_rng(seed).permutation(mesh.element_count)
    (block,) = mesh.blocks
    turned = replace(block, conn=frozen(block.conn[order]))
    other = replace(mesh, blocks=(turned,))
    every = np.arange(mesh.element_count)
    first = covered_cells(mesh, element_cells(mesh), every, field)[0]
    second = covered_cells(other, element_cells(other), every, field)[0]
    np.testing.assert_array_equal(first[order], second)
