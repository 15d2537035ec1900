import json
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from readings.digest import Link, canonical, digest_of, first_broken

content = st.dictionaries(
    st.text(max_size=8),
    st.recursive(
        st.none()
        | st.booleans()
        | st.floats(allow_nan=False, allow_infinity=False)
        | st.integers(-(2**53), 2**53)
        | st.text(max_size=8),
        lambda inner: (
            st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3)
        ),
        max_leaves=8,
    ),
    max_size=5,
)


def chain(contents):
    links, previous = [], ""
    for at, one in enumerate(contents, start=1):
        text = canonical(one)
        links.append(Link(at, text, previous, digest_of(text, previous=previous)))
        previous = links[-1].digest
    return links


def test_the_digest_is_what_anybody_can_compute():
    """SHA-256 (FIPS 180-4) over the digest before, a line feed, and sorted JSON without spaces."""
    text = canonical({"b": 1, "a": [1.50, "Ω", True, None]})
    assert text == '{"a":[1.5,"Ω",true,null],"b":1}'
    assert digest_of(text, previous="f00") == sha256(b"f00\n" + text.encode()).hexdigest()


@given(content)
def test_the_order_of_names_is_no_matter_and_the_text_reads_back(one):
    text = canonical(one)
    assert canonical(dict(reversed(one.items()))) == text
    assert canonical(json.loads(text)) == text


@given(st.lists(content, max_size=6))
def test_a_chain_as_it_was_made_is_whole(contents):
    assert first_broken(chain(contents)) is None


@given(st.lists(content, min_size=1, max_size=6), content, st.data())
def test_any_changed_content_is_found_where_it_is(contents, other, data):
    links = chain(contents)
    at = data.draw(st.integers(0, len(links) - 1))
    if canonical(other) == links[at].content:
        return
    links[at] = links[at]._replace(content=canonical(other))
    broken = first_broken(links)
    assert (broken.sequence, broken.fault) == (at + 1, "changed")


@given(st.lists(content, min_size=2, max_size=6), st.data())
def test_a_link_that_is_gone_or_moved_is_found(contents, data):
    links = chain(contents)
    at = data.draw(st.integers(0, len(links) - 2))
    assert first_broken(links[:at] + links[at + 1 :]).sequence == at + 1
    swapped = list(links)
    swapped[at], swapped[at + 1] = swapped[at + 1], swapped[at]
    assert first_broken(swapped).sequence == at + 1


@given(st.lists(content, min_size=2, max_size=6), content, st.data())
def test_a_link_that_was_digested_anew_breaks_the_next_one(contents, other, data):
    links = chain(contents)
    at = data.draw(st.integers(0, len(links) - 2))
    text = canonical(other)
    if text == links[at].content:
        return
    previous = links[at].previous_digest
    links[at] = links[at]._replace(content=text, digest=digest_of(text, previous=previous))
    broken = first_broken(links)
    assert (broken.sequence, broken.fault) == (at + 2, "moved")


@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
def test_what_json_does_not_know_is_refused(wrong):
    with pytest.raises(ValueError, match="JSON"):
        canonical({"value": wrong})
