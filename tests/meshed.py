"""What a mesh is asked: area, normals and joints of its panels; a plate to mesh."""

from plain_builders import panel

from tubfem.geometry.mesh import areas, normals

DOWN, UP, FORE = (0, 0, -1), (0, 0, 1), (-1, 0, 0)
PLATE = [(0, 0, 0), (0.8, 0, 0), (0.8, 0.5, 0), (0, 0.5, 0)]


def area_of(mesh, name):
    index = [p.name for p in mesh.panels].index(name)
    return areas(mesh)[mesh.element_panel == index].sum()


def normal_of(mesh, name):
    index = [p.name for p in mesh.panels].index(name)
    return normals(mesh)[mesh.element_panel == index]


def joints_of(mesh):
    return sorted("/".join(sorted(mesh.panels[i].name for i in line.panels)) for line in mesh.joints)


def plate(**more):
    return panel("plate", PLATE, tool=DOWN, **more)
