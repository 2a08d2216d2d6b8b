"""Headers: what every answer tells the browser, checked against what the standards say."""

import base64
import hashlib

from estimator.serving.headers import inline_hashes
from tests.estimator.serving.asking import Browser


def policy_of(answer) -> dict[str, list[str]]:
    parts = (part.split() for part in answer.header("content-security-policy").split(";") if part.strip())
    return {part[0]: part[1:] for part in parts}


def test_every_answer_carries_the_headers_whatever_it_answers(salon):
    unlocked, stranger = salon.unlocked(), Browser(salon.app)
    for answer in (
        unlocked.get("/"),
        stranger.get("/"),
        stranger.get("/pair/x"),
        Browser(salon.app, host="evil").get("/"),
    ):
        assert answer.header("x-content-type-options") == "nosniff"
        assert answer.header("x-frame-options") in ("SAMEORIGIN", "DENY")
        assert answer.header("referrer-policy") == "same-origin"
        assert answer.header("cross-origin-opener-policy") == "same-origin"
        assert answer.header("cache-control") == "no-store"
        assert policy_of(answer)
        assert "server" not in dict(answer.headers)


def test_the_pages_policy_lets_nothing_in_from_elsewhere(salon):
    policy = policy_of(salon.unlocked().get("/"))
    assert policy["default-src"] == ["'self'"]
    assert policy["object-src"] == ["'none'"]
    assert policy["connect-src"] == ["'self'"]
    # CSP level 3: neither word may stand where scripts come from, or any text could become one.
    assert not {"'unsafe-inline'", "'unsafe-eval'", "*", "https:", "data:"} & set(policy["script-src"])
    assert not any("://" in word or word in ("*", "https:", "http:") for words in policy.values() for word in words)


def test_the_lock_screen_runs_no_script_at_all(salon):
    policy = policy_of(salon.paired().get("/unlock"))
    assert policy["default-src"] == ["'none'"]
    assert "script-src" not in policy
    assert policy["frame-ancestors"] == ["'none'"]


def test_the_libraries_own_files_may_be_kept_by_the_browser_and_pictures_may_not(salon):
    browser = salon.unlocked()
    assert browser.get("/static/js/index.js").header("cache-control") == ""
    assert browser.get("/media/0011.jpg").header("cache-control") == "no-store"


def test_a_hash_of_an_inline_script_is_the_one_that_browsers_compute():
    # CSP level 3, 8.4 example (from memory): the script alert('Hello, world.'); has this hash.
    html = "<script src='a.js'></script><script>alert('Hello, world.');</script>"
    assert inline_hashes(html) == ("qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng=",)
    assert inline_hashes("<p>no script</p>") == ()
    assert base64.b64encode(hashlib.sha256(b"alert('Hello, world.');").digest()).decode() == inline_hashes(html)[0]
