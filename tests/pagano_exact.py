"""Three-dimensional elasticity of simply supported cross-ply plates under a sinusoidal load, exact.

N. J. Pagano, J. Compos. Mater. 4 (1970) 20: u = U cos px sin qy, v = V sin px cos qy, w = W sin px sin qy in every
ply. Here by the state (U, V, W, τxz, τyz, σz), whose derivative through a ply is a constant matrix: the ply's part is
the exponential of that, and plies multiply.
"""

import numpy as np
from scipy.linalg import expm
from solids import compliance


def _rate(p, q, E, G, nu):
    """Derivative (6, 6) of the state through a ply; moduli as in `solids.compliance`, in the axes of the plate."""
    C = np.linalg.inv(compliance(E, G, nu))
    M = np.zeros((6, 6))
    M[0, [2, 3]] = -p, 1 / C[4, 4]
    M[1, [2, 4]] = -q, 1 / C[3, 3]
    M[2] = np.array([p * C[0, 2], q * C[1, 2], 0, 0, 0, 1]) / C[2, 2]
    on_x, on_y = C[0, 2] * M[2], C[1, 2] * M[2]  # amplitudes of σx and σy
    on_x[:2] -= p * C[0, 0], q * C[0, 1]
    on_y[:2] -= p * C[0, 1], q * C[1, 1]
    shear = C[5, 5] * np.array([q, p, 0, 0, 0, 0])
    M[3], M[4] = q * shear - p * on_x, p * shear - q * on_y
    M[5, 3:5] = p, q
    return M


def deflection(plies, a, b):
    """Middle deflection at mid-depth of a x b under sin(πx/a) sin(πy/b) on its upper face.

    `plies` from the bottom: thickness, E, G, nu.
    """
    middle = sum(ply[0] for ply in plies) / 2
    through, half, z = np.eye(6), None, 0.0
    for thickness, *moduli in plies:
        M = _rate(np.pi / a, np.pi / b, *moduli)
        if half is None and z + thickness >= middle:
            half = expm(M * (middle - z)) @ through
        through = expm(M * thickness) @ through
        z += thickness
    below = np.linalg.solve(through[3:, :3], [0.0, 0.0, 1.0])
    return half[2, :3] @ below
