"""A name can't steer the terminal that it is printed on, and one that the terminal can't show ends nothing."""

import io
import os
import pty
import subprocess
import sys
from pathlib import Path

import pytest

from estimator import cli
from estimator.terminal import REPLACED, guarded_terminal, seen_only
from tests.privacy.hostile_texts import hostile_texts

ROOT = Path(__file__).parents[2]
BOLD, PLAIN = "\x1b[1m", "\x1b[0m"  # ECMA-48, 8.3.117: SGR
# ECMA-48: cursor up (CUU), erase in display (ED), operating system command (OSC), device control string (DCS).
HIDING = ("\x1b[8m", "\x1b[1;8;31m")  # ECMA-48: SGR 8, concealed
CONTROLS = (*HIDING, "\x1b[1A", "\x1b[2J", "\x1b]0;title\x07", "\x1bP0|\x1b\\", "\x9b1A", "\x08", "\u202egnp", "\x7f")


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("text", CONTROLS)
def test_what_steers_is_made_visible(text):
    shown = seen_only(f"a{text}b")
    assert shown.startswith(f"a{REPLACED}")
    assert not set(shown) & set("\x1b\x07\x08\x7f\x9b\u202e")


def test_bold_lines_and_every_other_letter_stay():
    text = f"{BOLD}Level{PLAIN}\t7.4\r\nß é 日本 \U0001f600"
    assert seen_only(text) == text


@pytest.mark.parametrize("text", hostile_texts())
def test_only_a_terminal_gets_it_so_and_a_file_gets_every_letter(text, monkeypatch):
    for stream, wanted in ((Terminal(), seen_only(text)), (io.StringIO(), text)):
        monkeypatch.setattr(sys, "stdout", stream)
        with guarded_terminal():
            print(text, end="")
        assert stream.getvalue() == wanted
    assert "\x1b" not in seen_only(text).replace("\x1b[31m", "")  # red is all that a name can do


@pytest.mark.slow
def test_a_file_name_that_is_no_text_is_told_in_a_sentence(tmp_path):
    name = os.fsencode(tmp_path) + b"/no\xff\xfetext.jpg"
    Path(os.fsdecode(name)).write_bytes(b"no photograph")
    ran = subprocess.run([sys.executable, "-m", "estimator", "correct", name], cwd=ROOT, capture_output=True)
    assert ran.returncode == 1
    told = (ran.stdout + ran.stderr).decode("utf-8")
    assert "failed in a way it should not" not in told
    assert "unreadable" in told


@pytest.mark.slow
def test_a_real_terminal_sees_no_steering_from_the_command_line():
    leader, follower = pty.openpty()
    words = ["read", "\x1b]0;evil\x07\x1b[2Jnowhere.jpg"]
    command = [sys.executable, "-m", "estimator", *words]
    ran = subprocess.run(command, cwd=ROOT, stdout=follower, stderr=follower, stdin=follower)
    os.close(follower)
    told = os.read(leader, 10_000).decode("utf-8")
    os.close(leader)
    assert ran.returncode == 1
    assert "no photograph" in told
    assert "\x1b]" not in told
    assert "\x1b[2J" not in told


def test_the_command_prints_through_the_guard(monkeypatch):
    terminal = Terminal()
    monkeypatch.setattr(sys, "stderr", terminal)
    monkeypatch.setattr(sys, "argv", ["tressmeter", "read", "\x1b[2Jnowhere.jpg"])
    with pytest.raises(SystemExit):
        cli.main()
    assert "nowhere.jpg" in terminal.getvalue()
    assert "\x1b[2J" not in terminal.getvalue()
