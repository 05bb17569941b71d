"""The torque at which margins are asked."""

import pytest
from numpy.testing import assert_allclose
from pydantic import ValidationError

from tubfem.case.loads import Margins


def test_the_torque_that_lifts_a_wheel_of_the_lighter_axle():
    # load x track / 2 x factor (closed form): 4000 N, 1.4 m: 2800, x 1.3 = 3640 N m
    axle = {"load": "4000 N", "track": 1400}
    assert_allclose(Margins(lighter_axle=axle).asked_torque, 3640.0, rtol=1e-12)
    assert_allclose(Margins(lighter_axle=axle | {"factor": 1}).asked_torque, 2800.0, rtol=1e-12)
    assert Margins(limit_torque="3 kN*m").asked_torque == 3000.0
    assert Margins().asked_torque is None


def test_only_one_of_them():
    with pytest.raises(ValidationError, match="give one of them"):
        Margins(limit_torque="3 kN*m", lighter_axle={"load": "4 kN", "track": 1400})
