import tomllib
from importlib import resources

import pytest

from tubfem.errors import CaseError
from tubfem.materials import library
from tubfem.materials.catalogue import catalogue
from tubfem.materials.knockdowns import (
    ALL_MODES,
    default_knockdowns,
    knockdown,
    knockdowns,
    mode_factors,
    required,
    service_strains,
)
from tubfem.materials.tables import sources_of, to_si

FILES = sorted(
    f.name for f in resources.files("tubfem.materials").joinpath("data").iterdir() if f.name.endswith("toml")
)


def tables(node, path=()):
    """Every table of a file that holds numbers directly, with where it is."""
    if isinstance(node, dict):
        if any(isinstance(v, (int, float, list)) and numbers(v) for v in node.values()):
            yield path, node
        for key, value in node.items():
            yield from tables(value, (*path, key))
    elif isinstance(node, list):
        for k, value in enumerate(node):
            yield from tables(value, (*path, k))


def numbers(value):
    if isinstance(value, bool):
        return False
    return isinstance(value, (int, float)) or (isinstance(value, list) and any(numbers(v) for v in value))


@pytest.mark.parametrize("file", FILES)
def test_no_number_lacks_a_source(file):
    text = resources.files("tubfem.materials").joinpath("data", file).read_text(encoding="utf-8")
    found = list(tables(tomllib.loads(text)))
    assert found
    for path, table in found:
        for key, value in table.items():
            if numbers(value):
                source = table.get("sources", {}).get(key, table.get("source", ""))
                assert len(source) > 8, f"{file}: {path}: {key} has no source"
        assert set(table.get("sources", {})) <= set(table), f"{file}: {path}: a source for a key that is not there"


def test_a_number_without_source_is_not_read():
    with pytest.raises(KeyError):
        sources_of({"E_GPa": 3.0, "sources": {"nu": "x"}})


def test_units_are_in_the_keys():
    assert to_si({"E_GPa": 3.1, "X_MPa": [1, 2], "e_percent": 0.5, "density": 80, "source": "s"}) == {
        "E": 3.1e9,
        "X": (1e6, 2e6),
        "e": 0.005,
        "density": 80.0,
    }


def test_contents_that_a_case_may_name():
    names = {e.name for e in catalogue()}
    assert len(names) == len(catalogue())  # one name, one thing: `cloths NAME` needs no group
    assert names >= {
        "e-glass",
        "s-glass",
        "carbon, standard modulus",
        "carbon, intermediate modulus",
        "aramid",
        "flax",
        "epoxy, room-temperature cure",
        "epoxy, post-cured",
        "vinylester",
        "polyester",
        "chopped mat",
        "plain",
        "twill",
        "satin",
        "unidirectional",
        "biaxial 0/90 stitched",
        "biaxial +-45 stitched",
        "triaxial",
        "PVC foam",
        "linear PVC foam",
        "PET foam",
        "SAN foam",
        "PMI foam",
        "balsa",
        "plywood",
        "pultruded carbon",
        "aluminium",
        "steel",
    }


@pytest.mark.parametrize("architecture", library.architectures().values(), ids=lambda a: a.name)
def test_layers_share_the_whole_cloth(architecture):
    assert sum(share for _, share in architecture.layers) == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(
    ("look", "wrong", "near"),
    [
        (library.fibre, "eglass", "e-glass"),
        (library.resin, "epoxy, post cured", "epoxy, post-cured"),
        (library.core, "pvc foam", "PVC foam"),
        (library.solid, "aluminum", "aluminium"),
        (library.architecture, "biaxial +-45 stiched", "biaxial +-45 stitched"),
        (knockdown, "untestd", "untested"),
    ],
)
def test_misspelt_names_get_the_nearest(look, wrong, near):
    with pytest.raises(CaseError, match=f'no .* "{wrong}"; nearest: "{near}"'.replace("+", r"\+")):
        look(wrong)


def test_fractions():
    glass, carbon = library.fibre("e-glass"), library.fibre("carbon, standard modulus")
    value, source = library.mass_fraction(glass, library.architecture("biaxial +-45 stitched"), "hand complex")
    assert value == 0.38
    assert "ISO 12215-5" in source
    with pytest.raises(CaseError, match='no process "hnd"; nearest: "hand"'):
        library.mass_fraction(glass, library.architecture("plain"), "hnd")
    with pytest.raises(CaseError, match="give the cloth's fibre_fraction"):
        library.mass_fraction(carbon, library.architecture("chopped mat"), "hand")


def test_knockdowns():
    for item in knockdowns():
        assert 0 < item.factor <= 1
        assert set(item.modes) <= set(ALL_MODES)
        assert item.source
    assert [k.name for k in default_knockdowns()] == ["untested"]
    factors = mode_factors([knockdown("untested"), knockdown("hot and wet, matrix")])
    assert factors["fibre tension"] == 0.8
    assert factors["transverse tension"] == pytest.approx(0.6)
    assert {r.name: r.factor for r in required()}["first damage"] == 1.5
    assert all(s.amber < s.red < 0.01 for s in service_strains())
