"""Step 5, ways to say what a zone should become other than in words: like another zone, off a picture, the lightest."""

from typing import TYPE_CHECKING, Any

import streamlit as st

from estimator.pages import draft, kept_plans, kept_readings, wished_before
from estimator.pages.draft import Draft, Shot, Wish
from estimator.pages.escaping import in_markdown
from estimator.pages.photo_board import Drawing, photo_board
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.visit import ReadZone

WAYS = {
    "words": "Level and tone",
    "like": "Match a zone",
    "picked": "Point at a picture",
    "lightest": "As light as possible",
}
_ALT = "Point at the hair whose colour is wished for"


def choose_way(zone: "ReadZone", visit: Draft) -> str:
    """Which of WAYS this zone's target is told in; the colourist's choice, kept with the zone once it has a target."""
    wished_before.show(zone.name, visit)
    wish = visit.wishes.get(zone.name)
    key = f"way_{zone.name}"
    return (
        st.pills("Target by", list(WAYS), format_func=WAYS.__getitem__, default=wish.way if wish else "words", key=key)
        or "words"
    )


def show_way(way: str, zone: "ReadZone", visit: Draft, names: list[str]) -> None:
    """The fields of one way that is not in words."""
    if way == "like":
        _like(zone, visit, [name for name in names if name != zone.name])
    elif way == "picked":
        _picked(zone, visit)
    else:
        _lightest(zone, visit)


def _keep(zone: "ReadZone", **fields: Any) -> None:
    level = min(max(round(zone.level.level * 2) / 2, 1.0), 10.0)
    draft.keep_wish(zone.name, Wish(level, "neutral"), **fields)


def _like(zone: "ReadZone", visit: Draft, others: list[str]) -> None:
    if not others:
        st.markdown("There is no other zone to match. Outline one in step 2.")
        return
    wish, key = visit.wishes.get(zone.name), f"like_{zone.name}"

    def changed() -> None:
        if st.session_state[key]:
            _keep(zone, way="like", like=st.session_state[key])

    st.pills(
        "Match",
        others,
        format_func=lambda name: in_markdown(wording.zone_text(name)),
        default=wish.like if wish and wish.way == "like" and wish.like in others else None,
        key=key,
        on_change=changed,
    )


def _lightest(zone: "ReadZone", visit: Draft) -> None:
    from estimator.toning.targets import TONES

    wish, key = visit.wishes.get(zone.name), f"limit_{zone.name}"

    def changed() -> None:
        if st.session_state[key]:
            _keep(zone, way="lightest", tone=st.session_state[key])

    default = wish.tone if wish and wish.way == "lightest" else None
    st.pills("No warmer than", list(TONES), default=default, key=key, on_change=changed)


def _picked(zone: "ReadZone", visit: Draft) -> None:
    with st.expander("A picture of its own, with the card in it", expanded=False):
        file = st.file_uploader(
            "The picture", type=["jpg", "jpeg", "png", "heic", "webp", "tif", "tiff"], key="wish_file"
        )
        if file and st.button("Use this picture", key="use_wish_file"):
            content = file.getvalue()
            shot = Shot(content, kept_readings.hash_of(content))
            kept_readings.corrected(shot)  # what does not open is told here, and nothing is kept
            draft.change(picture=shot)
            st.rerun()
        if visit.picture and st.button("Back to the photograph before", key="drop_wish_file"):
            draft.change(picture=None)
            st.rerun()
    shown = visit.picture or visit.before
    assert shown is not None
    wish = visit.wishes.get(zone.name)
    own = wish is not None and wish.way == "picked" and wish.spot_on == shown.sha256

    def pointed(event: dict[str, Any]) -> None:
        spot = (float(event["x_px"]), float(event["y_px"]), max(float(event["radius_px"]), 2.0))
        st.session_state["wish_serial"] = int(event["serial"])
        _keep(zone, way="picked", spot=spot, spot_on=shown.sha256)

    drawing = Drawing(spot=wish.spot if wish and own else None, serial=st.session_state.get("wish_serial", 0))
    key = f"wish_spot_{zone.name}_{shown.sha256[:8]}"
    photo_board(kept_readings.picture(shown), _ALT, drawing, mode="spot", key=key, on_event=pointed)
    if wish and own:
        colour = kept_plans.picked(visit, wish)
        put_level = wording.level_text(colour.level)
        st.markdown(f"Read there: level {in_markdown(put_level)}.")
