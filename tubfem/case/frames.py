"""Directions in words, planes across the car, and small vector work that the rest of the room shares."""

from dataclasses import dataclass

import numpy as np

from tubfem.arrays import Floats

WORDS = {
    "fore": (-1.0, 0.0, 0.0),
    "aft": (1.0, 0.0, 0.0),
    "in": (0.0, -1.0, 0.0),
    "out": (0.0, 1.0, 0.0),
    "down": (0.0, 0.0, -1.0),
    "up": (0.0, 0.0, 1.0),
    "across": (0.0, 1.0, 0.0),
}
FACINGS = ("up", "down", "fore", "aft", "out", "in")
LYING = np.cos(np.radians(30.0))  # a panel within 30 degrees of level is measured from above


@dataclass(frozen=True, eq=False, slots=True)
class Plane:
    """A plane across the car: a point of it at z = 0 [m] and its unit normal, which looks aft."""

    point: Floats
    normal: Floats

    def height(self, points: Floats) -> Floats:
        """Signed distance [m] of points (..., 3) from the plane, positive aft of it."""
        return (np.asarray(points) - self.point) @ self.normal

    def at(self, y: float, z: float) -> Floats:
        """The point (3,) of the plane that has these y and z [m]."""
        nx, _, nz = self.normal
        return np.array([self.point[0] - nz * (z - self.point[2]) / nx, y, z])

    def moved(self, distance: float) -> "Plane":
        """The plane `distance` [m] further along its normal."""
        return Plane(self.point + distance * self.normal, self.normal)


def station_plane(first: tuple[float, float], second: tuple[float, float] | None = None) -> Plane:
    """The plane through two points [x, z] [m] in side view, or the upright one at x = first[0]."""
    if second is None:
        return Plane(np.array([first[0], 0.0, 0.0]), np.array([1.0, 0.0, 0.0]))
    (xa, za), (xb, zb) = first, second
    normal = unit(np.array([zb - za, 0.0, xa - xb]) * np.sign(zb - za))
    lean = (xb - xa) / (zb - za)
    return Plane(np.array([xa - lean * za, 0.0, 0.0]), normal)


def unit(vector: Floats) -> Floats:
    """The vector (..., 3) made one long; a zero vector stays zero."""
    vector = np.asarray(vector, dtype=float)
    length = np.linalg.norm(vector, axis=-1, keepdims=True)
    return vector / np.where(length > 0.0, length, 1.0)


def cross(a: Floats, b: Floats) -> Floats:
    """Cross product of two vectors (3,); for single vectors several times as fast as numpy's."""
    ax, ay, az = a
    bx, by, bz = b
    return np.array([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx])


def area_vector(points: Floats) -> Floats:
    """Area of a closed polygon (n, 3) [m^2] as a vector (3,), by the right hand over the order of its points."""
    points = np.asarray(points, dtype=float)
    x, y, z = (points - points.mean(axis=0)).T
    p, q, r = (np.concatenate([axis[1:], axis[:1]]) for axis in (x, y, z))
    return 0.5 * np.array([(y * r - z * q).sum(), (z * p - x * r).sum(), (x * q - y * p).sum()])


def arc_points(start: Floats, through: Floats, end: Floats, count: int) -> Floats:
    """`count` + 1 points (count + 1, 3) along the circular arc from start over through to end, evenly spaced."""
    start, through, end = (np.asarray(point, dtype=float) for point in (start, through, end))
    a, b = through - start, end - start
    normal = np.cross(a, b)
    if np.linalg.norm(normal) < 1e-12 * np.linalg.norm(b):
        return np.linspace(start, end, count + 1)
    centre = start + np.cross((a @ a) * b - (b @ b) * a, normal) / (2.0 * normal @ normal)
    e1 = unit(start - centre)
    e2 = np.cross(unit(normal), e1)
    radius = np.linalg.norm(start - centre)
    sweep = np.arctan2((end - centre) @ e2, (end - centre) @ e1) % (2.0 * np.pi)
    angle = np.linspace(0.0, sweep, count + 1)[:, None]
    return centre + radius * (np.cos(angle) * e1 + np.sin(angle) * e2)


def spline_points(points: Floats, count: int) -> Floats:
    """`count` points a span through the given ones (n, 3): a curve of cubic spans with averaged slopes."""
    points = np.asarray(points, dtype=float)
    slope = np.gradient(points, axis=0)
    t = np.linspace(0.0, 1.0, count + 1)[:-1, None]
    spans = [
        (2 * t**3 - 3 * t**2 + 1) * p + (t**3 - 2 * t**2 + t) * m + (3 * t**2 - 2 * t**3) * q + (t**3 - t**2) * n
        for p, q, m, n in zip(points[:-1], points[1:], slope[:-1], slope[1:], strict=True)
    ]
    return np.concatenate([*spans, points[-1:]])
