"""A ring over a lattice passes each of its nodes once, in steps of one."""

import numpy as np
import pytest

from jobs.laying.lattice import corners_of, rings_over


def shape_of(text):
    rows = [line for line in text.split() if line]
    return np.array([[cell == "#" for cell in row] for row in rows[::-1]]).T.copy()


SHAPES = {
    "rectangle": "\n".join(["########"] * 6),
    "odd": "\n".join(["#######"] * 5),
    "ell": "####....\n####....\n########\n########",
    "island": "########\n########\n###..###\n###..###\n########\n########",
    "passage": "####....####\n############\n############\n####....####",
    "stairs": "###.....\n#####...\n######..\n########",
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("parity", [0, 1])
@pytest.mark.parametrize("lean", [1, -1])
def test_a_ring_is_a_ring(name, parity, lean):
    inside = shape_of(SHAPES[name])
    way = rings_over(inside, parity=parity, lean=lean)[0]
    assert len({tuple(node) for node in way.tolist()}) == len(way)
    assert (np.abs(way - np.roll(way, 1, axis=0)).sum(axis=1) == 1).all()
    assert all(inside[x, y] for x, y in way)


@pytest.mark.parametrize("name", ["rectangle", "ell", "island", "passage"])
def test_where_two_rows_fit_everywhere_no_node_is_left(name):
    inside = shape_of(SHAPES[name])
    (way,) = rings_over(inside, parity=0, lean=1)
    assert len(way) == inside.sum()


def test_a_rectangle_is_laid_in_long_runs_with_one_return():
    inside = np.ones((20, 10), dtype=bool)
    (way,) = rings_over(inside, parity=0, lean=1)
    # five rings of two rows: two corners at each end of a run, none where they are joined
    assert corners_of(way) == 4 + 2 * 8


def test_no_ring_where_nothing_is_two_wide():
    assert rings_over(np.ones((9, 1), dtype=bool), parity=0, lean=1) == []


def test_rings_that_no_square_joins_stay_apart_if_asked():
    inside = shape_of("######.######\n######.######\n######.######\n######.######")
    apart = rings_over(inside, parity=0, lean=1, apart=True)
    assert [len(way) for way in apart] == [24, 24]
