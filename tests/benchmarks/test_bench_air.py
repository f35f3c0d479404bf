"""How long the air walk and the pressure waves take."""

import numpy as np

from hydrokit.works import falling, filling, venting
from hydrokit.works.pipe import Line, Pipe
from hydrokit.works.transient import water_hammer


def twenty_high_points():
    """Twenty dips on 4 km; the pond carries the water over some of them only."""
    levels = [1000.0]
    for _ in range(20):
        levels += [levels[-1] - 25.0, levels[-1] - 8.0]
    levels += [levels[-1] - 30.0]
    chainage = np.arange(len(levels)) * 100.0
    return falling.falling_line.si(
        chainage, np.array(levels), 0.15, 1e-5, 1001.0, levels[-1] + 1.0, along_slope=True
    )


def test_air_walk_of_twenty_high_points(benchmark):
    """Bar: 50 ms, stall, needed pond and all vents included."""
    walked = benchmark(lambda: filling.filling(twenty_high_points()))
    assert len(walked.pockets) == 20 and not walked.starts and walked.vents_m
    assert benchmark.stats["median"] < 0.05


def test_flow_with_twenty_pockets(benchmark):
    line = twenty_high_points()
    raised = falling.FallingLine(
        line.profile,
        line.line,
        filling.filling(line).source_needed_m + 20.0,
        crest_level_m=line.crest_level_m,
    )
    run = benchmark(lambda: filling.flow_with_pockets(raised))
    assert 0 < run.flow_m3s < run.full_bore_m3s


def test_throttle_of_twenty_high_points(benchmark):
    line = twenty_high_points()
    assert benchmark(lambda: venting.throttle(line)).flow_m3s > 0


def test_waves_on_one_kilometre(benchmark):
    """Bar: 1 km, 100 reaches, 60 s of 10 ms in under 2 s."""
    line = Line((Pipe(0.15, 1000.0, 1e-5),))
    result = benchmark.pedantic(
        lambda: water_hammer.si(line, 1000.0, 0.015, 120.0, [0.0, 8.0], [1.0, 0.0], 60.0), rounds=3
    )
    assert result.time_s.size == 6001 and result.chainage_m.size == 101
    assert benchmark.stats["median"] < 2.0
