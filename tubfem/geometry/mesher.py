"""Plain panels to a meshed tub, through gmsh; the only module that opens gmsh."""

import ctypes
import signal
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np

from tubfem.case.plain import PlainTub
from tubfem.errors import MeshError
from tubfem.geometry.assemble import HalfMesh, assemble
from tubfem.geometry.faults import half_faults, shape_faults
from tubfem.geometry.mesh import TubMesh
from tubfem.geometry.orient import orient
from tubfem.geometry.shapes import Shapes, draw
from tubfem.geometry.sizing import set_sizes

MOST = 250_000  # elements: one and a half million freedoms, some 12 GB to solve
USUAL = 10_000
LIBRARIES = "apt-get install -y libgl1 libglu1-mesa libopengl0 libgomp1 libxcursor1 libxft2 libxinerama1"


@contextmanager
def _broken_pipes_told() -> Iterator[None]:
    """Put back how the process takes a broken pipe: gmsh, when it first starts, lets one kill it without a word.

    A worker that dies leaves one behind. Through the C library, since Python sets handlers in its main thread alone.
    """
    if not hasattr(signal, "SIGPIPE"):
        yield
        return
    handle = ctypes.CDLL(None).signal
    handle.argtypes, handle.restype = (ctypes.c_int, ctypes.c_void_p), ctypes.c_void_p
    before = handle(signal.SIGPIPE, int(signal.SIG_IGN))
    try:
        yield
    finally:
        handle(signal.SIGPIPE, before)


@contextmanager
def gmsh_model() -> Iterator[Any]:
    """An empty gmsh model, silent, closed again whatever happens; a session already open is left as it was.

    Raises MeshError with the line that installs gmsh's system libraries if they are missing.
    """
    try:
        import gmsh
    except OSError as error:
        raise MeshError(LIBRARIES) from error
    started = not gmsh.isInitialized()
    if started:
        with _broken_pipes_told():
            gmsh.initialize(readConfigFiles=False, interruptible=False)
    for name, value in (
        ("General.Terminal", 0),
        ("General.NumThreads", 1),
        ("Geometry.ToleranceBoolean", 5e-5),
        ("Mesh.RandomSeed", 1),
    ):
        gmsh.option.setNumber(name, value)
    gmsh.model.add("tub")
    try:
        yield gmsh.model
    finally:
        gmsh.model.remove()
        if started:
            gmsh.finalize()


def mesh_tub(tub: PlainTub) -> TubMesh:
    """Mesh a plain tub: fragment its panels, mesh the half, find faults, turn normals, reflect.

    The same coordinates give the same mesh, whatever the names and the order of the tables.

    Raises
    ------
    MeshError
        So many elements that nothing can be solved on them. All other faults are found together: overlapping panels,
        gaps and slivers below the mesh size, panels that touch nothing, tool faces that cannot be told, points and
        mounts off their panels.
    """
    with gmsh_model() as model:
        shapes = draw(model, tub)
        _refuse_too_many(model, shapes, tub)
        faults = shape_faults(model, shapes, tub)
        try:
            irregular = set_sizes(model, shapes, tub)
            half = _generate(model, shapes, tub, irregular)
        except MeshError as error:
            raise MeshError([*faults, *error.messages]) from error
    faults += half_faults(half, tub)
    if not faults:
        half, faults = orient(half, tub)
    mesh, lost = assemble(half, tub)
    if faults or lost:
        raise MeshError([*faults, *lost])
    return mesh


def _refuse_too_many(model: Any, shapes: Shapes, tub: PlainTub) -> None:
    """A size a tenth of what was meant makes a hundred times the elements, which take hours to mesh."""
    area = sum(model.occ.getMass(2, shape.tag) for shape in shapes.pieces) * (2 if tub.mirror else 1)
    if area / tub.size**2 > MOST:
        size = 1e3 * np.sqrt(area / USUAL)
        raise MeshError(
            f"mesh.size: elements of {1e3 * tub.size:g} mm are some {area / tub.size**2:,.0f} on {area:.3g} m², more "
            f"than can be solved; mind the unit: {size:.0f} mm would make {USUAL:,}"
        )


def _generate(model: Any, shapes: Shapes, tub: PlainTub, irregular: list[int]) -> HalfMesh:
    """Mesh the half and read it back, elements by piece in order of tag."""
    import gmsh

    for name, value in (
        ("MeshSizeExtendFromBoundary", 0),
        ("MeshSizeFromPoints", 0),
        ("MeshSizeMax", 2 * tub.size),
        ("Algorithm", 6),  # frontal; the variant for quadrilaterals (8) has been seen to mesh into small rounded holes
        ("RecombineAll", 1),
        ("RecombinationAlgorithm", 0),  # greedy: blossom breaks ties by memory addresses
        ("RecombineMinimumQuality", 0.3),  # two triangles make six good quadrilaterals rather than one bad four
        ("SubdivisionAlgorithm", 1),  # all quadrilaterals
    ):
        gmsh.option.setNumber(f"Mesh.{name}", value)
    try:
        model.mesh.generate(2)
        tags, coordinates, _ = model.mesh.getNodes()
        model.mesh.optimize("Relocate2D", niter=5)
    except Exception as error:  # gmsh raises bare Exception
        raise MeshError(f"the panels cannot be meshed: {error}") from error
    row = np.zeros(int(tags.max()) + 1, np.int64)
    row[tags.astype(np.int64)] = np.arange(len(tags))
    coordinates = coordinates.reshape(-1, 3)
    for face in irregular:  # rows and columns stay as they were laid out
        inner, relocated, _ = model.mesh.getNodes(2, face)
        coordinates[row[inner.astype(np.int64)]] = relocated.reshape(-1, 3)
    conn, piece = [], []
    for index, shape in enumerate(shapes.pieces):
        kinds, _, nodes = model.mesh.getElements(2, shape.tag)
        if list(kinds) != [3]:
            name = shapes.parts[shape.part].name
            raise MeshError(f"panels.{name}: a face near {_centre(model, shape.tag)} mm cannot be meshed")
        conn.append(nodes[0].reshape(-1, 4).astype(np.int64))
        piece.append(np.full(len(conn[-1]), index))
    conn, piece = np.concatenate(conn), np.concatenate(piece)
    lines = {}
    for name, curves in shapes.lines.items():
        pairs = [model.mesh.getElements(1, tag)[2][0].reshape(-1, 2).astype(np.int64) for tag in curves]
        lines[name] = np.concatenate(pairs) if pairs else np.zeros((0, 2), np.int64)
    used = np.unique(np.concatenate([conn.ravel(), *(pairs.ravel() for pairs in lines.values())]))
    place = np.zeros(int(tags.max()) + 1, np.int64)
    place[used] = np.arange(len(used))
    points = coordinates[row[used]]
    if tub.mirror:
        points[np.abs(points[:, 1]) < 1e-7, 1] = 0.0
    return HalfMesh(
        points,
        place[conn],
        piece,
        np.array([shape.part for shape in shapes.pieces]),
        tuple(shape.sides for shape in shapes.pieces),
        shapes.parts,
        {name: place[pairs] for name, pairs in lines.items()},
    )


def _centre(model: Any, face: int) -> str:
    box = np.array(model.getBoundingBox(2, face)).reshape(2, 3)
    return "({:.0f}, {:.0f}, {:.0f})".format(*(box.mean(axis=0) * 1e3))
