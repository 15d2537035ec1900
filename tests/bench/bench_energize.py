"""How long an energize decision takes: `python -m tests.bench.bench_energize`."""

from __future__ import annotations

import statistics
import time
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from scheduling.cure import Arrhenius, Eurocode2, NurseSaul
from scheduling.energize import decide
from scheduling.floor import CuringMaterial, Facts, Layer
from scheduling.temperatures import TemperatureRecord, microseconds

PLACED_AT = datetime(2026, 1, 1, 8, tzinfo=UTC)
STEP_US = 300_000_000
YEAR = 365 * 288
BUDGET_MS = 50


def year_of_five_minutes(sources: int) -> TemperatureRecord:
    """A cold renovated house, with daily swing and noise, read every five minutes."""
    rng = np.random.default_rng(5)
    steps = np.arange(YEAR)
    at_us = np.repeat(microseconds(PLACED_AT) + steps * STEP_US, sources)
    celsius = 14 + 4 * np.sin(steps / 45.8) + rng.normal(0, 0.1, YEAR)
    return TemperatureRecord(
        at_us + np.tile(np.arange(sources) * 60_000_000, YEAR),
        np.repeat(celsius, sources).round(1),
        np.tile(np.arange(sources), YEAR),
        tuple(f"logger {number}" for number in range(sources)),
    )


def facts(record: TemperatureRecord, layers: int) -> Facts:
    laws = [Arrhenius(), Eurocode2(), NurseSaul()]
    return Facts(
        now=PLACED_AT + timedelta(days=365),
        zone=ZoneInfo("Europe/Oslo"),
        assume_c=5,
        max_gap_hours=6,
        layers=[
            Layer(
                id=f"layer {number}",
                placed_at=PLACED_AT,
                material=CuringMaterial(
                    name="mortar",
                    law=laws[number % 3],
                    lowest_c=5,
                    heat_after_hours=8_700,
                    frost_watch_hours=24,
                ),
            )
            for number in range(layers)
        ],
        temperatures=record,
        promises=(),
        evidence=(),
        required=(),
    )


def measure(label: str, given: Facts, repeats: int = 15) -> float:
    decide(given)
    times = []
    for _ in range(repeats):
        start = time.process_time()
        decide(given)
        times.append(1000 * (time.process_time() - start))
    middle = statistics.median(times)
    print(f"{label:48} median {middle:6.1f} ms, worst {max(times):6.1f} ms (process time)")
    return middle


if __name__ == "__main__":
    one = measure("a year of 5-minute readings, 1 layer", facts(year_of_five_minutes(1), 1))
    measure("a year of 5-minute readings, 3 layers", facts(year_of_five_minutes(1), 3))
    measure("two loggers, a year of 5 minutes each, 1 layer", facts(year_of_five_minutes(2), 1))
    print(f"budget {BUDGET_MS} ms: {'kept' if one < BUDGET_MS else 'missed'}")
