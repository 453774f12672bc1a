"""Every public name says all that a reader needs, and has a page made from what it says."""

from __future__ import annotations

import re

import pytest
import reference_pages
from docs_pages import DOCS
from reference_pages import linked, missing_parts, page_of, pages

import fleetstats

FOLDER = DOCS / "reference"
LINK = re.compile(r"\]\(([^)#]+)(?:#([^)]+))?\)")


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    """Make all pages once."""
    return pages()


@pytest.mark.parametrize("name", fleetstats.__all__)
def test_a_public_name_says_arguments_returns_errors_source_and_example(name: str) -> None:
    assert list(missing_parts(name)) == []


def test_what_a_name_leaves_unsaid_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    def poisson_limits(count: float, level: float) -> float:
        """Return a limit.

        Parameters
        ----------
        count : float
            Events.
        """
        if count < 0:
            raise ValueError(count)
        return count * level

    monkeypatch.setattr(fleetstats, "poisson_limits", poisson_limits, raising=False)
    want = ["parameter level", "Examples", "Returns", "Raises", "Raises ValueError", "References"]
    assert list(missing_parts("poisson_limits")) == want


def test_the_pages_are_those_that_would_be_made(made: dict[str, str]) -> None:
    again = "run: python tests/docs_pages.py"
    assert {p.name for p in FOLDER.iterdir()} == set(made), again
    assert len({n.lower() for n in made}) == len(fleetstats.__all__) + 1
    for name, text in made.items():
        assert (FOLDER / name).read_text(encoding="utf-8") == text, f"{name}: {again}"


def test_links_of_the_pages_lead_somewhere(made: dict[str, str]) -> None:
    heads = {reference_pages.anchor(x) for x in re.findall(r"^## (.+)$", made["README.md"], re.M)}
    for name, text in made.items():
        for target, part in LINK.findall(text):
            assert (FOLDER / target).resolve().exists(), f"{name}: {target}"
            assert not part or (target == "README.md" and part in heads), f"{name}: #{part}"


def test_a_page_holds_each_part_of_its_docstring() -> None:
    page = page_of("estimate_product_limit")
    for head in ("Arguments", "Returns", "Errors", "Source", "Example"):
        assert f"\n## {head}\n" in page
    assert "### `StepCurve`" in page  # what it returns is told there: it has no page of its own
    assert "`limits_at(hours: ArrayLike)`" in page
    assert "### `Spells`" not in page_of("count_as")
    assert "\n## `Spells.of`\n" in page_of("Spells")
    assert "`FAILED`" in page_of("Event")
    assert "- `reliability`, `0.9`: " in page_of("Settings")


def test_names_lead_to_their_pages_and_code_stays_code() -> None:
    assert linked("see `band`") == "see [`fs.band`](band.md)"
    assert linked("see `Band`") == "see [`fs.Band`](type-band.md)"
    assert linked("see `band`", "band") == "see `band`"
    assert linked("``x = 1`` and `nothing`") == "`x = 1` and `nothing`"
