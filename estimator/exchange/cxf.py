"""Measured colours as CxF3 (ISO 17972-1), out and in: CIELAB, CIE XYZ or reflectance, with what they stand for."""

import math
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from calibration.cards.spectro_table import to_lab_d65
from estimator.errors import BadInputError
from estimator.exchange.conditions import usable_light
from estimator.exchange.measured import Bounds, Conditions, Illuminant, Lab, MeasuredColour, MeasuredTable
from estimator.exchange.spectra import as_shares, lab_of_spectrum
from estimator.exchange.xml_reading import parsed_xml

if TYPE_CHECKING:
    from lxml.etree import _Element as Element

NAMESPACE = "http://colorexchangeformat.com/CxF3-core"
_SPECIFICATION = "D65_2"
_CC = f"{{{NAMESPACE}}}"
OUR_TAGS = "Tressmeter"  # name of the collection of tags that holds what CxF3 has no element for
_TAGS = {"lab_sd": "LabSd", "lab_low": "LabLow", "lab_high": "LabHigh", "level": "LevelWithInterval"}


def cxf_of(table: MeasuredTable, made_at: datetime) -> bytes:
    """The colours as a CxF3 document, CIELAB D65 2°, every digit. made_at : With its time zone."""
    from lxml import etree

    root = etree.Element(f"{_CC}CxF", nsmap={"cc": NAMESPACE})
    _say(root, "FileInformation", {"Creator": "Tressmeter", "CreationDate": _moment(made_at),
                                   "Description": xml_words(table.about)})  # fmt: skip
    resources = etree.SubElement(root, f"{_CC}Resources")
    objects = etree.SubElement(resources, f"{_CC}ObjectCollection")
    for number, colour in enumerate(table.colours, start=1):
        _object(objects, number, colour)
    specifications = etree.SubElement(resources, f"{_CC}ColorSpecificationCollection")
    whole = etree.SubElement(specifications, f"{_CC}ColorSpecification", Id=_SPECIFICATION)
    _say(whole, "TristimulusSpec", {"Illuminant": "D65", "Observer": "2_Degree", "Method": "E308_Table5"})
    measured = etree.SubElement(whole, f"{_CC}MeasurementSpec")
    etree.SubElement(measured, f"{_CC}MeasurementType").text = "Colorimetric_Reflectance"
    geometry = etree.SubElement(measured, f"{_CC}GeometryChoice")
    etree.SubElement(geometry, f"{_CC}SphereGeometry").text = "Specular_Included"
    written: bytes = etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)
    return written


def _say(parent: "Element", name: str, parts: dict[str, str]) -> None:
    from lxml import etree

    part = etree.SubElement(parent, f"{_CC}{name}")
    for key, text in parts.items():
        etree.SubElement(part, f"{_CC}{key}").text = text


def _object(objects: "Element", number: int, colour: MeasuredColour) -> None:
    from lxml import etree

    whole = etree.SubElement(
        objects, f"{_CC}Object", ObjectType="Standard", Name=xml_words(colour.name), Id=f"c{number}"
    )
    values = etree.SubElement(whole, f"{_CC}ColorValues")
    lab = etree.SubElement(values, f"{_CC}ColorCIELab", ColorSpecification=_SPECIFICATION)
    for axis, value in zip("LAB", colour.lab_d65, strict=True):
        etree.SubElement(lab, f"{_CC}{axis}").text = repr(value)
    told = {tag: getattr(colour, name) for name, tag in _TAGS.items() if getattr(colour, name) is not None}
    if told:
        tags = etree.SubElement(whole, f"{_CC}TagCollection", Name=OUR_TAGS)
        for tag, triple in told.items():
            etree.SubElement(tags, f"{_CC}Tag", Name=tag, Value=" ".join(map(repr, triple)))


def xml_words(text: str) -> str:
    """The text without characters that XML 1.0 can't hold; line breaks become spaces, as an attribute makes of them."""
    return "".join(" " if sign in "\t\r\n" else sign for sign in text if sign in "\t\r\n" or _in_xml(ord(sign)))


def _in_xml(point: int) -> bool:
    return point >= 32 and not 0xD800 <= point <= 0xDFFF and point not in (0xFFFE, 0xFFFF)


def _moment(made_at: datetime) -> str:
    return made_at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


# --- and back


def colours_of_cxf(content: bytes, given: Conditions) -> MeasuredTable:
    """The colours of a CxF3 document of any instrument: CIELAB, else XYZ, else reflectance. CIELAB D65 2°.

    Raises
    ------
    BadInputError : It is no such document, is faulty, or something about it is not known; the sentence says what.
    """
    root = parsed_xml(content, "CxF file")
    if root.tag != f"{_CC}CxF":
        raise BadInputError(f"The file is no CxF3 file: its root is not CxF of {NAMESPACE}. Export it as CxF3.")
    specifications = {part.get("Id", ""): part for part in root.iter(f"{_CC}ColorSpecification")}
    objects = [part for part in root.iter(f"{_CC}Object") if part.find(f"{_CC}ColorValues") is not None]
    named = [(_name_of(part, number), part) for number, part in enumerate(objects, start=1)]
    colours = [
        MeasuredColour(name, _lab(name, part.find(f"{_CC}ColorValues"), specifications, given), **_ours(name, part))
        for name, part in named
    ]
    about = root.findtext(f"{_CC}FileInformation/{_CC}Description") or "measured"
    return MeasuredTable(about, tuple(colours))


def _name_of(part: "Element", number: int) -> str:
    return (part.get("Name") or part.get("Id") or str(number)).strip()


def _lab(name: str, values: "Element | None", specifications: "dict[str, Element]", given: Conditions) -> Lab:
    assert values is not None
    for kind, tag, axes in (("lab", "ColorCIELab", "LAB"), ("xyz", "ColorCIEXYZ", "XYZ")):
        found = values.find(f"{_CC}{tag}")
        if found is None:
            continue
        numbers = [_number(name, axis, found.findtext(f"{_CC}{axis}")) for axis in axes]
        light = usable_light(_conditions(found, specifications).filled_by(given))
        if (kind, light) == ("lab", Illuminant.D65):
            return numbers[0], numbers[1], numbers[2]
        lab = to_lab_d65(np.array([numbers]), kind, light.value.lower())[0]
        return float(lab[0]), float(lab[1]), float(lab[2])
    spectrum = values.find(f"{_CC}ReflectanceSpectrum")
    if spectrum is None:
        raise BadInputError(
            f"{name[:60]} holds neither ColorCIELab nor ColorCIEXYZ nor a reflectance. Export one of them."
        )
    return _lab_of_spectrum(name, spectrum, specifications)


def _lab_of_spectrum(name: str, spectrum: "Element", specifications: "dict[str, Element]") -> Lab:
    reflectance = [_number(name, "a reflectance", word) for word in (spectrum.text or "").split()]
    specification = specifications.get(spectrum.get("ColorSpecification", ""))
    wavelengths = specification.find(f".//{_CC}WavelengthRange") if specification is not None else None
    start = spectrum.get("StartWL") or (wavelengths.get("StartWL") if wavelengths is not None else None)
    step = spectrum.get("Increment") or (wavelengths.get("Increment") if wavelengths is not None else None)
    if start is None or step is None:
        raise BadInputError(f"The spectrum of {name[:60]} does not say where it begins and how wide its bands are.")
    first, wide = _number(name, "StartWL", start), _number(name, "Increment", step)
    bands = [first + wide * place for place in range(len(reflectance))]
    return lab_of_spectrum(name, bands, as_shares([reflectance])[0])


def _conditions(found: "Element", specifications: "dict[str, Element]") -> Conditions:
    """What the colour's specification says; no words of it are guessed."""
    specification = specifications.get(found.get("ColorSpecification", ""))
    if specification is None:
        return Conditions()
    light = (specification.findtext(f".//{_CC}Illuminant") or "").strip().upper()
    eye = (specification.findtext(f".//{_CC}Observer") or "").strip()
    if light and light not in tuple(Illuminant):
        raise BadInputError(f"The colours are for {light[:20]}; D50 or D65 is needed. Export them for one of these.")
    degrees = {"2": 2, "10": 10}.get(eye.split("_")[0].split(" ")[0])
    return Conditions(Illuminant(light) if light else None, degrees)


def _ours(name: str, part: "Element") -> dict[str, Bounds]:
    """What our own tags hold; none of them is needed."""
    collection = next((c for c in part.findall(f"{_CC}TagCollection") if c.get("Name") == OUR_TAGS), None)
    if collection is None:
        return {}
    texts = {tag.get("Name", ""): tag.get("Value", "").split() for tag in collection.findall(f"{_CC}Tag")}
    found: dict[str, Bounds] = {}
    for of, tag in _TAGS.items():
        if len(words := texts.get(tag, [])) == 3:
            first, second, third = (_number(name, tag, word) for word in words)
            found[of] = (first, second, third)
    return found


def _number(name: str, what: str, text: str | None) -> float:
    try:
        value = float(text or "")
        if not math.isfinite(value):
            raise ValueError
    except ValueError:
        shown = (text or "")[:40]
        raise BadInputError(f"{name[:60]}: {what} is {shown!r}, which is no number. Export the file again.") from None
    return value
