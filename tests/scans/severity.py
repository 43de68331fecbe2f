"""Severity of a scan. Numbers are invented after common experience with phones, no source."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Severity:
    """The errors of one scan; metres, radians, pixels.

    stated : accuracy its owner writes into the boat file
    white, slow : range noise per pixel and over patches of the image, at 0.9 m, one sigma
    smoothing : blur of the depth image [pixels, sigma]
    drift, turn : drift of the pose over the walk, one sigma at its end
    jump : shift of the last part of the walk against the rest (doubled walls)
    grazing : cosine of incidence below which returns are lost; lost: share lost anywhere
    glossy : patches that mirror or absorb; their radius is drawn up to `patch`
    frames, reach : pictures taken; share of the bay (from the hatch) the scanner gets into
    scale : one sigma of the scale error; bits: floating bits
    pick : one sigma of a point picked on the mesh, per axis
    """

    name: str
    stated: float
    white: float
    slow: float
    smoothing: float
    drift: float
    turn: float
    jump: float
    grazing: float
    lost: float
    glossy: int
    patch: float
    frames: int
    reach: float
    scale: float
    bits: int
    pick: float


LIGHT = Severity(
    name="light",
    stated=0.015,
    white=0.003,
    slow=0.002,
    smoothing=0.5,
    drift=0.003,
    turn=0.002,
    jump=0.0,
    grazing=0.08,
    lost=0.01,
    glossy=0,
    patch=0.0,
    frames=64,
    reach=1.0,
    scale=0.004,
    bits=3,
    pick=0.004,
)
MIDDLE = Severity(
    name="middle",
    stated=0.025,
    white=0.006,
    slow=0.004,
    smoothing=1.0,
    drift=0.007,
    turn=0.004,
    jump=0.010,
    grazing=0.15,
    lost=0.03,
    glossy=2,
    patch=0.12,
    frames=48,
    reach=0.8,
    scale=0.010,
    bits=12,
    pick=0.006,
)
HARSH = Severity(
    name="harsh",
    stated=0.045,
    white=0.010,
    slow=0.007,
    smoothing=1.8,
    drift=0.012,
    turn=0.008,
    jump=0.022,
    grazing=0.25,
    lost=0.06,
    glossy=4,
    patch=0.22,
    frames=30,
    reach=0.55,
    scale=0.018,
    bits=30,
    pick=0.009,
)
SEVERITIES = {row.name: row for row in (LIGHT, MIDDLE, HARSH)}
