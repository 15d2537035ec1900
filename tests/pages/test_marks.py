"""Marks: each is drawn once, and never stands alone."""

import re
from pathlib import Path

import pytest
from django.template import Context, Template
from django.template.loader import render_to_string

import config
from config.marks import MARKS

ROOT = Path(config.__file__).parent.parent


@pytest.mark.parametrize("name", MARKS)
def test_each_mark_is_drawn_in_its_own_way(name):
    drawn = {other: render_to_string("parts/_mark.html", {"name": other}) for other in MARKS}
    assert re.search(r"<(path|circle)", drawn[name])
    assert [other for other in MARKS if drawn[other] == drawn[name]] == [name]


@pytest.mark.parametrize("name", MARKS)
def test_every_shape_without_a_fill_says_so(name):
    """Print and PDF makers do not take `fill` over from the page's stylesheet."""
    for shape in re.findall(
        r"<(?:path|circle)[^>]*>", render_to_string("parts/_mark.html", {"name": name})
    ):
        assert "fill=" in shape


def test_a_mark_stands_beside_its_word_and_is_silent():
    shown = Template("{% load look %}{% state 'undecided' %}").render(Context())
    assert "Undecided" in shown
    assert 'aria-hidden="true"' in shown
    assert 'class="state ask"' in shown


def test_alone_on_paper_it_has_a_title():
    shown = render_to_string("parts/_mark.html", {"name": "pass", "title": "It passes."})
    assert "<title>It passes.</title>" in shown
    assert "aria-hidden" not in shown


def templates() -> list[Path]:
    apps = ("config", "jobs", "readings", "scheduling")
    return sorted(path for app in apps for path in (ROOT / app / "templates").rglob("*.html"))


@pytest.mark.parametrize("path", templates(), ids=lambda path: str(path.relative_to(ROOT)))
def test_no_page_carries_styles_or_scripts_of_its_own(path):
    """The content security policy would drop them."""
    text = path.read_text()
    assert not re.search(r"\sstyle=|<style|\son\w+=|javascript:", text)
    assert not re.search(r"<script(?![^>]*\bsrc=)[^>]*>", text)
    assert not re.search(r"hx-on|hx-vals=.js:", text)
