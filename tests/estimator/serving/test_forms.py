"""The plain pages before the page itself, as a browser's own reader of HTML sees them."""

from html.parser import HTMLParser

import pytest

from estimator.access import phones
from tests.estimator.serving.asking import Browser


class Fields(HTMLParser):
    """Every field of a page, and whether any script stands in it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.fields: list[dict[str, str | None]] = []
        self.scripts: list[str] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "input":
            self.fields.append(dict(attrs))
        if tag == "script" or any(name.startswith("on") for name, _ in attrs):
            self.scripts.append(tag)

    def handle_data(self, data: str) -> None:
        self.text += data


def pages(salon):
    phone = salon.paired()
    code = phones.offer_pairing(salon.database)
    return {path: phone.get(path).body.decode() for path in ("/unlock", "/pin", "/lock", f"/pair/{code}")}


def test_pin_fields_are_masked_and_take_a_paste(salon):
    # OWASP ASVS 5.0.0, 6.2.6 and 6.2.7
    for path in ("/unlock", "/pin"):
        asked = [field for field in Fields(pages(salon)[path]).fields if field["name"] in ("pin", "new", "again")]
        assert asked
        for field in asked:
            assert field["type"] == "password"
            assert not {"onpaste", "readonly"} & set(field)


def test_no_form_asks_for_a_hint(salon):
    # OWASP ASVS 5.0.0, 6.4.2
    known = {"person", "pin", "new", "again", "next", "label"}
    for html in pages(salon).values():
        assert {field["name"] for field in Fields(html).fields} <= known


def test_no_plain_page_holds_a_script(salon):
    assert not any(Fields(html).scripts for html in pages(salon).values())


@pytest.mark.parametrize("path", ["/unlock", "/pin"])
def test_what_was_typed_as_a_pin_is_never_shown_again(salon, path):
    said = {"person": salon.owner.id, "pin": "905172", "new": "905172", "again": "905172"}
    assert b"905172" not in salon.paired().post(path, said).body


def test_everything_below_the_pairing_page_is_answered_at_the_door(salon):
    # The door lets it all pass; behind it the page library would answer with its first page, or lead elsewhere.
    browser = Browser(salon.app)
    for address in (
        "/pair/",
        "/pair/x/y",
        "/pair/media/0011aabb.jpg",
        "/pair/x/_stcore/health",
        "/pair//evil.example/",
    ):
        for method in ("GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"):
            answer = browser.ask(method, address, b"", {"origin": f"https://{browser.host}"})
            assert answer.status == 403, (method, address)
            assert answer.header("content-security-policy").startswith("default-src 'none'")
