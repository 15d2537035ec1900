"""The colours as numbers: contrasts, and distances for people who see colours otherwise."""

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

import config

STATIC = Path(config.__file__).parent / "static"
CSS = (STATIC / "firstwarm.css").read_text()
TONES = ("ok", "stop", "ask", "wet", "set", "off")
SCHEMES = ("light", "dark")

# Machado, Oliveira, Fernandes, "A physiologically-based model for simulation of color vision
# deficiency", IEEE TVCG 15(6), 2009, severity 1.0, on linear RGB (table from memory).
VISION = {
    "normal": np.eye(3),
    "protan": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deutan": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritan": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
# IEC 61966-2-1 (sRGB), D65.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])


def tokens(scheme: str) -> dict[str, str]:
    block = CSS[CSS.index(":root {") : CSS.index("--t-1")]
    found = {}
    for name, light, dark in re.findall(r"--([\w-]+): light-dark\((#\w{6}), (#\w{6})\)", block):
        found[name] = light if scheme == "light" else dark
    found |= dict(re.findall(r"--([\w-]+): (#\w{6});", block))
    found["off"] = found["ink"]
    return found


def linear(hexed: str) -> np.ndarray:
    rgb = np.array([int(hexed[at : at + 2], 16) for at in (1, 3, 5)]) / 255
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, contrast ratio and relative luminance."""
    low, high = sorted(float(TO_XYZ[1] @ linear(hexed)) for hexed in (one, other))
    return (high + 0.05) / (low + 0.05)


def lab(hexed: str, vision: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* of a colour as somebody with this vision sees it."""
    xyz = TO_XYZ @ np.clip(vision @ linear(hexed), 0, 1) / (TO_XYZ @ np.ones(3))
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(xyz), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def ciede2000(one: np.ndarray, other: np.ndarray) -> float:
    """CIE 142-2001, after Sharma, Wu, Dalal, Color Res. Appl. 30(1), 2005, kL = kC = kH = 1."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    mean_c = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2
    g = 0.5 * (1 - np.sqrt(mean_c**7 / (mean_c**7 + 25.0**7)))
    a1, a2 = a1 * (1 + g), a2 * (1 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    turn = (h2 - h1 + 180) % 360 - 180 if c1 * c2 else 0.0
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn / 2))
    lm, cm = (l1 + l2) / 2, (c1 + c2) / 2
    hm = (h1 + turn / 2) % 360 if c1 * c2 else h1 + h2
    t = (
        1
        - 0.17 * np.cos(np.radians(hm - 30))
        + 0.24 * np.cos(np.radians(2 * hm))
        + 0.32 * np.cos(np.radians(3 * hm + 6))
        - 0.20 * np.cos(np.radians(4 * hm - 63))
    )
    sl = 1 + 0.015 * (lm - 50) ** 2 / np.sqrt(20 + (lm - 50) ** 2)
    sc, sh = 1 + 0.045 * cm, 1 + 0.015 * cm * t
    rt = (
        -2
        * np.sqrt(cm**7 / (cm**7 + 25.0**7))
        * np.sin(np.radians(60 * np.exp(-(((hm - 275) / 25) ** 2))))
    )
    return float(
        np.sqrt((dl / sl) ** 2 + (dc / sc) ** 2 + (dh / sh) ** 2 + rt * (dc / sc) * (dh / sh))
    )


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        # Pairs 1, 7 and 17 of the test data of Sharma, Wu, Dalal 2005, table 1 (from memory).
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, 0.0, 0.0), (50.0, -1.0, 2.0), 2.3669),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
    ],
)
def test_the_distance_is_that_of_the_published_pairs(one, other, expected):
    assert ciede2000(np.array(one), np.array(other)) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("vision", VISION)
def test_any_two_tones_differ_for_everybody(scheme, vision):
    colours = {tone: lab(tokens(scheme)[tone], VISION[vision]) for tone in TONES}
    distances = {
        (one, other): ciede2000(colours[one], colours[other])
        for one, other in combinations(TONES, 2)
    }
    closest = min(distances, key=distances.__getitem__)
    assert distances[closest] >= 15, (closest, distances[closest])


@pytest.mark.parametrize("scheme", SCHEMES)
def test_words_can_be_read_on_every_ground(scheme):
    """WCAG 2.2, 1.4.6 for ink, 1.4.3 for secondary words."""
    colour = tokens(scheme)
    grounds = ["paper", "sheet", *(f"{tone}-tint" for tone in TONES)]
    for ground in grounds:
        assert contrast(colour["ink"], colour[ground]) >= 7, ground
        assert contrast(colour["ink-2"], colour[ground]) >= 4.5, ground
    assert contrast(colour["sign-ink"], colour["sign"]) >= 7


@pytest.mark.parametrize("scheme", SCHEMES)
def test_marks_and_borders_can_be_seen(scheme):
    """WCAG 2.2, 1.4.11: what carries a meaning has 3:1 to what is beside it."""
    colour = tokens(scheme)
    for tone in TONES:
        for ground in ("paper", "sheet", f"{tone}-tint"):
            assert contrast(colour[tone], colour[ground]) >= 3, (tone, ground)
    for ground in ("paper", "sheet"):
        assert contrast(colour["edge"], colour[ground]) >= 3, ground


def test_colours_are_named_in_one_place():
    after = CSS[CSS.index("@layer base {") :]
    assert re.findall(r"#[0-9A-Fa-f]{3,8}\b", after) == []


def test_the_stylesheet_stays_small():
    assert len(CSS.encode()) < 20_000


def test_nothing_is_placed_by_left_and_right():
    """Logical properties only, so that a language may run the other way."""
    assert re.findall(r"[\s;{](?:margin|padding|border)-(?:left|right|top|bottom)\b", CSS) == []
