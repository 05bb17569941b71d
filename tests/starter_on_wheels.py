"""The starter case on its wheels, coarse: wishbones and a rigid subframe in front, the rear wheels by statics alone."""

import case_texts

PICKUPS = {
    "low_fore": [-240, 330, 90],
    "low_aft": [0, 330, 90],
    "up_fore": [-220, 360, 300],
    "up_aft": [-20, 360, 300],
    "rack": [-230, 330, 130],
    "spring": [-120, 400, 420],
}
FRONT = {
    "contact": [-120, 700, -120],
    "hub": [-120, 690, 160],
    "unsprung": "25 kg",
    "arms": {"lower": {"pivots": ["low_fore", "low_aft"], "ball": [-125, 650, 80]}},
    "links": {
        "up_fore": {"from": "up_fore", "to": [-110, 620, 290]},
        "up_aft": {"from": "up_aft", "to": [-110, 620, 290]},
        "tie_rod": {"from": "rack", "to": [-240, 640, 135]},
        "spring": {"from": "spring", "to": {"on": "lower", "at": [-122, 560, 95]}},
    },
}
REAR = {"contact": [1570, 700, -120], "hub": [1570, 690, 160], "unsprung": "25 kg", "pickups": "rear"}
MASSES = {
    "driver": {"mass": "80 kg", "on": "panels.floor", "at": [900, 320, 200]},
    "engine": {"mass": "120 kg", "on": "front", "at": [-300, 0, 200]},
}
CASES = {
    "bending": {},
    "braking": {},
    "cornering": {},
    "bump": {},
    "other": {"kind": "bump", "wheel": "front.left"},
    "kerb": {},
    "jacking": {"on": "front_lower.right", "probes": {"jack": "front_lower.right"}},
    "towing": {"on": "rear_lower.right", "towards": "aft", "sideways": 10},
    "standing": {"kind": "bending", "factor": 1},
    "sum": {"kind": "combination", "of": {"bump": 1.0, "cornering": 0.7, "standing": -1.05}},
    "twist_too": {"kind": "combination", "of": {"torsion": 2.0, "bending": 1.0}},
    "again": {"kind": "torsion", "torque": "1 kN*m", "front": "low_fore", "rear": "rear"},
}


def tables(**changes):
    """The starter on its wheels, coarse; a rigid subframe carries wishbones in front, the rear hangs by statics."""
    found = {**case_texts.tables_of("starter"), "mesh": {"size": 150}}
    found["subframes"] = {"front": {"bolts": ["front_*"]}}
    own = {name: {"at": at, "on": "subframes.front"} for name, at in PICKUPS.items()}
    found["pickups"] = {
        **found["pickups"],
        "front": {"at": [-120, 550, 210], "on": "subframes.front"},
        **own,
    }
    found["vehicle"] = {"masses": MASSES}
    found["axles"] = {"front": FRONT, "rear": REAR}
    found["load_cases"] = {**found["load_cases"], **CASES}
    return {**found, **changes}
