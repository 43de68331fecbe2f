"""No bound exceeds any feasible hose: planted curves, routed ones, and both directions.

The certificate is given the longer of two feasible hoses as the known one and must stay below the
shorter; in reverse, the problem is a different one for the certificate.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from fitcheck.geometry.curve import Curve, bent
from fitcheck.routing.lay.line import Routed, route_line
from fitcheck.routing.proof.certificate import Effort
from fitcheck.routing.proof.proof import prove_line
from fitcheck.routing.world.ports import Job
from tests.planted.problem import ready
from tests.planted.problems import single

ROUGH = Effort(cubes=2000, chains=100, rounds=1, share=0.97, retreats=1)


@pytest.mark.parametrize("seed", [103, 108, 111])
def test_no_bound_exceeds_a_feasible_hose(seed: int) -> None:
    made = ready(single(seed))
    job = made.jobs[0]
    routed = route_line(made.obstacles, job, ())
    assert isinstance(routed, Routed)
    planted = bent(made.problem.hoses[0].curve.corners, made.problem.hoses[0].radius)
    shortest = min(routed.curve.length, planted.length)
    longer = Routed(job=job, curve=planted, direct=False, holes=())
    bounds = [prove_line(made.obstacles, hose, ROUGH).bound for hose in (routed, longer)]
    bounds.append(prove_line(made.obstacles, turned(routed), ROUGH).bound)
    assert max(bounds) <= shortest
    assert min(bounds) >= np.linalg.norm(np.subtract(job.end.at, job.start.at))


def turned(routed: Routed) -> Routed:
    """The same hose from its end to its start."""
    job: Job = replace(routed.job, start=routed.job.end, end=routed.job.start)
    curve = routed.curve
    corners = corners_of(curve)[::-1]
    back = bent(np.ascontiguousarray(corners), curve.radius)
    return Routed(job=job, curve=back, direct=False, holes=())


def corners_of(curve: Curve) -> NDArray[np.float64]:
    """Both ends and the corner where the legs beside each bend meet."""
    middle = [
        centre + (start + end - 2 * centre) / (2 * np.cos(angle / 2) ** 2)
        for centre, start, end, angle in zip(
            curve.centre, curve.bend_start, curve.bend_end, curve.angle, strict=True
        )
    ]
    return np.array([curve.legs[0, 0], *middle, curve.legs[-1, 1]])
