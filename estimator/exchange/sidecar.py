"""What travels beside a photograph that leaves, as XMP (ISO 16684-1): zones, consent, whether it was corrected.

Our own namespace only: the general schemas for regions know faces, pets, focus and bar codes, and no hair.
"""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from estimator.errors import BadInputError
from estimator.exchange.cxf import xml_words
from estimator.exchange.xml_reading import parsed_xml
from estimator.zones.outline import Setting, StrandPattern

if TYPE_CHECKING:
    from lxml.etree import _Element as Element

TM = "https://tressmeter.invalid/ns/1.0/"
RDF = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
META, XMP = "adobe:ns:meta/", "http://ns.adobe.com/xap/1.0/"
XML_LANG = "{http://www.w3.org/XML/1998/namespace}lang"
HEAD = b'<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'  # ISO 16684-1, 7.3.2
TAIL = b'\n<?xpacket end="w"?>'
MOST_ZONES, MOST_POINTS = 64, 200_000
Point = tuple[float, float]


class Pixels(StrEnum):
    """What the picture's pixels are."""

    AS_TAKEN = "as taken"
    CORRECTED = "corrected"


@dataclass(frozen=True)
class OutlinedZone:
    """One zone. outlines : x, y in pixels of the upright picture, from its upper left corner; empty where not kept."""

    name: str
    setting: Setting
    strand_pattern: StrandPattern | None = None
    outlines: tuple[tuple[Point, ...], ...] = ()


@dataclass(frozen=True)
class Sidecar:
    """What stands beside one picture; nothing of the person.

    photo_sha256 : Of the picture's file; "" where it is embedded. consent : Uses that the client agreed to.
    pixels, pipeline_version, method, held_out_de2000 : Whether colours were corrected, or how they were read; None and
        "" where nothing was.
    """

    photo_sha256: str
    width_px: int
    height_px: int
    program_version: str
    zones: tuple[OutlinedZone, ...] = ()
    consent: tuple[str, ...] = ()
    pixels: Pixels = Pixels.AS_TAKEN
    pipeline_version: int | None = None
    method: str = ""
    held_out_de2000: float | None = None
    demo: bool = False


def sidecar_xmp(told: Sidecar) -> bytes:
    """The side-car as an XMP packet in UTF-8."""
    from lxml import etree

    root = etree.Element(f"{{{META}}}xmpmeta", nsmap={"x": META})
    rdf = etree.SubElement(root, f"{{{RDF}}}RDF", nsmap={"rdf": RDF})
    about = etree.SubElement(rdf, f"{{{RDF}}}Description", nsmap={"tm": TM, "xmp": XMP})
    about.set(f"{{{RDF}}}about", "")
    etree.SubElement(about, f"{{{XMP}}}CreatorTool").text = f"Tressmeter {told.program_version}"
    for name, text in _simple(told):
        etree.SubElement(about, f"{{{TM}}}{name}").text = text
    if told.consent:
        bag = etree.SubElement(etree.SubElement(about, f"{{{TM}}}Consent"), f"{{{RDF}}}Bag")
        for scope in told.consent:
            etree.SubElement(bag, f"{{{RDF}}}li").text = xml_words(scope)
    if told.zones:
        zones = etree.SubElement(etree.SubElement(about, f"{{{TM}}}Zones"), f"{{{RDF}}}Seq")
        for zone in told.zones:
            _write_zone(zones, zone)
    body: bytes = etree.tostring(root, encoding="UTF-8", pretty_print=True)
    return HEAD + body + TAIL


def _simple(told: Sidecar) -> Iterator[tuple[str, str]]:
    yield "ProgramVersion", xml_words(told.program_version)
    if told.photo_sha256:
        yield "PhotoSha256", told.photo_sha256
    yield "WidthPx", str(told.width_px)
    yield "HeightPx", str(told.height_px)
    yield "Pixels", told.pixels.value
    if told.pipeline_version is not None:
        yield "PipelineVersion", str(told.pipeline_version)
    if told.method:
        yield "Method", xml_words(told.method)
    if told.held_out_de2000 is not None:
        yield "HeldOutDE2000", repr(told.held_out_de2000)
    yield "Demo", str(told.demo)  # ISO 16684-1, 8.2.1.1: True or False


def _write_zone(zones: "Element", zone: OutlinedZone) -> None:
    from lxml import etree

    one = etree.SubElement(zones, f"{{{RDF}}}li")
    one.set(f"{{{RDF}}}parseType", "Resource")
    etree.SubElement(one, f"{{{TM}}}Name").text = xml_words(zone.name)
    etree.SubElement(one, f"{{{TM}}}Setting").text = zone.setting.value
    if zone.strand_pattern is not None:
        etree.SubElement(one, f"{{{TM}}}StrandPattern").text = zone.strand_pattern.value
    if zone.outlines:
        outlines = etree.SubElement(etree.SubElement(one, f"{{{TM}}}Outlines"), f"{{{RDF}}}Seq")
        for outline in zone.outlines:
            points = " ".join(f"{x!r},{y!r}" for x, y in outline)
            etree.SubElement(outlines, f"{{{RDF}}}li").text = points


# --- and back


def sidecar_of_xmp(content: bytes) -> Sidecar:
    """The side-car that `sidecar_xmp` wrote. Raises BadInputError for anything else, naming what is wrong."""
    root = parsed_xml(content.strip(), "XMP file")
    about = next(
        (part for part in root.iter(f"{{{RDF}}}Description") if part.find(f"{{{TM}}}Pixels") is not None), None
    )
    if about is None:
        raise BadInputError(f"The XMP file says nothing in the namespace {TM}. It was written by another program.")
    said = _Said(about)
    zones = tuple(map(_zone, about.findall(f"{{{TM}}}Zones/{{{RDF}}}Seq/{{{RDF}}}li")))
    if len(zones) > MOST_ZONES or sum(len(o) for zone in zones for o in zone.outlines) > MOST_POINTS:
        raise BadInputError("The XMP file holds more zones or points than a photograph has.")
    pipeline, held_out = said.text("PipelineVersion"), said.text("HeldOutDE2000")
    return Sidecar(
        said.sha256(),
        said.whole("WidthPx"),
        said.whole("HeightPx"),
        said.text("ProgramVersion"),
        zones,
        tuple(part.text or "" for part in about.findall(f"{{{TM}}}Consent/{{{RDF}}}Bag/{{{RDF}}}li")),
        said.pixels(),
        said.whole("PipelineVersion") if pipeline else None,
        said.text("Method"),
        _number("HeldOutDE2000", held_out) if held_out else None,
        said.text("Demo") == "True",
    )


@dataclass(frozen=True)
class _Said:
    """Simple properties of the description."""

    about: "Element"

    def text(self, name: str) -> str:
        return str(self.about.findtext(f"{{{TM}}}{name}") or "")

    def whole(self, name: str) -> int:
        text = self.text(name)
        if not re.fullmatch(r"\d{1,6}", text):
            raise BadInputError(f"The XMP file says {name} {text[:40]!r}; a whole number is needed.")
        return int(text)

    def sha256(self) -> str:
        text = self.text("PhotoSha256")
        if text and not re.fullmatch(r"[0-9a-f]{64}", text):
            raise BadInputError("The XMP file's PhotoSha256 is no SHA-256. Write the side-car anew.")
        return text

    def pixels(self) -> Pixels:
        text = self.text("Pixels")
        if text not in tuple(Pixels):
            raise BadInputError(f"The XMP file says Pixels {text[:40]!r}; it is one of {', '.join(Pixels)}.")
        return Pixels(text)


def _zone(part: "Element") -> OutlinedZone:
    name, setting, strand = (part.findtext(f"{{{TM}}}{each}") or "" for each in ("Name", "Setting", "StrandPattern"))
    if not name or setting not in tuple(Setting) or (strand and strand not in tuple(StrandPattern)):
        raise BadInputError(f"A zone in the XMP file ({name[:40]!r}) lacks its name, or says what no zone is.")
    outlines = tuple(
        _outline(name, line.text or "") for line in part.findall(f"{{{TM}}}Outlines/{{{RDF}}}Seq/{{{RDF}}}li")
    )
    return OutlinedZone(name, Setting(setting), StrandPattern(strand) if strand else None, outlines)


def _outline(name: str, text: str) -> tuple[Point, ...]:
    points = []
    for pair in text.split():
        x, comma, y = pair.partition(",")
        if not comma:
            raise BadInputError(
                f"The outline of {name[:60]} in the XMP file is broken at {pair[:40]!r}. Write it anew."
            )
        points.append((_number(f"the outline of {name[:60]}", x), _number(f"the outline of {name[:60]}", y)))
    return tuple(points)


def _number(what: str, text: str) -> float:
    try:
        value = float(text)
        if not math.isfinite(value):
            raise ValueError
    except ValueError:
        raise BadInputError(f"The XMP file: {what} is {text[:40]!r}, which is no number. Write it anew.") from None
    return value
