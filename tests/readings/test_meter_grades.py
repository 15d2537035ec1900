"""How often three grades of meter catch a damaged element, and refuse a sound one.

A simulation of our own, not a standard. Sound elements spread about their tag with 1.5 % and lie
inside its limits. Damaged ones have a part of their wire bridged, so that their ohms lie up to 40 %
of the tag below the lower limit. A meter errs anywhere within its limits of error. The report
beside this file is what the simulation says; write it anew with

    python -m tests.readings.test_meter_grades
"""

from collections import Counter
from pathlib import Path
from random import Random

from readings.element import Tag, judge_element
from readings.instruments import Range

REPORT = Path(__file__).with_name("meter_grades.txt")
TRIALS = 1_000
TAGS = (12.0, 48.0, 98.0)
GRADES = {
    "coarse ±(2 % + 5), 1 Ω": Range(2_000, 1, 2.0, 5),
    "usual  ±(0.8 % + 3), 0.1 Ω": Range(200, 0.1, 0.8, 3),
    "fine   ±(0.1 % + 2), 0.01 Ω": Range(200, 0.01, 0.1, 2),
}


def sound(random: Random, tag: Tag) -> float:
    while True:
        ohms = random.gauss(tag.ohms, 0.015 * tag.ohms)
        if (1 - tag.below) * tag.ohms <= ohms <= (1 + tag.above) * tag.ohms:
            return ohms


def damaged(random: Random, tag: Tag) -> float:
    return tag.ohms * (1 - tag.below - random.uniform(0, 0.4))


def read(random: Random, meter: Range, true: float) -> float:
    half = meter.half_width_ohms(true)
    shown = true + random.uniform(-half, half)
    return round(max(shown, 0.0) / meter.resolution_ohms) * meter.resolution_ohms


def outcomes(tag_ohms: float, meter: Range, draw) -> Counter[str]:
    random, tag = (
        Random(f"{tag_ohms}/{meter}/{draw.__name__}"),
        Tag(ohms=tag_ohms, below=0.05, above=0.1),
    )
    return Counter(
        judge_element(
            tag, ohms=read(random, meter, draw(random, tag)), meter=meter, celsius=20.0
        ).outcome
        for _ in range(TRIALS)
    )


def rows():
    for tag_ohms in TAGS:
        for name, meter in GRADES.items():
            yield (
                tag_ohms,
                name,
                outcomes(tag_ohms, meter, damaged),
                outcomes(tag_ohms, meter, sound),
            )


def report() -> str:
    lines = [
        "Of 1000 damaged elements: failed / undecided / passed.",
        "Of 1000 sound elements:   passed / undecided / failed.",
        "",
        f"{'tag':>6}  {'meter':<28}  {'damaged':>17}  {'sound':>17}",
    ]
    for tag_ohms, name, bad, good in rows():
        caught = f"{bad['fail']} / {bad['undecided']} / {bad['pass']}"
        kept = f"{good['pass']} / {good['undecided']} / {good['fail']}"
        lines.append(f"{tag_ohms:>4.0f} Ω  {name:<28}  {caught:>17}  {kept:>17}")
    return "\n".join(lines) + "\n"


def test_the_report_is_what_the_simulation_says():
    assert REPORT.read_text(encoding="utf-8") == report()


def test_no_grade_passes_a_damaged_element_or_fails_a_sound_one_more_than_one_time_in_twenty():
    for tag_ohms, name, bad, good in rows():
        assert bad["pass"] <= TRIALS / 20, (tag_ohms, name)
        assert good["fail"] <= TRIALS / 20, (tag_ohms, name)


def test_a_finer_meter_decides_more():
    for tag_ohms in TAGS:
        open_ = [outcomes(tag_ohms, meter, sound)["undecided"] for meter in GRADES.values()]
        assert open_ == sorted(open_, reverse=True), tag_ohms


if __name__ == "__main__":
    REPORT.write_text(report(), encoding="utf-8")
