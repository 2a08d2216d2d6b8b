"""On the screen of the plan: a strand that is toned before the head, what it tells, and the plan made anew with it."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import streamlit as st

from estimator.errors import BadInputError
from estimator.pages import draft, kept_plans, kept_scales, kept_trial
from estimator.pages.demo import demo_after
from estimator.pages.draft import Draft, StrandTried
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.photograph import look, take
from estimator.pages.results import bowl_html
from estimator.pages.showing import drawing, listed, one_sentence, put, tell
from estimator.pages.zones import draw_zones
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.feedback.strand_trial import TrialFound
    from estimator.toning.plan import Plan
    from estimator.visit import TrialPlans

_HOW = (
    "Tone a hidden strand with a little of its bowl, rinse it, and dry it. Then photograph it beside the card in the "
    "light of the first photograph, or measure it."
)
_BY_PHOTO, _BY_INSTRUMENT = "a photograph", "an instrument"
_MOST_MINUTES = 60.0


def show(visit: Draft) -> None:
    """The section: what the strands told first, then the drawer to write one down."""
    planned = kept_plans.before_trial(visit).plan
    toned = [zone.zone for zone in planned.zones if zone.bowl_number is not None] if planned else []
    told = {*toned, *visit.tried}
    # In the order of the targets, so that no key moves under a finger when a strand stops its zone.
    zones = [zone for zone in dict.fromkeys((*visit.wishes, *visit.tried)) if zone in told]
    if not zones:
        return
    st.header("Strand trial")
    with one_sentence():
        _told(visit)
    with st.expander("Try the mix on a strand first", expanded=bool(visit.tried)), one_sentence():
        _enter(visit, zones)


# --- what was tried ---


def _enter(visit: Draft, zones: list[str]) -> None:
    st.markdown(_HOW)
    if st.session_state.get("trial_zone") not in zones:  # a reload begins with the strand that was tried
        st.session_state["trial_zone"] = next((zone for zone in zones if zone in visit.tried), zones[0])
    zone = st.pills("Strand of", zones, format_func=_zone_words, required=True, key="trial_zone")
    if zone is None:
        return
    entry = visit.tried.get(zone, StrandTried())
    _came_out(zone, entry)
    if entry.came_out and kept_plans.CAME_OUT[entry.came_out].serves:
        _minutes(visit, zone, entry)
        if entry.minutes:
            _colour(visit, zone, entry)
    if zone in visit.tried:
        st.button("Take this strand out", key=f"trial_out_{zone}", on_click=_take_out, args=(zone,))


def _zone_words(zone: str) -> str:
    return in_markdown(wording.zone_text(zone))


def _keep(zone: str, **fields: Any) -> None:
    """Replace these fields of a strand as it stands now; a plan that was shown goes on being shown."""
    entry = replace(draft.current().tried.get(zone, StrandTried()), **fields)
    _keep_strand(zone, entry)


def _keep_strand(zone: str, entry: StrandTried | None) -> None:
    draft.change(tried=kept_trial.with_entry(draft.current(), zone, entry))
    draft.change(planned=kept_plans.mark(draft.current()))


def _take_out(zone: str) -> None:
    visit = draft.current()
    left = kept_trial.with_entry(visit, zone, None)
    draft.change(trial_used=visit.trial_used and bool(left), trial=visit.trial if left else None)
    for name in ("came_out", "minutes", "by", "l", "a", "b"):
        st.session_state.pop(f"trial_{name}_{zone}", None)
    _keep_strand(zone, None)


def _came_out(zone: str, entry: StrandTried) -> None:
    key = f"trial_came_out_{zone}"

    def said() -> None:
        _keep(zone, came_out=st.session_state[key] or "")

    st.pills(
        f"How the strand of the {_zone_words(zone)} came out, wet and pulled",
        list(kept_plans.CAME_OUT),
        format_func=lambda word: kept_plans.CAME_OUT[word].words,
        default=entry.came_out or None,
        key=key,
        on_change=said,
    )
    if entry.came_out and not kept_plans.CAME_OUT[entry.came_out].serves:
        name = in_markdown(wording.zone_text(zone))
        st.markdown(f"Care counts this as answered for the {name}. Nothing is planned from this strand.")


def _minutes(visit: Draft, zone: str, entry: StrandTried) -> None:
    key = f"trial_minutes_{zone}"

    def said() -> None:
        minutes = st.session_state[key]
        parts = entry.parts or kept_trial.parts_planned(draft.current(), zone)
        _keep(zone, minutes=minutes, parts=parts if minutes else ())

    st.number_input(
        "Minutes on the strand", 0.5, _MOST_MINUTES, entry.minutes, 0.5, format="%g", key=key, on_change=said
    )
    parts = entry.parts or kept_trial.parts_planned(visit, zone)
    mix = wording.parts_text([(name, round(count)) for name, count in parts])
    st.markdown(f"Toned with {in_markdown(mix)}.")


def _colour(visit: Draft, zone: str, entry: StrandTried) -> None:
    key = f"trial_by_{zone}"
    usual = _BY_INSTRUMENT if entry.measured_lab_d65 else _BY_PHOTO
    by = st.pills("Its colour by", (_BY_PHOTO, _BY_INSTRUMENT), default=usual, key=key)
    if by == _BY_INSTRUMENT:
        _measured(zone, entry)
    elif entry.measured_lab_d65 is not None:
        st.button("Leave the measured colour out", key=f"trial_unmeasured_{zone}", on_click=_keep,
                  args=(zone,), kwargs={"measured_lab_d65": None})  # fmt: skip
    else:
        _photograph(visit, zone)


def _measured(zone: str, entry: StrandTried) -> None:
    held = entry.measured_lab_d65 or (None, None, None)
    with st.form(f"trial_measured_{zone}"):
        st.markdown("CIELAB for D65 and 2 degrees.")
        lab = [
            st.number_input(label, low, high, value, 0.1, format="%.2f", key=f"trial_{label[0].lower()}_{zone}")
            for label, low, high, value in zip(
                ("L*", "a*", "b*"), (0.0, -80.0, -80.0), (100.0, 80.0, 80.0), held, strict=True
            )
        ]
        sent = st.form_submit_button("Use this colour")
    if sent:
        lightness, red_green, yellow_blue = lab
        if lightness is None or red_green is None or yellow_blue is None:
            raise BadInputError("The colour needs all three numbers. Enter L*, a* and b*.")
        _keep(zone, measured_lab_d65=(lightness, red_green, yellow_blue))
        st.rerun()


def _photograph(visit: Draft, zone: str) -> None:
    if visit.trial is None:
        take("trial", "Choose or take the photograph of the strand")
        if visit.demo and st.button("Demo photograph of the strands", key="demo_trial"):
            draft.keep_shot("trial", demo_after())
            st.rerun()
        return
    if not visit.trial.zones and visit.before is not None:
        draft.keep_shot("trial", replace(visit.trial, setting=visit.before.setting))
    shot = draft.shot("trial")
    assert shot is not None
    if st.session_state.get("trial_board_of") != (zone, shot.sha256):  # the board follows the strand that is chosen
        st.session_state["trial_board_of"] = (zone, shot.sha256)
        draft.keep_shot("trial", kept_trial.strand_outlined(shot, visit, zone))
        st.rerun()
    view = st.pills("Show", ("Outline", "Photograph"), default="Outline", key="trial_view")
    if view == "Photograph":
        look("trial", shot)
    else:
        draw_zones("trial", shot)


# --- what they told ---


def _told(visit: Draft) -> None:
    if not kept_trial.tried_zones(visit):
        return
    plans = kept_trial.plans(visit)
    for found in plans.trial.found:
        put(_strand(found))
    if plans.trial.surprising:
        from estimator.reports.trial_wording import SURPRISED

        tell("care", SURPRISED, said="check")
    elif plans.before.plan is not None and plans.same_bowls is not None:
        _changes(plans, plans.before.plan, in_use=visit.trial_used)
        _use(visit)


def _strand(found: "TrialFound") -> str:
    import numpy as np

    from estimator.reports.drawings import Patch, swatches
    from estimator.reports.trial_wording import found_lines
    from estimator.scale.level import level_of_colour

    scale, outcome = kept_scales.own_scale(), found.outcome
    spread = found.expected.covariance
    read = found.read_lab_d65
    levels = (
        wording.level_text(level_of_colour(found.expected.lab_d65, spread, scale)),
        wording.level_text(level_of_colour(read, np.array(outcome.after_covariance), scale)),
    )
    lightness, red_green, yellow_blue = (float(value) for value in found.expected.lab_d65)
    labs = (outcome.before_lab_d65, (lightness, red_green, yellow_blue), outcome.after_lab_d65)
    patches = swatches([Patch(lab, (word,)) for lab, word in zip(labs, ("before", "predicted", "read"), strict=True)])
    minutes = wording.minutes_text(outcome.minutes, outcome.minutes)
    return (
        f'<div class="reading"><h3>Strand of {in_html(wording.zone_text(outcome.zone))}, {in_html(minutes)}</h3>'
        f'<div class="row wraps">{drawing(patches)}<div><p>Predicted level {in_html(levels[0])}; read '
        f"{in_html(levels[1])}.</p>{listed(found_lines(found))}</div></div></div>"
    )


def _changes(plans: "TrialPlans", before: "Plan", *, in_use: bool) -> None:
    """What the plan made anew changes: its bowls where a new one is worth mixing, and each zone."""
    from estimator.reports.trial_wording import NEW_BOWL, NO_NEW_BOWL, changed_lines

    now = plans.to_follow.plan
    if now is None:
        return
    new = plans.new_bowl_is_worth_mixing
    put("<div><h3>The plan made anew</h3></div>")
    if not in_use:  # in use, its bowls stand above
        put(f"<div><p>{in_html(NEW_BOWL if new else NO_NEW_BOWL)}</p></div>")
        for bowl in now.bowls if new else ():
            put(bowl_html(bowl))
    was = {zone.zone: zone for zone in before.zones}
    changed = {zone.zone: changed_lines(was[zone.zone], zone) for zone in now.zones if zone.zone in was}
    rows = (
        f"<li><b>{in_html(wording.zone_text(zone))}:</b> {in_html(' '.join(lines))}</li>"
        for zone, lines in changed.items()
    )
    put(f"<div><ul>{''.join(rows)}</ul></div>")


def _use(visit: Draft) -> None:
    """One tap puts the plan made anew in place of the one before, and one takes it back."""
    if visit.trial_used:
        tell("note", "The plan above rests on this strand trial.", said="in use")
        st.button("Back to the plan before the trial", key="trial_unused", on_click=_set_used, args=(False,))
    else:
        st.button("Use the plan made anew", key="trial_used", on_click=_set_used, args=(True,))


def _set_used(used: bool) -> None:
    draft.change(trial_used=used)
