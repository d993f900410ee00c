"""The cut that holds the gap wanted, held against a boolean kernel's solid and shapely's distances (DESIGN 5, 6).

Our own inputs are drawn; whether the gap is there after the cut is decided by manifold3d, trimesh and shapely alone.
"""

from functools import cache

import numpy as np
import pytest
import shapely
import trimesh
from demo import demo_job

from geartrack.assembly import WEIGHED, assemble, many
from geartrack.export.solids import solids
from geartrack.gearset.teeth import one_pair
from geartrack.relief.relieved import relieved
from geartrack.spread import Sampling, placed_by_draws
from geartrack.study import check
from geartrack.study.check import plan

DRAWS, LOOKED_AT, APART_MM = Sampling(2048, 7), 160, 0.15
JOBS = ("grind", "steps/3-old-gears-gap-read")


class Shop:
    """A job with its answer and the draws behind it."""

    def __init__(self, name):
        self.job = demo_job(name)
        self.answer = check(self.job, DRAWS)
        chosen = plan(self.job, one_pair(self.job.gears.teeth), self.job.axle.hand)
        self.plan, self.found = placed_by_draws(chosen, DRAWS)
        self.now = assemble(self.plan)
        rows = np.random.default_rng(3).choice(DRAWS.count, LOOKED_AT, p=self.found.weights / self.found.weights.sum())
        values = {each: drawn[rows] for each, drawn in self.found.values.items()}
        self.values = values
        self.many = many(self.plan, values, LOOKED_AT)

    @cache  # noqa: B019
    def gaps_after(self, clearance_mm):
        """(n,) [mm]: least distance of the relieved boss's surface, seen at close points, from each drawn ring."""
        vertices, triangles = relieved(self.now.boss, self.now.section, clearance_mm)
        near = trimesh.Trimesh(vertices, triangles, process=False)
        r = np.hypot(*near.triangles_center[:, :2].T)
        ring = shapely.Polygon(self.now.section.points)
        off = shapely.distance(ring, shapely.points(r, near.triangles_center[:, 2]))
        near.update_faces((off < clearance_mm + 2) | (near.area_faces > 1))
        points, _ = trimesh.remesh.subdivide_to_size(near.vertices, near.faces, APART_MM * 4, max_iter=12)
        seen = shapely.distance(ring, shapely.points(np.hypot(*points[:, :2].T), points[:, 2])) < clearance_mm + 1.2
        points, closer = points[seen], self.many.of("case.outside_size") + self.many.of("boss.readings")
        gaps = []
        for corners, shift, less in zip(
            self.many.sections(self.values.get(WEIGHED)), self.many.shifts(), closer, strict=True
        ):
            x, y, z = (points + shift).T
            gaps.append(shapely.distance(shapely.Polygon(corners), shapely.points(np.hypot(x, y), z)).min() - less)
        return np.array(gaps)


@pytest.fixture(scope="module", params=JOBS)
def shop(request):
    return Shop(request.param)


def held(gaps, target_mm):
    return float((gaps >= target_mm - 0.002).mean())


def test_the_cut_to_hold_the_gap_holds_it_in_97_of_100(shop):
    """0.975 of 160 is 156; 149 or fewer come up once in 2,500 such tests (binomial)."""
    gaps = shop.gaps_after(shop.answer.cuts.hold.clearance_mm)
    assert held(gaps, shop.answer.target_mm) >= 149 / LOOKED_AT


def test_a_cut_for_the_range_as_cast_alone_would_not(shop):
    """The gap as cast is one place's; after the cut the whole face counts, so this margin is too small."""
    cast = shop.answer.target_mm + shop.answer.gap.nominal_mm - shop.answer.band.low
    grown = shop.answer.cuts.nominal.clearance_mm - shop.answer.target_mm
    assert held(shop.gaps_after(cast + grown), shop.answer.target_mm) < 0.93


def test_what_the_gap_should_read_after_the_cut_as_calculated(shop):
    after = shop.answer.band.after
    gaps = shop.gaps_after(shop.answer.cuts.nominal.clearance_mm)
    within = (gaps >= after.low - 0.002) & (gaps <= after.high + 0.002)
    assert within.mean() >= 0.89  # 95 of 100: 142 of 160 or fewer come up once in 1,500


def test_past_the_cut_the_gap_rises_as_the_clearance_does(shop):
    nominal, hold = shop.answer.cuts.nominal.clearance_mm, shop.answer.cuts.hold.clearance_mm
    rise = shop.gaps_after(hold) - shop.gaps_after(nominal)
    assert np.percentile(np.abs(rise - (hold - nominal)), 90) < 0.02 + 0.05 * (hold - nominal)


def test_the_mesh_is_the_exported_solid(shop):
    """The boss as relieved that is exported for the same clearance has the same volume, by trimesh."""
    exported = next(each for each in solids(shop.answer).bodies if "relieved" in each.name)
    vertices, triangles = relieved(shop.now.boss, shop.now.section, shop.answer.cuts.nominal.clearance_mm)
    ours, theirs = (
        trimesh.Trimesh(*each, process=False).volume
        for each in ((vertices, triangles), (exported.vertices, exported.triangles))
    )
    assert ours == pytest.approx(theirs, abs=0.02)


def test_nothing_is_cut_where_it_clears():
    answer = check(demo_job("clears"), DRAWS)
    assert answer.band.after is None
    assert answer.cuts.hold.volume_mm3 == 0


def test_the_straight_sum_is_worked_with_the_cut_made_too():
    drawn, summed = check(demo_job("grind"), DRAWS), check(demo_job("grind"))
    assert summed.band.margin > drawn.band.margin
    assert summed.band.after.low < drawn.band.after.low < drawn.band.after.high < summed.band.after.high
