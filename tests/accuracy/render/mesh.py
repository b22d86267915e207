"""Triangle meshes: turned parts, rods, rings, splines; exact solid arithmetic; rays. Lengths in mm."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import manifold3d as m3
import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Faces = npt.NDArray[np.int64]

SAME_HIT_MM = 1e-6
"""Two hits of a ray nearer to each other than this are one: the ray met an edge of two triangles."""


class Mesh:
    """A triangle mesh with one normal and one texture coordinate per corner of each face.

    Attributes
    ----------
    v, f
        Corners (n, 3), mm, and faces (m, 3), turning counter-clockwise seen from outside.
    n
        Normals per face corner, (m, 3, 3).
    uv
        Texture coordinates per face corner, (m, 3, 2): turns about the z axis, and z plus distance from it
        in mm.
    """

    def __init__(self, v: npt.ArrayLike, f: npt.ArrayLike, crease_deg: float = 28.0) -> None:
        self.v: Array = np.asarray(v, float)
        self.f: Faces = np.asarray(f, int)
        self.n = corner_normals(self.v, self.f, crease_deg)
        self.uv = axis_uv(self.v[self.f])

    def soup(self) -> tuple[Array, Array, Array]:
        """Return corners (3m, 3), normals (3m, 3) and texture coordinates (3m, 2), face by face."""
        return self.v[self.f].reshape(-1, 3), self.n.reshape(-1, 3), self.uv.reshape(-1, 2)


def corner_normals(v: Array, f: Faces, crease_deg: float) -> Array:
    """Return a normal per face corner (m, 3, 3): the mean over faces there within ``crease_deg``.

    Each face counts by its angle at the corner.
    """
    triangles = v[f]
    normals = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    unit = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-20)
    edges: Array = triangles[:, [1, 2, 0]] - triangles
    edges /= np.maximum(np.linalg.norm(edges, axis=2, keepdims=True), 1e-20)
    angles = np.arccos(np.clip(-(edges * edges[:, [2, 0, 1]]).sum(2), -1, 1))
    corner, other = _corners_at_one_vertex(f, len(v))
    own, face = corner // 3, other // 3
    weight = angles.reshape(-1)[other] * ((unit[own] * unit[face]).sum(1) > np.cos(np.radians(crease_deg)))
    mean: Array = np.stack([np.bincount(corner, weight * unit[face, i], f.size) for i in range(3)], 1)
    mean /= np.maximum(np.linalg.norm(mean, axis=1, keepdims=True), 1e-12)
    lost = np.abs(mean).sum(1) < 0.5
    mean[lost] = unit[np.arange(f.size) // 3][lost]
    return mean.reshape(-1, 3, 3)


def _corners_at_one_vertex(f: Faces, vertices: int) -> tuple[Faces, Faces]:
    """Return all pairs (corner, corner) that share a vertex; corners are numbered face by face."""
    vertex = f.reshape(-1)
    order = np.argsort(vertex, kind="stable")
    start = np.searchsorted(vertex[order], np.arange(vertices + 1))
    count = np.diff(start)[vertex]
    corner = np.repeat(np.arange(vertex.size), count)
    rank = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return corner, order[start[vertex[corner]] + rank]


def axis_uv(triangles: Array) -> Array:
    """Return texture coordinates (m, 3, 2) about the z axis, without a seam inside a triangle."""
    turns = np.arctan2(triangles[..., 1], triangles[..., 0]) / (2 * np.pi)
    turns = turns - np.round(turns - turns[:, :1])
    return np.stack([turns, triangles[..., 2] + np.hypot(triangles[..., 0], triangles[..., 1])], -1)


# ---------- solids ----------


def to_solid(v: Array, f: Faces) -> Any:
    """Return a closed mesh as a solid; raises ValueError where the mesh does not close."""
    solid = m3.Manifold(m3.Mesh(np.asarray(v, np.float32), np.asarray(f, np.uint32)))
    if solid.status() != m3.Error.NoError:
        raise ValueError(f"the mesh is no closed solid: {solid.status()}")
    return solid


def from_solid(solid: Any, crease_deg: float = 28.0) -> Mesh:
    """Return the mesh of a solid."""
    mesh = solid.to_mesh()
    return Mesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts), crease_deg)


def frame_to(point: npt.ArrayLike, along: npt.ArrayLike) -> Array:
    """Return the 4x4 that puts the origin at ``point`` and the z axis along ``along``."""
    u = np.asarray(along, float) / np.linalg.norm(along)
    helper = np.array([0, 0, 1.0]) if abs(u[2]) < 0.9 else np.array([1.0, 0, 0])
    x = np.cross(helper, u)
    x /= np.linalg.norm(x)
    frame = np.eye(4)
    frame[:3, 0], frame[:3, 1], frame[:3, 2], frame[:3, 3] = x, np.cross(u, x), u, point
    return frame


def rod(point: Array, along: Array, radius: float, *, start: float, end: float, facets: int = 64) -> Any:
    """Return a solid cylinder about the line ``point + t along``, from t = ``start`` to t = ``end``."""
    upright = m3.Manifold.cylinder(end - start, radius, radius, facets).translate((0, 0, start))
    return upright.transform(frame_to(point, along)[:3])


def box(size: Sequence[float], centred: bool = False) -> Any:
    """Return a solid box; its corner, or its centre, is the origin."""
    return m3.Manifold.cube(tuple(size), centred)


# ---------- turned parts ----------


def fillet(points: npt.ArrayLike, radius: npt.ArrayLike, steps: int = 8) -> Array:
    """Return a closed polygon (n, 2) with its corners rounded; ``radius`` is one for all or one each."""
    polygon = np.asarray(points, float)
    radii = np.broadcast_to(np.asarray(radius, float), (len(polygon),))
    out: list[Array] = []
    for i, corner in enumerate(polygon):
        out += _rounded(corner, polygon[i - 1], polygon[(i + 1) % len(polygon)], float(radii[i]), steps)
    return np.array(out)


def _rounded(corner: Array, before: Array, after: Array, radius: float, steps: int) -> list[Array]:
    a, b = before - corner, after - corner
    length_a, length_b = np.linalg.norm(a), np.linalg.norm(b)
    a, b = a / length_a, b / length_b
    half = np.arccos(np.clip(a @ b, -1, 1)) / 2
    if radius <= 0 or half > 1.54:
        return [corner]
    reach = float(min(radius / np.tan(half), 0.49 * length_a, 0.49 * length_b))
    fitting = reach * np.tan(half)
    centre = corner + (a + b) / np.linalg.norm(a + b) * fitting / np.sin(half)
    start, end = corner + a * reach - centre, corner + b * reach - centre
    angle = np.arccos(np.clip(start @ end / fitting / fitting, -1, 1))
    shares = np.arange(steps + 1) / steps
    return [
        centre + (np.sin((1 - share) * angle) * start + np.sin(share * angle) * end) / np.sin(angle)
        for share in shares
    ]


def lathe(
    profile: npt.ArrayLike,
    facets: int = 360,
    crease_deg: float = 24.0,
    v_span: tuple[float, float] | None = None,
) -> Mesh:
    """Return a closed profile of (z, r) turned about z.

    Parameters
    ----------
    profile
        Points (n, 2): z and distance from the axis, mm.
    v_span
        The z at which the second texture coordinate is 0 and 1; without it, it is that of `axis_uv`.
    """
    outline = np.asarray(profile, float)
    z, r = outline[:, 0], outline[:, 1]
    if np.sum(z * np.roll(r, -1) - np.roll(z, -1) * r) > 0:  # faces look outwards
        outline = outline[::-1]
    n, angle = len(outline), np.arange(facets) * 2 * np.pi / facets
    x, y = (outline[None, :, 1] * turn(angle)[:, None] for turn in (np.cos, np.sin))
    v = np.stack([x, y, np.broadcast_to(outline[None, :, 0], (facets, n))], -1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(facets), np.arange(n), indexing="ij")
    a, b = i * n + j, i * n + (j + 1) % n
    c, d = ((i + 1) % facets) * n + j, ((i + 1) % facets) * n + (j + 1) % n
    f = np.concatenate([np.stack([a, c, b], -1).reshape(-1, 3), np.stack([b, c, d], -1).reshape(-1, 3)])
    mesh = Mesh(v, f, crease_deg)
    if v_span:
        mesh.uv[..., 1] = (v[f][..., 2] - v_span[0]) / (v_span[1] - v_span[0])
    return mesh


def ring(z0: float, z1: float, outer: float, inner: float, rounding: float = 0.4) -> Mesh:
    """Return a ring about z with rounded outer edges; radii in mm."""
    corners = [(z0, inner), (z0, outer), (z1, outer), (z1, inner)]
    return lathe(fillet(corners, [0, rounding, rounding, min(rounding, 0.3)]))


def splined(
    z0: float,
    z1: float,
    *,
    outer: float,
    inner: float,
    depth: float,
    shares: Sequence[float],
    chamfer: float,
) -> Mesh:
    """Return a tube with grooves along it; ``shares`` is each groove's part of its pitch."""
    points: list[tuple[float, float]] = []
    teeth = len(shares)
    half = np.pi / teeth
    for k, share in enumerate(shares):
        points += _groove(2 * np.pi * k / teeth, half, half * share, outer, depth)
    section = m3.CrossSection([np.array(points)]) - m3.CrossSection.circle(inner, 128)
    body = m3.Manifold.extrude(section, z1 - z0).translate((0, 0, z0))
    c = chamfer
    hull = [(0, z0), (outer - c, z0), (outer + 0.1, z0 + c), (outer + 0.1, z1 - c), (outer - c, z1), (0, z1)]
    envelope = m3.Manifold.revolve(m3.CrossSection([np.array(hull)]), 256)
    return from_solid(body ^ envelope, crease_deg=25)


def _groove(
    middle: float, half: float, half_groove: float, outer: float, depth: float
) -> list[tuple[float, float]]:
    """Return a groove's outline and the land after it, in the plane."""
    floor, steps = outer - depth, 6
    shape = [
        (-half, outer),
        (-half_groove, outer),
        (-half_groove * 0.93, floor),
        (half_groove * 0.93, floor),
        (half_groove, outer),
    ]
    shape += [(half_groove + (half - half_groove) * i / steps, outer) for i in range(1, steps)]
    return [(r * np.cos(middle + angle), r * np.sin(middle + angle)) for angle, r in shape]


# ---------- rays ----------


def ray_hits(v: Array, f: Faces, start: npt.ArrayLike, along: npt.ArrayLike) -> Array:
    """Return the sorted signed distances at which the line ``start + t along`` meets a mesh.

    In double precision, after Moeller and Trumbore (1997), "Fast, minimum storage ray-triangle intersection".
    """
    u = np.asarray(along, float)
    triangles = v[f]
    e1, e2 = triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]
    s = np.asarray(start, float) - triangles[:, 0]
    h = np.cross(u, e2)
    det = (e1 * h).sum(1)
    with np.errstate(all="ignore"):
        a = (s * h).sum(1) / det
        q = np.cross(s, e1)
        b = (q @ u) / det
        t = (e2 * q).sum(1) / det
        inside = (np.abs(det) > 1e-14) & (a >= -1e-9) & (b >= -1e-9) & (a + b <= 1 + 1e-9)
    hits: Array = np.sort(t[inside])
    return hits[np.concatenate([[True], np.diff(hits) > SAME_HIT_MM])] if len(hits) else hits
