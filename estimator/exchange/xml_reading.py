"""XML of strangers, read safely: bounded, without entities, without a network, without anything fetched."""

from typing import TYPE_CHECKING

from estimator.errors import BadInputError

if TYPE_CHECKING:
    from lxml.etree import _Element as Element

MOST_BYTES = 20_000_000
MOST_DEPTH = 60
MOST_ELEMENTS = 500_000


def parsed_xml(content: bytes, what: str) -> "Element":
    """The root of the document.

    Raises
    ------
    BadInputError : It is too large, declares entities or a document type, is nested too deeply, or is no XML.
    """
    from lxml import etree

    if len(content) > MOST_BYTES:
        raise BadInputError(f"The {what} has {len(content) / 1e6:.0f} MB; {MOST_BYTES / 1e6:.0f} MB are allowed.")
    parser = etree.XMLParser(
        resolve_entities=False, no_network=True, load_dtd=False, dtd_validation=False, huge_tree=False,
        remove_comments=True, remove_pis=True,
    )  # fmt: skip
    try:
        root = etree.fromstring(content, parser)
    except (etree.XMLSyntaxError, ValueError) as problem:
        # An expanded entity is refused here too, and so is anything deeper than the library's own bound.
        raise BadInputError(f"The {what} is no whole XML file. Export it again.") from problem
    if root.getroottree().docinfo.doctype or root.getroottree().docinfo.internalDTD is not None:
        raise BadInputError(f"The {what} declares a document type or entities, which it never needs. It is not read.")
    _check_shape(root, what)
    return root


def _check_shape(root: "Element", what: str) -> None:
    open_now, seen = [(root, 1)], 0
    while open_now:
        element, depth = open_now.pop()
        seen += 1
        if depth > MOST_DEPTH or seen > MOST_ELEMENTS:
            raise BadInputError(f"The {what} is nested too deeply or holds too many parts. Split it.")
        open_now.extend((child, depth + 1) for child in element)
