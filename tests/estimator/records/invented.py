"""An invented visit with something in every field. Nobody is in it; the photographs are noise."""

import hashlib
import random
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

from estimator.records.consent_scopes import Scope
from estimator.records.visit_record import (
    AnswerRecord,
    ClockRecord,
    ConsentRecord,
    DocumentRecord,
    FindingRecord,
    MixedRecord,
    OutcomeRecord,
    PhotoRecord,
    PlanRecord,
    QuoteRecord,
    ReadingRecord,
    VisitRecord,
    ZoneRecord,
)

DAY = date(2026, 10, 5)
BOTH = (ConsentRecord(Scope.RECORD, DAY, "signed"), ConsentRecord(Scope.HEALTH, DAY, "signed"))


def photo(seed: str, side: str = "before", size: int = 3000) -> PhotoRecord:
    content = random.Random(f"content {seed}").randbytes(size)
    return PhotoRecord(
        side=side,
        original_sha256=hashlib.sha256(f"original {seed}".encode()).hexdigest(),
        content=content,
        thumbnail=random.Random(f"thumbnail {seed}").randbytes(300),
        ending="jpg",
        width_px=640,
        height_px=480,
        verdict="usable",
        verified=True,
        method="root-polynomial",
        held_out_de2000=1.5,
        pipeline_version=1,
        steps=[{"name": "open", "version": 1, "settings": {}, "effect": {}}],
        outlines={"crown": [[[10.0, 10.0], [90.0, 12.0], [50.0, 80.0]]]} if side == "before" else {},
    )


def reading(zone: str, level: float = 7.2, side: str = "before", stage: str = "gold") -> ReadingRecord:
    spread = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]
    return ReadingRecord(
        zone=zone,
        side=side,
        photos=("a" * 64,),
        lab_d65=(52.1, 6.0, 21.3),
        covariance=spread,
        shared_covariance=spread,
        spread_lab=[1.0, 0.5, 0.5],
        profile=[{"share": 0.1, "lab_d65": [50.0, 6.0, 20.0], "lightness_sd": 1.0}],
        level={
            "level": level,
            "level_low": level - 0.4,
            "level_high": level + 0.4,
            "beyond": "",
            "scale": "default scale",
        },
        warmth={
            "warmth_chroma": 12.0,
            "warmth_chroma_low": 10.0,
            "warmth_chroma_high": 14.0,
            "warmth_hue_deg": 70.0,
            "half_width_deg": 8.0,
            "stage": stage,
            "other_stages": [],
        },
        pixels=4000,
        verified=True,
        proposed=False,
        verdict="usable",
        basis=("One photograph with a card.",),
        pipeline_version=1,
    )


def visit(code: str = "M. D.", **changes: Any) -> VisitRecord:
    """A visit with something in every field; `changes` replace fields."""
    whole = VisitRecord(
        client_code=code,
        client_name="Marigold Dunmore",
        contact="marigold@example.org",
        day=DAY,
        salon="Saltmarsh Lane",
        program_version="0.1.0",
        consents=BOTH,
        facts={"age_years": 34.0, "scalp_state": "sound", "earlier_colour": ["dark"]},
        care_verdict="caution",
        zones=(
            ZoneRecord("crown", "head", "coily", {"length_cm": 28.0}, {"level": 9.0, "tone": "beige"}),
            ZoneRecord("nape", "head", "", {}, {}),
        ),
        photos=(photo(f"{code} before"), photo(f"{code} after", "after")),
        readings=(reading("crown"), reading("nape", 5.6, stage="orange"), reading("crown", 8.6, "after", "yellow")),
        findings=(
            FindingRecord("photo", "glare", "care", "card", "The card shines.", "Tilt it.", "our assumption"),
            FindingRecord("care", "ask-a-doctor", "test first", "", "Ask.", "Ask a doctor.", "common practice"),
        ),
        answers=(AnswerRecord("ask-a-doctor", "the client's doctor", DAY, "fine while calm", None, ""),),
        plan=PlanRecord("demo shelf", {"bowls": [{"number": 1, "parts": [["violet", 2], ["clear", 1]]}]}),
        mixed=(MixedRecord(1, ("crown",), (("violet", 20.5), ("clear", 10.0)), 61.0, 6.0, 12.0, "a little more"),),
        clock=(ClockRecord("start", "crown", datetime(2026, 10, 5, 9, 30, tzinfo=UTC), {"most_minutes": 20.0}),),
        outcomes=(OutcomeRecord("crown", "as wished", {"delta_e_2000": 1.4}),),
        notes=("Likes it cool.",),
        quote=QuoteRecord(DAY, (1, 2), (2.0, 3.5), (90.0, 140.0), "EUR", "as shown"),
        documents=(
            DocumentRecord("pdf", b"%PDF " + code.encode() * 40),
            DocumentRecord("html", b"<p>" + code.encode()),
        ),
    )
    return replace(whole, **changes)
