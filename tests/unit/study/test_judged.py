"""What a run in full judges, what has become weak by a change, and on which regions that lies."""

from types import SimpleNamespace

from tubfem.study.judged import followed, regions_at, weaker

BEFORE = {
    "torsion": {"floor": 0.5, "joint floor/sill": 0.4, "hard point low.left": 0.3, "opening dash.legs": -0.1},
    "kerb": {"floor": 0.2, "joint floor/sill": -0.2},
    "in service": {"floor": 0.1},
}
NOW = {
    "torsion": {"floor": -0.5, "joint floor/sill": -0.4, "hard point low.left": -0.3, "opening dash.legs": -0.1},
    "kerb": {"floor": -0.2, "joint floor/sill": -0.2005},
    "in service": {"floor": -0.1},
}


def test_what_is_negative_now_and_was_higher_before():
    """Regions and joints of the load case that is searched for are followed there; the same again is no weaker."""
    assert followed(NOW, "torsion") == {"floor": -0.5, "joint floor/sill": -0.4}
    assert weaker(BEFORE, NOW, "torsion") == {
        "hard point low.left, load case torsion": -0.3,
        "floor, load case kerb": -0.2,
        "floor, in service": -0.1,
    }
    assert weaker(BEFORE, BEFORE, "torsion") == {}


def test_regions_of_weak_places():
    panels = [("floor.right", "floor"), ("sill.inner.left", "sill_inner"), ("dash", "dash"), ("tail.side", "tail")]
    model = SimpleNamespace(
        mesh=SimpleNamespace(panels=[SimpleNamespace(name=name, region=region) for name, region in panels]),
        case=SimpleNamespace(mounts={"low": SimpleNamespace(on="sill.inner")}),
    )

    def at(*places):
        return regions_at(model, places)

    assert at("floor, load case kerb") == {"floor"}
    assert at("hard point low.left, load case torsion") == {"sill_inner"}
    assert at("opening dash.legs.right, load case torsion") == {"dash"}
    assert at("joint floor/sill.inner, load case kerb", "tail, in service") == {"floor", "sill_inner", "tail"}
