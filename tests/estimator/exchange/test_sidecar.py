"""Side-cars of photographs: exact both ways, readable by general libraries, and nothing of the person in them."""

import csv
import io
import json
import subprocess
import sys
import zipfile
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from PIL import Image
from scipy.ndimage import binary_fill_holes

from calibration.private_tags import clean_copy
from estimator.errors import BadInputError
from estimator.exchange.beside import beside_client
from estimator.exchange.sidecar import RDF, TM, OutlinedZone, Pixels, Sidecar, sidecar_of_xmp, sidecar_xmp
from estimator.exchange.sidecars import sidecar_of_photo, sidecars_of_client, with_xmp, xmp_in
from estimator.records.clients import client_row, withdraw_consent
from estimator.records.consent_scopes import Scope
from estimator.records.exporting import client_rows, export_client, import_client
from estimator.records.visits import keep_visit
from estimator.zones.inputs import load_zone_spec, zone_spec_from_json
from estimator.zones.masks import polygon_zone
from estimator.zones.outline import Setting, StrandPattern
from tests.estimator.records.invented import DAY, visit

ROOT = Path(__file__).resolve().parents[3]
SAMPLES = ROOT / "sample_images"

in_xml = st.characters(exclude_categories=("Cs", "Cc"), exclude_characters="\ufffe\uffff")
names = st.text(in_xml, min_size=1, max_size=12)
figures = st.floats(-10, 100_000, allow_nan=False)
outlines = st.lists(st.lists(st.tuples(figures, figures), min_size=3, max_size=5).map(tuple), max_size=2).map(tuple)
zones = st.builds(OutlinedZone, names, st.sampled_from(Setting), st.none() | st.sampled_from(StrandPattern), outlines)
sidecars = st.builds(
    Sidecar,
    st.just("") | st.text("0123456789abcdef", min_size=64, max_size=64),
    *(st.integers(1, 60_000), st.integers(1, 60_000), names, st.lists(zones, max_size=3).map(tuple)),
    *(st.lists(names, max_size=3).map(tuple), st.sampled_from(Pixels), st.none() | st.integers(1, 900)),
    *(st.just("") | names, st.none() | st.floats(0, 50), st.booleans()),
)


@settings(deadline=None, max_examples=25)
@given(sidecars)
def test_a_side_car_comes_back_digit_for_digit(told):
    assert sidecar_of_xmp(sidecar_xmp(told)) == told


def test_the_packet_has_the_form_of_the_standard():
    # ISO 16684-1, 7: a packet begins with xpacket, holds one rdf:RDF, and ends with w or r; arrays are rdf:Bag or Seq.
    told = Sidecar(
        "a" * 64, 40, 30, "1", (OutlinedZone("crown", Setting.HEAD, None, (((0, 0), (9, 0), (9, 9)),)),), ("record",)
    )
    packet = sidecar_xmp(told)
    assert packet.startswith(b'<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>')
    assert packet.endswith(b'<?xpacket end="w"?>')
    root = etree.fromstring(packet)
    spaces = {"rdf": RDF, "tm": TM, "x": "adobe:ns:meta/"}
    assert root.tag == "{adobe:ns:meta/}xmpmeta"
    assert len(root.xpath("//rdf:RDF", namespaces=spaces)) == 1
    assert root.xpath("//tm:Zones/rdf:Seq/rdf:li/tm:Name/text()", namespaces=spaces) == ["crown"]
    assert root.xpath("//tm:Consent/rdf:Bag/rdf:li/text()", namespaces=spaces) == ["record"]
    assert root.xpath("//tm:Pixels/text()", namespaces=spaces) == ["as taken"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (b"as taken", b"as wished", "Pixels 'as wished'"),
        (b"<tm:WidthPx>40", b"<tm:WidthPx>wide", "WidthPx 'wide'"),
        (b"9.0,9.0", b"9.0;9.0", "broken"),
        (b"9.0,9.0", b"9.0,inf", "no number"),
        (b">head<", b">foot<", "no zone is"),
        (b"tresmeter", b"", ""),
        (TM.encode(), b"https://example.org/", "another program"),
        (b"<x:xmpmeta", b"<!DOCTYPE a [<!ENTITY b 'c'>]><x:xmpmeta", "document type|no whole XML"),
        (b"a" * 64, b"z" * 64, "no SHA-256"),
    ],
)
def test_a_side_car_that_was_spoiled_is_refused_in_a_sentence(old, new, said):
    zone = OutlinedZone("crown", Setting.HEAD, None, (((0.0, 0.0), (9.0, 0.0), (9.0, 9.0)),))
    packet = sidecar_xmp(Sidecar("a" * 64, 40, 30, "1", (zone,)))
    if not said:
        assert sidecar_of_xmp(packet.replace(old, new)).zones == (zone,)
        return
    assert old in packet
    with pytest.raises(BadInputError, match=said):
        sidecar_of_xmp(packet.replace(old, new))


@pytest.fixture(scope="module")
def jpeg():
    noise = np.random.default_rng(7).integers(0, 256, (120, 160, 3), dtype=np.uint8)
    out = io.BytesIO()
    image = Image.fromarray(noise)
    exif = Image.Exif()
    exif[0x010F] = "Invented maker"
    exif[0x0112] = 6
    image.save(out, "JPEG", exif=exif, quality=95)
    return clean_copy(out.getvalue())


def test_embedded_it_is_found_by_a_general_library_and_the_pixels_are_the_same(jpeg):
    told = Sidecar("", 120, 160, "1", consent=("portfolio",))
    both = with_xmp(with_xmp(jpeg, b"an older packet"), sidecar_xmp(told))
    with Image.open(io.BytesIO(both)) as opened, Image.open(io.BytesIO(jpeg)) as before:
        assert opened.info["xmp"] == sidecar_xmp(told)
        assert np.array_equal(np.asarray(opened), np.asarray(before))
        assert opened.getexif()[0x0112] == 6
    assert sidecar_of_xmp(xmp_in(both)) == told
    assert b"an older packet" not in both


def test_what_can_not_be_embedded_is_refused_in_a_sentence(jpeg):
    with pytest.raises(BadInputError, match="beside the photograph"):
        with_xmp(b"\x89PNG\r\n\x1a\n" + bytes(100), b"x")
    with pytest.raises(BadInputError, match="too long"):
        with_xmp(jpeg, bytes(70_000))
    with pytest.raises(BadInputError, match="holds no XMP"):
        xmp_in(jpeg)


def test_polygons_travel_as_they_were_drawn_on_the_upright_picture(jpeg):
    spec = zone_spec_from_json(
        '{"setting": "head", "zones": {"crown": [[3, 4], [50.5, 4], [50, 60]]}, "strands": {"crown": "coily"}}'
    )
    told = sidecar_of_photo(jpeg, spec, (Scope.PORTFOLIO,))
    assert (told.width_px, told.height_px) == (120, 160)  # stored 160 x 120, turned by its tag
    assert told.zones == (
        OutlinedZone("crown", Setting.HEAD, StrandPattern.COILY, (((3.0, 4.0), (50.5, 4.0), (50.0, 60.0)),)),
    )
    assert told.consent == ("portfolio",)


@pytest.mark.slow
def test_the_outline_of_a_painted_zone_gives_back_its_pixels_with_holes_closed():
    spec = load_zone_spec(SAMPLES / "head_zones.png")
    copy = clean_copy((SAMPLES / "head.jpg").read_bytes())
    told = sidecar_of_xmp(sidecar_xmp(sidecar_of_photo(copy, spec, ())))
    labels = spec.outlines.picture
    assert {zone.name for zone in told.zones} == set(spec.names)
    for zone in told.zones:
        polygons = tuple(np.array(outline) for outline in zone.outlines)
        again = polygon_zone(spec, zone.name, polygons, told.height_px, told.width_px)
        painted = labels == spec.outlines.label_of[zone.name]
        drawn = np.zeros_like(painted)
        drawn[again.box.slices] = again.mask
        assert np.array_equal(drawn, binary_fill_holes(painted))


def rows_of(store):
    with store.looking() as session:
        return client_rows(session.connection(), client_row(session, "M. D.").id)


@pytest.mark.slow
def test_photographs_of_a_client_leave_with_zones_and_consent_and_without_the_person(store, tmp_path):
    keep_visit(store, visit())
    found = {name: sidecar_of_xmp(packet) for name, packet in sidecars_of_client(rows_of(store)).items()}
    assert sorted(found) == ["photos/2026-10-05-001-before.jpg.xmp", "photos/2026-10-05-002-after.jpg.xmp"]
    before = found["photos/2026-10-05-001-before.jpg.xmp"]
    assert [(zone.name, zone.strand_pattern) for zone in before.zones] == [("crown", "coily"), ("nape", None)]
    assert before.zones[0].outlines == (((10.0, 10.0), (90.0, 12.0), (50.0, 80.0)),)  # as `invented.photo` has them
    assert before.consent == ("health answers", "record")
    assert (before.pixels, before.pipeline_version, before.method) == (Pixels.AS_TAKEN, 1, "root-polynomial")
    for packet in sidecars_of_client(rows_of(store)).values():
        told = packet.decode()
        assert not any(
            word in told for word in ("Marigold", "Dunmore", "M. D.", "marigold@", "Saltmarsh", "2026-10-05")
        )
    export_client(store, "M. D.", tmp_path / "one.zip", beside_client)
    with zipfile.ZipFile(tmp_path / "one.zip") as archive:
        assert set(found) <= set(archive.namelist())
        (mixed,) = csv.DictReader(io.StringIO(archive.read("tables/mixed.csv").decode(), newline=""))
        assert (mixed["client"], mixed["developer_grams [g]"]) == ("M. D.", "61.0")
    assert import_client(store, tmp_path / "one.zip") == "M. D."  # side-cars change nothing about taking it in


def test_a_consent_that_was_taken_back_does_not_travel(store):
    keep_visit(store, visit())
    withdraw_consent(store, "M. D.", Scope.HEALTH, DAY, "spoken")
    (first, _) = sidecars_of_client(rows_of(store)).values()
    assert sidecar_of_xmp(first).consent == ("record",)


@pytest.mark.slow
def test_the_command_writes_a_side_car_that_the_other_command_prints(tmp_path):
    def run(*words):
        return subprocess.run(
            [sys.executable, "-m", "estimator", *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False
        )

    zones = ("--zones", SAMPLES / "strands_zones.png", "--consent", "portfolio")
    copy = tmp_path / "copy.jpg"
    done = run("clean", SAMPLES / "strands_before.jpg", "--out", copy, "--xmp", "--embed", *zones)
    assert done.returncode == 0, done.stderr
    beside = json.loads(run("exchange", "sidecar", tmp_path / "copy.jpg.xmp").stdout)
    inside = json.loads(run("exchange", "sidecar", copy).stdout)
    assert beside["consent"] == inside["consent"] == ["portfolio"]
    assert {zone["name"] for zone in beside["zones"]} == {"fringe", "crown", "nape", "back"}
    assert beside["photo_sha256"] != "" == inside["photo_sha256"]
    assert replace(sidecar_of_xmp((tmp_path / "copy.jpg.xmp").read_bytes()), photo_sha256="") == sidecar_of_xmp(
        xmp_in(copy.read_bytes())
    )
    refused = run("clean", SAMPLES / "strands_before.jpg", "--out", tmp_path / "x.jpg", *zones)
    assert "--xmp" in refused.stderr
