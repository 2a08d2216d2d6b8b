"""Names are shown as they were typed, and do nothing."""

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimator.pages.escaping import in_html, in_markdown

HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "![x](http://example.org/a.png)",
    "[a](javascript:alert(1))",
    "$x^2$",
    ":material/home:",
    ":red[crown]",
    "**nape**",
    "# big",
    "`code`",
    "&lt;b&gt;",
    "http://example.org",
)


@pytest.mark.parametrize("name", HOSTILE)
def test_no_tag_and_no_entity_survives_in_html(name: str) -> None:
    shown = in_html(name)
    assert "<" not in shown
    assert not re.search(r"&(?!amp;|lt;|gt;|quot;|#x27;)", shown)


@pytest.mark.parametrize("name", HOSTILE)
def test_no_mark_stands_unescaped_in_a_label(name: str) -> None:
    shown = in_markdown(name)
    assert not re.search(r"(?<!\\)[`*_\[\]<>#$!]", shown)
    assert not re.search(r":(?=[A-Za-z/])", shown)


@pytest.mark.slow
@settings(derandomize=True, max_examples=40)
@given(st.text(alphabet=st.characters(categories=("L", "N", "P", "S")), max_size=30))
def test_a_label_reads_as_it_was_typed(name: str) -> None:
    unmarked = re.sub(r"\\(.)", r"\1", in_markdown(name)).replace("\u2060", "")
    assert unmarked == " ".join(name.split()).replace("\u2060", "")
