"""Side-cars made from what is at hand: a photograph with its zones, or a client's rows; and in a JPEG's own bytes."""

import hashlib
import struct
from importlib.metadata import version
from typing import Any

import numpy as np

from calibration.formats import jpeg_segments as parts
from calibration.opening import open_photo
from calibration.sniffing import FileKind, kind_of
from estimator.errors import BadInputError
from estimator.exchange.sidecar import OutlinedZone, Pixels, Sidecar, sidecar_xmp
from estimator.records.consent_scopes import Scope
from estimator.records.exporting import file_names
from estimator.zones.masks import outer_borders
from estimator.zones.outline import Setting, StrandPattern
from estimator.zones.specification import LabelledZones, ZoneSpec

XMP_START = b"http://ns.adobe.com/xap/1.0/\0"  # ISO 16684-3, JPEG
MOST_IN_JPEG = 65_533 - len(XMP_START)
Rows = dict[str, list[dict[str, Any]]]


def sidecar_of_photo(content: bytes, spec: ZoneSpec | None, consent: tuple[Scope, ...]) -> Sidecar:
    """The side-car of a cleaned photograph: its zones where they are described, and what the client agreed to.

    Raises
    ------
    PhotoRefusedError, BadInputError : The photograph can't be opened, or the label picture is of another size.
    """
    photo = open_photo(content)
    return Sidecar(
        hashlib.sha256(content).hexdigest(),
        photo.width_px,
        photo.height_px,
        version("tressmeter"),
        _zones(spec, (photo.height_px, photo.width_px)) if spec is not None else (),
        tuple(scope.value for scope in consent),
    )


def _zones(spec: ZoneSpec, size: tuple[int, int]) -> tuple[OutlinedZone, ...]:
    outlines = spec.outlines
    if isinstance(outlines, LabelledZones):
        if outlines.picture.shape != size:
            raise BadInputError(
                "The label picture and the photograph differ in size. Name the zones of this photograph."
            )
        drawn = {name: outer_borders(np.equal(outlines.picture, number)) for name, number in outlines.label_of.items()}
    else:
        drawn = {
            name: tuple(tuple((float(x), float(y)) for x, y in polygon) for polygon in polygons)
            for name, polygons in outlines.polygons_of.items()
        }
    return tuple(
        OutlinedZone(name, spec.setting, spec.strands.get(name), found) for name, found in drawn.items() if found
    )


def sidecars_of_client(rows: Rows) -> dict[str, bytes]:
    """An XMP packet for each photograph of an export, by name: zones of its visit, consent, how it was read.

    A visit that was kept before outlines were has its zones by name alone.
    """
    names, found = file_names(rows), {}
    visits = {visit["id"]: visit for visit in rows["visit"]}
    consent = tuple(
        sorted({each["scope"] for each in rows["consent"] if not each["withdrawn_on"] and not each["removed"]})
    )
    zones = sorted(rows["zone"], key=lambda zone: zone["place"])
    for photo in rows["photo"]:
        name = names.get(photo["sha256"])
        if name is None:
            continue
        told = Sidecar(
            photo["sha256"],
            photo["width_px"],
            photo["height_px"],
            visits[photo["visit_id"]]["program_version"],
            tuple(_zone(zone, photo) for zone in zones if zone["visit_id"] == photo["visit_id"]),
            consent,
            Pixels.AS_TAKEN,
            photo["pipeline_version"],
            photo["method"],
            photo["held_out_de2000"],
            visits[photo["visit_id"]]["demo"],
        )
        found[f"{name}.xmp"] = sidecar_xmp(told)
    return found


def _zone(zone: dict[str, Any], photo: dict[str, Any]) -> OutlinedZone:
    pattern = StrandPattern(zone["strand_pattern"]) if zone["strand_pattern"] else None
    drawn = photo["outlines"].get(zone["name"], [])
    outlines = tuple(tuple((float(x), float(y)) for x, y in border) for border in drawn)
    return OutlinedZone(zone["name"], Setting(zone["setting"]), pattern, outlines)


def with_xmp(jpeg: bytes, packet: bytes) -> bytes:
    """The JPEG with the packet inside, pixels untouched; a packet that was there goes.

    Raises
    ------
    BadInputError : The file is no JPEG, or the packet is too long for one: then it goes beside the photograph.
    """
    if kind_of(jpeg) is not FileKind.JPEG:
        raise BadInputError("Only a JPEG takes XMP inside here. Leave --embed out: it then goes beside the photograph.")
    if len(packet) > MOST_IN_JPEG:
        raise BadInputError("The outlines are too long to go inside a JPEG. Leave --embed out, or draw fewer points.")
    kept, place = [jpeg[:2]], 1
    for part in parts.segments(jpeg):
        payload = part.payload(jpeg)
        if part.marker == parts.APP1 and payload.startswith(XMP_START):
            continue
        kept.append(jpeg[part.start : part.end])
        if part.marker == parts.APP0 or (part.marker == parts.APP1 and payload.startswith(parts.EXIF_START)):
            place = len(kept)  # after JFIF and EXIF, which want to come first
    body = XMP_START + packet
    kept.insert(place, struct.pack(">BBH", 0xFF, parts.APP1, 2 + len(body)) + body)
    return b"".join(kept)


def xmp_in(jpeg: bytes) -> bytes:
    """The XMP packet inside a JPEG. Raises BadInputError where it holds none."""
    for part in parts.segments(jpeg):
        payload = part.payload(jpeg)
        if part.marker == parts.APP1 and payload.startswith(XMP_START):
            return payload.removeprefix(XMP_START)
    raise BadInputError("The photograph holds no XMP.")
