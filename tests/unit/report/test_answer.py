"""The page's answer: the weakest parts of all load cases, and what gives way."""

from tubfem.report import answer


def case(margins, joints=(), buckling=None, torsion=None):
    worst = {name: {"worst": {"margin": margin, "mode": "core shear"}} for name, margin in margins.items()}
    joints = {name: {"margin": margin, "twist_share": share, "kind": "tabbed"} for name, margin, share in joints}
    return {"regions": worst | {"bare": {"worst": None}}, "joints": joints, "buckling": buckling, "torsion": torsion}


CASES = {
    "bump": case({"floor": -0.2, "sill": 0.5}, [("a.left/b", 0.1, 0.2), ("a.right/b", 0.05, 0.1), ("c/d", None, None)]),
    "torsion": case(
        {"floor": 0.3, "sill": 0.4},
        [("a.left/b", 0.7, 0.01), ("a.right/b", 0.8, 0.02)],
        {"factor": 1.3, "region": "sill"},
        {"torque": 1.0},
    ),
    "brake": case({"floor": 0.9, "sill": 2.0}, buckling={"factor": None, "region": None}),
}


def test_a_part_stands_once_where_it_is_weakest():
    found = [(one.part, one.margin, one.load_case) for one in answer.weakest(CASES)]
    assert found == [("floor", -0.2, "bump"), ("a.right/b", 0.05, "bump"), ("sill", 0.4, "torsion")]


def test_every_load_case_has_its_weakest_part_and_region():
    found = {one.load_case: (one.part, one.region.part, one.region.margin) for one in answer.by_case(CASES)}
    assert found == {
        "bump": ("floor", "floor", -0.2),
        "torsion": ("floor", "floor", 0.3),
        "brake": ("floor", "floor", 0.9),
    }
    assert list(found) == ["bump", "torsion", "brake"]


def test_ripples_and_hinges():
    assert [name for name, _ in answer.ripples(CASES)] == ["torsion"]
    name, giving = answer.giving(CASES)
    assert (name, giving) == ("torsion", [("a/b", "tabbed", 0.03)])
