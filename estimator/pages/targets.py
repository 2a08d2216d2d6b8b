"""Step 5: what each zone should become, and the bowls for it."""

from typing import TYPE_CHECKING, Any

import streamlit as st

from calibration.errors import CalibrationError
from estimator.errors import EstimatorError
from estimator.pages import draft, kept_plans, kept_readings, kept_scales, papers, shelf, strand_trial
from estimator.pages.care import first_aid, show_verdict, usual_cautions
from estimator.pages.draft import Draft, Wish
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.frame import main_action, next_step
from estimator.pages.showing import drawing, listed, one_sentence, put, told
from estimator.pages.wish_ways import choose_way, show_way
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.toning.plan import Bowl, Plan, ZonePlan
    from estimator.visit import CheckedPlan, PhotoReading, ReadZone

_HAIR = {
    "strand_diameter": ("Strand diameter", ("fine", "medium", "coarse")),
    "density": ("Density", ("low", "medium", "high")),
    "porosity": ("Porosity", ("low", "normal", "high", "uneven")),
}
_BOWLS = (1, 2, 3, 4)


def show() -> None:
    """The screen: targets first; once a plan is asked for, the plan."""
    visit = draft.current()
    reading = kept_readings.reading_before(visit) if visit.before and visit.before.zones else None
    if reading is None or not reading.zones:
        st.title("Targets and plan")
        st.markdown("No zone is read yet. Steps 1 to 3 read them.")
        next_step("after", "after", waits_for="once there is a plan.")
    elif kept_plans.is_asked_for(visit):
        if not kept_plans.is_made(visit):
            _make_anew()
        _show_plan(visit)
    else:
        _show_targets(visit, reading)


# --- targets ---


def _show_targets(visit: Draft, reading: "PhotoReading") -> None:
    st.title("Targets")
    names = [zone.name for zone in reading.zones]
    chosen = st.pills("Zone", names, format_func=lambda name: _worded(name, visit), default=names[0], key="target_zone")
    zone = next((zone for zone in reading.zones if zone.name == chosen), reading.zones[0])
    left, right = st.columns([1, 1], gap="medium")
    with left:
        _now(zone, visit)
        way = choose_way(zone, visit)
        if way == "words":
            _target(zone, visit)
        else:
            with one_sentence():
                show_way(way, zone, visit, names)
    with right:
        _hair(zone, visit)
        _all_alike(zone, visit, names)
    st.pills("Bowls at most", _BOWLS, default=visit.max_bowls, key="max_bowls", on_change=_bowls_chosen)
    shelf.show(visit)
    _scale(visit)
    if main_action(
        "Make the plan", waits_for="" if visit.wishes else "Choose a tone for one zone, and the plan can be made."
    ):
        _make_plan()


def _make_plan() -> None:
    """The plan, with a bar while recipes are compared. Stopping runs the screen anew, which ends the comparing."""
    with st.container(key="comparing"):
        bar = st.progress(0.0, "Comparing recipes")
        st.button("Stop comparing", key="stop_comparing", on_click=_put_away)

        def tell(share: float) -> None:
            bar.progress(min(share, 1.0), "Comparing recipes")

        kept_plans.plan(draft.current(), tell)
    draft.change(planned=kept_plans.mark(draft.current()))
    st.rerun()


def _make_anew() -> None:
    """The plan of a visit that is gone on with, once the program was started anew. What can't be made is told once."""
    st.title("Plan")
    try:
        _make_plan()
    except (EstimatorError, CalibrationError):
        _put_away()  # or no way would lead back to the targets, which mend it
        raise


def _put_away() -> None:
    """No plan is shown until one is asked for again."""
    draft.change(planned="")


def _scale(visit: Draft) -> None:
    """On which levels everything stands: the salon's own, once its scale was handed over."""
    scale = kept_scales.own_scale()
    with st.expander(f"Level scale: {in_markdown(scale.name) if scale else 'the default'}"), one_sentence():
        st.markdown("The scale fitted to your own swatch ring, as the command for it wrote it.")
        turn = st.session_state.setdefault("scale_files", 0)
        file = st.file_uploader("A level scale (TOML)", type=["toml"], key=f"scale_file_{turn}")
        if file and st.button("Use this scale", key="use_scale"):
            _take_scale(kept_scales.checked_scale(file.getvalue()))
        if visit.scale_toml and st.button("Back to the default scale", key="default_scale"):
            _take_scale("")


def _take_scale(scale_toml: str) -> None:
    draft.change(scale_toml=scale_toml)
    st.session_state["scale_files"] += 1
    st.rerun()


def _worded(name: str, visit: Draft) -> str:
    return in_markdown(wording.zone_text(name)) + (" \u2713" if name in visit.wishes else "")


def _bowls_chosen() -> None:
    draft.change(max_bowls=st.session_state["max_bowls"] or draft.current().max_bowls)


def _now(zone: "ReadZone", visit: Draft) -> None:
    from estimator.reports.drawings import StripRow, level_strip
    from estimator.scale.level import default_scale

    wish = visit.wishes.get(zone.name)
    now = f"{wording.level_text(zone.level)}; {wording.stage_text(zone.warmth)}"
    row = StripRow("now", zone.level, zone.reading.verified)
    strip = level_strip(
        [row],
        (kept_scales.own_scale() or default_scale()).lightness,
        wish.level if wish and wish.way == "words" else None,
    )
    put(f"<div><p>Now level {in_html(now)}</p>{drawing(strip)}</div>")


def _target(zone: "ReadZone", visit: Draft) -> None:
    from estimator.toning.targets import TONES

    wish = visit.wishes.get(zone.name)
    level_key, tone_key = f"level_{zone.name}", f"tone_{zone.name}"
    level = wish.level if wish else min(max(round(zone.level.level * 2) / 2, 1.0), 10.0)

    def changed() -> None:
        tone = st.session_state[tone_key]
        level_wanted = st.session_state[level_key]
        if tone is None:
            left = {name: kept_wish for name, kept_wish in draft.current().wishes.items() if name != zone.name}
            draft.change(wishes=left)
            return
        draft.keep_wish(zone.name, Wish(level_wanted, tone), level=level_wanted, tone=tone, way="words")

    st.number_input("Target level", 1.0, 10.0, level, 0.5, format="%.1f", key=level_key, on_change=changed)
    st.pills(
        "Target tone",
        list(TONES),
        default=wish.tone if wish and wish.way == "words" else None,
        key=tone_key,
        on_change=changed,
    )


def _hair(zone: "ReadZone", visit: Draft) -> None:
    wish = visit.wishes.get(zone.name)
    if wish is None:
        return

    def changed(field: str, key: str) -> None:
        value: Any = st.session_state[key]
        if value is not None:
            draft.keep_wish(zone.name, wish, **{field: value})

    key = f"length_{zone.name}"
    st.number_input(
        "Hair length (cm)",
        1.0,
        200.0,
        wish.length_cm,
        1.0,
        format="%.0f",
        key=key,
        on_change=changed,
        args=("length_cm", key),
    )
    for field, (label, words) in _HAIR.items():
        key = f"{field}_{zone.name}"
        st.pills(label, words, default=getattr(wish, field), key=key, on_change=changed, args=(field, key))


def _all_alike(zone: "ReadZone", visit: Draft, names: list[str]) -> None:
    wish = visit.wishes.get(zone.name)
    if wish is None or len(names) < 2 or wish.way == "like":
        return

    def copy() -> None:
        for name in names:
            for field in ("level", "tone", "length", "way", "like", "limit", *_HAIR):
                st.session_state.pop(f"{field}_{name}", None)
        draft.change(wishes=dict.fromkeys(names, draft.current().wishes.get(zone.name, wish)))

    st.button("Same for all zones", key="alike", on_click=copy)


# --- plan ---


def _show_plan(visit: Draft) -> None:
    st.title("Plan")
    checked = kept_plans.plan(visit)
    show_verdict(checked.care)
    if checked.plan is None:
        st.markdown("There is no formula while a stop stands. Change the facts in step 4, not the formula.")
    else:
        if checked.withheld:
            zones = wording.list_text([wording.zone_text(zone) for zone in checked.withheld])
            st.markdown(f"No formula for {in_markdown(zones)} while the stop there stands. Keep every mix off it.")
        _formula(checked.plan, checked)
        papers.bowl_sheet(visit)
    strand_trial.show(visit)
    first_aid()
    st.button("Change the targets", key="retarget", on_click=_put_away)
    next_step("after", "after")


def _formula(plan: "Plan", checked: "CheckedPlan") -> None:
    if plan.shelf_demo:
        put("<div><p><span class='unverified'>DEMO shelf: invented shades, not for use on anybody</span></p></div>")
    for bowl in plan.bowls:
        left, right = st.columns([1, 1], gap="medium")
        with left:
            put(_bowl(bowl))
        with right:
            put(usual_cautions())
    for zone in plan.zones:
        _zone(zone)
    if other := wording.second_best_text(plan):
        put(f"<div><p>{in_html(other)}</p></div>")
    if plan.notes:
        put(f"<div>{''.join(f'<p>{in_html(note)}</p>' for note in plan.notes)}</div>")


def _bowl(bowl: "Bowl") -> str:
    zones = wording.list_text([wording.zone_text(zone) for zone in bowl.zones])
    rows = "".join(
        f"<tr><td>{in_html(name)}</td><td>{in_html(wording.grams_text(grams))}</td></tr>"
        for name, grams in bowl.shade_grams
    )
    label = wording.developer_text(bowl.developer)
    on_head = wording.strength_text(bowl.on_head)
    developer = f"<tr><td>{in_html(label)}</td><td>{in_html(wording.grams_text(bowl.developer_grams))}</td></tr>"
    return (
        f'<div class="bowl"><h2>Bowl {bowl.number}: {in_html(zones)}</h2><table class="mix">{rows}{developer}</table>'
        f"<p>{in_html(wording.parts_text(bowl.parts))}; {in_html(bowl.ratio_text)} with developer. "
        f"{in_html(wording.grams_text(bowl.total_grams))} in all, a tenth to spare. "
        f"{in_html(on_head)} on the head.</p>"
        f"<details><summary>Why this bowl</summary>{listed(bowl.why)}</details></div>"
    )


def _zone(zone: "ZonePlan") -> None:
    from estimator.reports.drawings import Patch, swatches

    def lab(colour: Any) -> tuple[float, float, float]:
        return float(colour[0]), float(colour[1]), float(colour[2])

    patches = swatches(
        (
            Patch(lab(zone.now_lab_d65), ("now",)),
            Patch(lab(zone.predicted_lab_d65), ("predicted",)),
            Patch(lab(zone.target_lab_d65), ("target",)),
        )
    )
    name = wording.zone_text(zone.zone)
    put(
        f'<div class="reading"><h2>{in_html(name)}</h2><div class="row wraps">{drawing(patches)}<div>'
        f"<p>Predicted level {in_html(wording.level_text(zone.predicted_level))}; "
        f"{in_html(wording.stage_text(zone.predicted_warmth))}. "
        f"Chance to land in the target: {in_html(wording.odds_text(zone.odds_inside))}.</p>"
        f"{_times(zone)}</div></div>{_reasons(zone)}</div>"
    )


def _times(zone: "ZonePlan") -> str:
    if zone.bowl_number is None:
        return ""
    minutes = wording.minutes_text(zone.minutes_low, zone.minutes_high)
    checks = wording.checks_text(zone.first_check_minutes, zone.check_every_minutes)
    longer = in_html(zone.if_left_longer)
    return (
        f'<p class="figure">{in_html(minutes)}</p><p>Bowl {zone.bowl_number}; {in_html(checks)}. {longer}</p>'
        f"<p class='quiet'>Target: {in_html(wording.target_text(zone.target))}. "
        f"Minutes rest on {in_html(str(zone.rests_on))}.</p>"
    )


def _reasons(zone: "ZonePlan") -> str:
    return "".join(told("caution", reason.message, reason.remedy, said="out of reach") for reason in zone.out_of_reach)
