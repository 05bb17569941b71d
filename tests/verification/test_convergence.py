"""Observed order of convergence; problems, references and sources are those of the files they are imported from.

Meshes are halved in turn. The order is log2 of the ratio of successive errors: smooth problems owe 2, those with
singular corners 1 or so.
"""

from functools import partial

import numpy as np
import pytest
from laminates import stack, ud
from meshes import isotropic
from tubes import torsional_stiffness, tube, twist_model
from verification.test_laminated_shells import plate, stiffness
from verification.test_macneal_harder import curved, twisted
from verification.test_obstacle_course import hemisphere, roof
from verification.test_pagano import CORE, FACE, deflection, sandwich
from verification.test_simplified_tub import tub
from verification.test_thin_plates import deflection as clamped

from tubfem.laminate.shear import stiffness8

BOX = [(-0.1, -0.05), (0.1, -0.05), (0.1, 0.05), (-0.1, 0.05), (-0.1, -0.05)]
SLIT = [(0.0, -0.05), *BOX[1:], (-1e-4, -0.05)]
TAPE = ud(135e9, 10e9, 5e9, 0.3, G13=5e9, G23=3.5e9, thickness=0.25e-3)
BOOK = ud(25.0, 1.0, 0.5, 0.25, thickness=0.5)


def sandwich_plate(n):
    return 100 * deflection(sandwich(FACE, CORE, 0.1, 0.8, (0.060585, 0.059135)), 10.0, n=n) / 10**4


def angle_ply(n):
    return 100 * plate(stiffness((45, -45), BOOK, np.full(2, 5 / 6 * 0.35)), 100.0, held_on_x=[0, 2, 3], n=n) / 100**4


def twisted_box(corners, C, ends, n):
    points, conns = tube([corners], 1.0, 1 / n)
    return torsional_stiffness(*twist_model(points, conns, [C], ends=ends))


coupled = partial(twisted_box, BOX, stiffness8(stack((45, -45), TAPE)), "free free")
slit = partial(twisted_box, SLIT, isotropic(70e9, 0.3, 0.002), "held held")
# Name, answer on n elements along, meshes, reference, least order, largest error [%] on the finest. The reference has
# five digits at best, so that errors below 0.02 % say nothing and meshes stop before. Without an order: the answer
# passes its limit (roof, twisted beam, coupled box and plate), or the reference is known to 0.1 % only (hemisphere).
CASES = {
    "clamped plate, a/h 10 000": (partial(clamped, thickness=1e-4), (8, 16, 32), 1.26532e-3, 1.8, 0.1),
    "clamped plate, a/h 100": (partial(clamped, thickness=1e-2), (8, 16, 32), 1.26786e-3, 1.8, 0.1),
    "Pagano sandwich, a/h 10": (sandwich_plate, (8, 16, 32), 2.2109, 1.8, 0.05),
    "angle-ply plate [45/-45], a/h 100": (angle_ply, (4, 8, 16), 0.6564, None, 0.05),
    "twisted beam, thin": (
        lambda n: twisted((n, n // 6), 0.0032, 2),
        (12, 24, 48),
        5.2498e-3,
        None,
        0.2,
    ),
    "curved beam in its plane": (lambda n: curved((n, n // 6), 0), (6, 12, 24), 0.088526, 1.8, 0.35),
    "Scordelis-Lo roof": (roof, (4, 8, 16, 32), 0.30202, None, 0.3),
    "hemisphere": (hemisphere, (4, 8, 16), 0.0937, None, 0.5),
    "closed box [45/-45]": (coupled, (20, 40, 80), 45_420.0, None, 0.2),
    "slit box, warping held": (slit, (10, 20, 40), 44_386.0, 0.9, 0.5),
    "simplified tub": (lambda n: tub(2.0 / n)[0], (40, 80), 11_003.0, 0.9, 0.3),
}


@pytest.mark.parametrize("name", CASES)
def test_order(record, name):
    """Error on meshes halved in turn, and the order at which it falls."""
    answer, meshes, reference, least, percent = CASES[name]
    answers = np.array([answer(n) for n in meshes])
    errors = np.abs(answers / reference - 1)
    coarse = 100.1 * errors.max()  # only the finest mesh is held to a limit
    for n, found in zip(meshes, answers, strict=True):
        limit = percent if n == meshes[-1] else max(coarse, percent)
        record(name, found, reference, limit, mesh=f"{n} along", size=1 / n, series=name)
    if least is not None:
        order = np.log2(errors[:-1] / errors[1:])
        print(f"{name}: observed orders {order.round(2)}")
        assert (order > least).all(), (errors, order)
