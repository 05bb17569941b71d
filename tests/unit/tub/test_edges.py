"""What the edges of a tub's elements are given: bulges of the mesh before joints part it, relief as it is held."""

from numpy.testing import assert_allclose
from tub_box import box_case, box_mesh, solved


def test_a_joint_holds_sides_as_straight_as_a_fold():
    """Parted or moulded, the same sides of the same elements bulge alike; parted edges are free and relieved."""
    parted = box_case(joints={"floor/*": "floor_joint"}, kinds={"floor_joint": {"kind": "hinged"}})
    moulded, apart = (solved(case, box_mesh())[0].states[0].shell for case in (box_case(), parted))
    assert len(apart.points) > len(moulded.points)
    for one, other in zip(moulded.blocks, apart.blocks, strict=True):
        assert_allclose(other.bulge, one.bulge)
        assert (one.bulge == 0).any()
        assert (one.bulge > 0.5).any()
    relieved = [sum(len(b.relief.elements) for b in shell.blocks if b.relief is not None) for shell in (moulded, apart)]
    assert relieved[0] < relieved[1]
