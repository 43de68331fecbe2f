"""Hand-written CAD files: 3MF, DAE and STEP, each placing the same boxes in its own way."""

from __future__ import annotations

import zipfile
from collections.abc import Sequence
from itertools import product
from pathlib import Path

import numpy as np

from tests import specimens

Corner = tuple[float, float, float]


def indexed(triangles: specimens.Triangles) -> tuple[np.ndarray, np.ndarray]:
    """Corners (m, 3) and faces (n, 3) of triangles."""
    points, faces = np.unique(triangles.reshape(-1, 3), axis=0, return_inverse=True)
    return points, faces.reshape(-1, 3)


# --- 3MF ----------------------------------------------------------------------------------------


def mesh_3mf(triangles: specimens.Triangles) -> str:
    """The mesh element of a 3MF object."""
    points, faces = indexed(triangles)
    rows = "".join('<vertex x="{:.9g}" y="{:.9g}" z="{:.9g}"/>'.format(*p) for p in points)
    index = "".join('<triangle v1="{}" v2="{}" v3="{}"/>'.format(*f) for f in faces)
    return f"<mesh><vertices>{rows}</vertices><triangles>{index}</triangles></mesh>"


def model_3mf(resources: str, items: str, unit: str = "millimeter") -> str:
    """A 3MF model part."""
    return (
        '<?xml version="1.0"?><model unit="' + unit + '" xmlns='
        '"http://schemas.microsoft.com/3dmanufacturing/core/2015/02">'
        f"<resources>{resources}</resources><build>{items}</build></model>"
    )


def write_3mf(path: Path, model: str, **more: str) -> Path:
    """Pack a model, and other parts by name, into a 3MF."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("3D/3dmodel.model", model)
        for name, text in more.items():
            archive.writestr(f"3D/{name}.model", text)
    return path


# --- DAE ----------------------------------------------------------------------------------------


def dae(
    triangles: specimens.Triangles,
    nodes: str,
    unit: str = '<unit meter="0.01" name="centimeter"/>',
    up: str = "Z_UP",
    library: str = "",
) -> str:
    """A COLLADA text with one geometry `#room` and nodes that place it."""
    points, faces = indexed(triangles)
    floats = " ".join(f"{value:.9g}" for value in points.ravel())
    index = " ".join(f"{value} 0" for value in faces.ravel())
    return (
        '<?xml version="1.0"?><COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" '
        f'version="1.4.1"><asset>{unit}<up_axis>{up}</up_axis></asset>'
        '<library_geometries><geometry id="room"><mesh><source id="s">'
        f'<float_array id="f" count="{points.size}">{floats}</float_array><technique_common>'
        f'<accessor source="#f" count="{len(points)}" stride="3"/></technique_common></source>'
        '<vertices id="v"><input semantic="POSITION" source="#s"/></vertices>'
        f'<triangles count="{len(faces)}"><input semantic="VERTEX" source="#v" offset="0"/>'
        f'<input semantic="NORMAL" source="#n" offset="1"/><p>{index}</p></triangles>'
        f"</mesh></geometry></library_geometries>{library}<library_visual_scenes>"
        f'<visual_scene id="scene">{nodes}</visual_scene></library_visual_scenes>'
        '<scene><instance_visual_scene url="#scene"/></scene></COLLADA>'
    )


# --- STEP ---------------------------------------------------------------------------------------

UNITS = {
    "mm": "( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT(.MILLI.,.METRE.) )",
    "m": "( LENGTH_UNIT() NAMED_UNIT(*) SI_UNIT($,.METRE.) )",
}


class _Step:
    """Numbered lines of a STEP file (ISO 10303-21) after AP214."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def add(self, text: str) -> str:
        self.lines.append(f"#{len(self.lines) + 1}={text};")
        return f"#{len(self.lines)}"

    def point(self, at: Sequence[float]) -> str:
        return self.add("CARTESIAN_POINT('',({:.6f},{:.6f},{:.6f}))".format(*at))

    def way(self, along: Sequence[float]) -> str:
        return self.add("DIRECTION('',({:.6f},{:.6f},{:.6f}))".format(*along))

    def axes(
        self,
        at: Sequence[float] = (0, 0, 0),
        z: Sequence[float] = (0, 0, 1),
        x: Sequence[float] = (1, 0, 0),
    ) -> str:
        return self.add(f"AXIS2_PLACEMENT_3D('',{self.point(at)},{self.way(z)},{self.way(x)})")

    def face(
        self, vertices: dict[Corner, str], edges: dict[object, str], ring: list[Corner]
    ) -> str:
        """One flat face with its corners in order around the outward normal."""
        corners = np.array(ring)
        normal = np.cross(corners[1] - corners[0], corners[2] - corners[1])
        uses = []
        for start, end in zip(ring, ring[1:] + ring[:1], strict=True):
            forward = (start, end) not in edges and (end, start) not in edges
            if forward:
                span = np.subtract(end, start)
                vector = self.add(f"VECTOR('',{self.way(span / np.linalg.norm(span))},1.)")
                line = self.add(f"LINE('',{self.point(start)},{vector})")
                edges[start, end] = self.add(
                    f"EDGE_CURVE('',{vertices[start]},{vertices[end]},{line},.T.)"
                )
            own = (start, end) in edges
            edge = edges[start, end] if own else edges[end, start]
            uses.append(self.add(f"ORIENTED_EDGE('',*,*,{edge},{'.T.' if own else '.F.'})"))
        loop = self.add(f"EDGE_LOOP('',({','.join(uses)}))")
        bound = self.add(f"FACE_OUTER_BOUND('',{loop},.T.)")
        placed = self.axes(ring[0], normal / np.linalg.norm(normal), corners[1] - corners[0])
        plane = self.add(f"PLANE('',{placed})")
        return self.add(f"ADVANCED_FACE('',({bound}),{plane},.T.)")

    def box(self, low: Corner, high: Corner, *, sheet: bool) -> str:
        """A solid box, or only its lowest face as a sheet without thickness."""
        corner = {key: tuple((low, high)[bit][k] for k, bit in enumerate(key)) for key in
                  product((0, 1), repeat=3)}  # fmt: skip
        vertices = {at: self.add(f"VERTEX_POINT('',{self.point(at)})") for at in corner.values()}
        edges: dict[object, str] = {}
        rings = [
            [(0, 0, 0), (0, 1, 0), (1, 1, 0), (1, 0, 0)],
            [(0, 0, 1), (1, 0, 1), (1, 1, 1), (0, 1, 1)],
            [(0, 0, 0), (1, 0, 0), (1, 0, 1), (0, 0, 1)],
            [(0, 1, 0), (0, 1, 1), (1, 1, 1), (1, 1, 0)],
            [(0, 0, 0), (0, 0, 1), (0, 1, 1), (0, 1, 0)],
            [(1, 0, 0), (1, 1, 0), (1, 1, 1), (1, 0, 1)],
        ]
        faces = [
            self.face(vertices, edges, [corner[key] for key in ring])
            for ring in (rings[:1] if sheet else rings)
        ]
        if sheet:
            shell = self.add(f"OPEN_SHELL('',({','.join(faces)}))")
            return self.add(f"SHELL_BASED_SURFACE_MODEL('',({shell}))")
        shell = self.add(f"CLOSED_SHELL('',({','.join(faces)}))")
        return self.add(f"MANIFOLD_SOLID_BREP('box',{shell})")


def step(
    low: Corner,
    high: Corner,
    places: Sequence[tuple[Corner, Corner]] = (),
    unit: str = "mm",
    *,
    sheet: bool = False,
) -> str:
    """A STEP text with one box; `places` (where, x axis) make an assembly of it."""
    f = _Step()
    context = f.add("APPLICATION_CONTEXT('automotive design')")
    f.add(f"APPLICATION_PROTOCOL_DEFINITION('','automotive_design',2000,{context})")
    length = f.add(UNITS[unit])
    angle = f.add("( NAMED_UNIT(*) PLANE_ANGLE_UNIT() SI_UNIT($,.RADIAN.) )")
    solid = f.add("( NAMED_UNIT(*) SI_UNIT($,.STERADIAN.) SOLID_ANGLE_UNIT() )")
    close = f.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-6),{length},'','')")
    space = f.add(
        f"( GEOMETRIC_REPRESENTATION_CONTEXT(3) GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({close})) "
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid})) REPRESENTATION_CONTEXT('','') )"
    )

    def product_of(name: str) -> str:
        frame = f.add(f"PRODUCT_CONTEXT('',{context},'')")
        made = f.add(f"PRODUCT('{name}','{name}','',({frame}))")
        form = f.add(f"PRODUCT_DEFINITION_FORMATION('','',{made})")
        within = f.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{context},'design')")
        return f.add(f"PRODUCT_DEFINITION('design','',{form},{within})")

    kind = (
        "MANIFOLD_SURFACE_SHAPE_REPRESENTATION" if sheet else "ADVANCED_BREP_SHAPE_REPRESENTATION"
    )
    part, origin = product_of("part"), f.axes()
    body = f.box(low, high, sheet=sheet)
    shape = f.add(f"{kind}('',({origin},{body}),{space})")
    own = f.add(f"PRODUCT_DEFINITION_SHAPE('','',{part})")
    f.add(f"SHAPE_DEFINITION_REPRESENTATION({own},{shape})")
    if places:
        whole, ground = product_of("whole"), f.axes()
        spots = [f.axes(at, (0, 0, 1), x) for at, x in places]
        tree = f.add(f"SHAPE_REPRESENTATION('',({','.join([ground, *spots])}),{space})")
        own = f.add(f"PRODUCT_DEFINITION_SHAPE('','',{whole})")
        f.add(f"SHAPE_DEFINITION_REPRESENTATION({own},{tree})")
        for number, spot in enumerate(spots):
            used = f.add(f"NEXT_ASSEMBLY_USAGE_OCCURRENCE('{number}','part','',{whole},{part},$)")
            turn = f.add(f"ITEM_DEFINED_TRANSFORMATION('','',{origin},{spot})")
            link = f.add(
                f"( REPRESENTATION_RELATIONSHIP('','',{shape},{tree}) "
                f"REPRESENTATION_RELATIONSHIP_WITH_TRANSFORMATION({turn}) "
                "SHAPE_REPRESENTATION_RELATIONSHIP() )"
            )
            placed = f.add(f"PRODUCT_DEFINITION_SHAPE('','',{used})")
            f.add(f"CONTEXT_DEPENDENT_SHAPE_REPRESENTATION({link},{placed})")
    head = "FILE_DESCRIPTION((''),'2;1');FILE_NAME('','',(''),(''),'','','');"
    data = "\n".join(f.lines)
    return (
        f"ISO-10303-21;\nHEADER;\n{head}\nFILE_SCHEMA(('AUTOMOTIVE_DESIGN'));\nENDSEC;\n"
        f"DATA;\n{data}\nENDSEC;\nEND-ISO-10303-21;\n"
    )
