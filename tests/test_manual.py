"""The manual: every command and option is in docs/commands.md, and what the README promises is there."""

import re
from pathlib import Path

import pytest
import typer

from estimator.cli import app

ROOT = Path(__file__).resolve().parent.parent
MANUAL = (ROOT / "docs" / "commands.md").read_text(encoding="utf-8")
CAPTURE_CODES = (
    *("overexposed", "underexposed", "motion_blur", "card_covered", "too_small", "no_card", "other_card"),
    *("mirrored", "glare", "mixed_light", "gradient", "wet", "unreadable"),
)


def commands_of(whole, name: str = "") -> dict[str, object]:
    """Every command by its whole name, however deep the groups."""
    if not hasattr(whole, "commands"):
        return {name: whole}
    found = {}
    for inner, command in whole.commands.items():
        found |= commands_of(command, f"{name} {inner}".strip())
    return found


COMMANDS = commands_of(typer.main.get_command(app))


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_command_and_all_its_options_are_in_the_manual(name):
    chapter = re.search(rf"^## tressmeter {name}\n(.*?)(?=^## |\Z)", MANUAL, re.MULTILINE | re.DOTALL)
    assert chapter, f"docs/commands.md has no chapter on {name}"
    for parameter in COMMANDS[name].params:
        for option in parameter.opts:
            if option.startswith("--"):
                assert option in chapter.group(1), f"{name} {option} is not in the manual"


def test_manual_describes_no_command_that_is_not_there():
    assert set(re.findall(r"^## tressmeter (.+)$", MANUAL, re.MULTILINE)) == set(COMMANDS)


def test_links_of_the_readme_lead_somewhere():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#]+)\)", readme):
        assert (ROOT / target).exists(), target


def test_every_finding_that_the_interface_promises_is_in_the_manual():
    assert all(code in MANUAL for code in CAPTURE_CODES)
