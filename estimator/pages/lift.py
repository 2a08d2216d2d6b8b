"""Step 6: the lift. The running clock first, then what may be lifted, the bowls, each zone, and the strand tests."""

from dataclasses import replace
from typing import TYPE_CHECKING

import streamlit as st

from estimator.pages import clock, draft, kept_lift, kept_readings
from estimator.pages.care import first_aid, show_verdict, usual_cautions
from estimator.pages.draft import Draft, StrandEntry, StrandPicture
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.frame import next_step
from estimator.pages.showing import drawing, one_sentence, put, tell, told
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.lifting.lift_plan import LiftPlan, ZoneLift
    from estimator.lifting.lightener_bowl import LightenerBowl
    from estimator.reports.lift_document import JudgedStrand


def show() -> None:
    """The screen."""
    st.title("The lift")
    clock.show()
    visit = draft.current()
    if visit.before is None or not visit.wishes:
        st.markdown("No zone has a target yet. Step 5 sets them; a zone that is too dark or too warm is lifted here.")
        next_step("after", "after")
        return
    st.pills(
        "Lighten in this visit",
        [False, True],
        format_func=lambda yes: "Yes" if yes else "No",
        default=visit.lightens,
        key="lightens",
        on_change=_keep,
        args=("lightens", "lightens", False),
    )
    if visit.lightens:
        with one_sentence():
            _lift(visit)
        _strands(visit)
    first_aid()
    next_step("after", "after")


def _keep(field: str, key: str, empty: object) -> None:
    """What was entered under `key` goes into the visit; `empty` where nothing is left there."""
    value = st.session_state[key]
    draft.change(**{field: empty if value is None else value})


# --- plan


def _lift(visit: Draft) -> None:
    plan = kept_lift.plan(visit)
    show_verdict(plan.care, "Nothing that was told speaks against lightening.")
    if plan.hidden:
        zones = wording.list_text([wording.zone_text(zone) for zone in plan.hidden])
        st.markdown(f"No mix, strength or minutes for {in_markdown(zones)} while a stop stands. Keep every mix off it.")
    if plan.bowls:
        left, right = st.columns([1, 1], gap="medium")
        with left:
            for bowl in plan.bowls:
                put(_bowl(bowl))
        with right:
            put(usual_cautions())
    for zone in plan.zones:
        _zone(zone, visit)
    if plan.notes:
        put(f"<div>{''.join(f'<p>{in_html(note)}</p>' for note in plan.notes)}</div>")
    _photograph(visit, plan)
    _settings(visit)
    _sheet(visit)


def _bowl(bowl: "LightenerBowl") -> str:
    from estimator.reports import lift_wording

    whole = bowl.whole
    zones = wording.list_text([wording.zone_text(zone) for zone in bowl.zones])
    rows = "".join(
        f"<tr><td>{in_html(what)}</td><td>{in_html(grams)}</td></tr>" for what, grams in lift_wording.mix_lines(whole)
    )
    half = "Mix half of it fresh for the second half of the head. " if bowl.batches > 1 else ""
    return (
        f'<div class="bowl"><h2>Lightener {bowl.number}: {in_html(zones)}</h2><table class="mix">{rows}</table>'
        f"<p>{in_html(whole.ratio_text)} powder to developer; {in_html(wording.grams_text(whole.total_grams))} in all, "
        f"a tenth to spare. {in_html(wording.strength_text(whole.on_head))} on the head. {half}"
        f"Used within {in_html(wording.number_text(bowl.fresh_minutes, 0))} minutes.</p></div>"
    )


def _zone(lift: "ZoneLift", visit: Draft) -> None:
    from estimator.reports import lift_wording
    from estimator.reports.lift_drawings import Marked, lift_curve

    order = f"{lift.order}. " if lift.order is not None else ""
    name = in_html(wording.zone_text(lift.zone))
    lines = "".join(
        f"<p><b>{in_html(lift_wording.line_text(line))}</b>. {in_html(line.handling)}</p>" for line in lift.lines
    )
    curve = ""
    if lift.curve is not None and lift.forecast is not None:
        marked = Marked(lift.level_today, lift.most_minutes, lift.forecast.rinse_minutes)
        curve = drawing(lift_curve(lift.curve, marked))
    put(
        f'<div class="reading"><h2>{order}{name}</h2><div class="row wraps">{curve}<div>'
        f"<p><b>{in_html(lift_wording.reachable_text(lift))}</b></p>"
        f"<p>Now level {in_html(wording.level_text(lift.level_now))}.</p>{_mix(lift)}{_times(lift)}{lines}</div></div>"
        f"{_reasons(lift)}</div>"
    )
    if lift.lines:
        _laid(lift, visit)
    if lift.mix is not None:
        _start(lift)


def _mix(lift: "ZoneLift") -> str:
    from estimator.reports import lift_wording

    if lift.mix is None:
        return "<p>Stopped: no mix is shown for this zone.</p>" if lift.care.is_stop else ""
    weighed = ", ".join(f"{what} {grams}" for what, grams in lift_wording.mix_lines(lift.mix))
    return f"<p>On this zone: {in_html(weighed)}; {in_html(lift_wording.laid_text(lift.laid))}.</p>"


def _times(lift: "ZoneLift") -> str:
    from estimator.reports import lift_wording

    if lift.most_minutes is None or lift.forecast is None:
        return ""
    every = lift.check_every_minutes or 0.0
    checks = wording.checks_text(lift.first_check_minutes or every, every)
    most = lift_wording.most_minutes_text(lift.most_minutes)
    return (
        f'<p class="figure">{in_html(most)}</p><p>{in_html(checks[:1].upper() + checks[1:])}. '
        f"{in_html(lift.forecast.message)}</p><p class='quiet'>{in_html(lift.basis)}</p>"
    )


def _reasons(lift: "ZoneLift") -> str:
    return "".join(told("caution", reason.message, reason.remedy, said="know") for reason in lift.reasons)


def _laid(lift: "ZoneLift", visit: Draft) -> None:
    from estimator.lifting.laying import LAID_WORDS

    key = f"laid_{lift.zone}"

    def chosen() -> None:
        word = st.session_state[key] or LAID_WORDS[0]
        draft.change(laid={**draft.current().laid, lift.zone: word})

    st.pills(
        f"Mix on {in_markdown(wording.zone_text(lift.zone))}",
        LAID_WORDS,
        default=visit.laid.get(lift.zone, LAID_WORDS[0]),
        key=key,
        on_change=chosen,
    )


def _start(lift: "ZoneLift") -> None:
    """The start of this zone's clock: pressed as the lightener goes on."""
    running = kept_lift.store().load() if kept_lift.clock_runs() else None
    if running is not None and running.is_running(lift.zone):
        put("<div><p><b>Its clock runs.</b> It stands at the top of this screen.</p></div>")
        return
    sequence = running.sequence if running is not None else 0
    with st.container(key=f"clock_start_{lift.zone}"):
        name = in_markdown(wording.zone_text(lift.zone))
        st.button(
            f"Start the clock: {name}",
            key=f"start_{lift.zone}",
            on_click=_started,
            args=(lift, sequence),
            width="stretch",
        )


def _started(lift: "ZoneLift", sequence: int) -> None:
    clock.start(kept_lift.start_of(lift), sequence)


def _photograph(visit: Draft, plan: "LiftPlan") -> None:
    """The photograph with the lines of demarcation over it, where there are any."""
    if visit.before is None or not any(lift.lines for lift in plan.zones):
        return
    with st.expander("Lines on the photograph"):
        put(f'<div class="print">{kept_lift.lines_picture(visit)}</div>')


def _settings(visit: Draft) -> None:
    from estimator.lifting.additives import additive_steps

    with st.expander("Additive and card"):
        st.number_input(
            "Bond-protecting additive (% of the bowl, as its maker says)",
            0.0,
            20.0,
            visit.additive_percent,
            0.5,
            format="%.1f",
            key="additive",
            on_change=_keep,
            args=("additive_percent", "additive", 0.0),
        )
        st.number_input(
            "Middle to middle of two patches of the card (mm)",
            min_value=5.0,
            max_value=100.0,
            value=visit.card_pitch_mm,
            step=0.5,
            format="%.1f",
            placeholder="not measured",
            key="pitch",
            on_change=_keep,
            args=("card_pitch_mm", "pitch", None),
        )
        rows = "".join(f"<li><b>{in_html(step.title)}.</b> {in_html(step.text)}</li>" for step in additive_steps())
        put(f"<div><ul>{rows}</ul></div>")


def _sheet(visit: Draft) -> None:
    key = kept_lift.lift_key(visit)
    made = st.session_state.get("lift_sheet")
    if made and made[0] == key:
        files = made[1]
        kinds = (("PDF", files.pdf, "pdf", "application/pdf"), ("web page", files.html, "html", "text/html"))
        for label, content, ending, kind in kinds:
            st.download_button(
                f"Download the lift sheet ({label})",
                content,
                f"{files.stem}.{ending}",
                kind,
                key=f"lift_sheet_{ending}",
                on_click="ignore",
            )
    elif st.button("Make the lift sheet", key="make_lift_sheet"):
        with st.spinner("Setting the sheet"):
            st.session_state["lift_sheet"] = (key, kept_lift.sheet(visit))
        st.rerun()


# --- strand tests


def _strands(visit: Draft) -> None:
    st.header("Strand tests")
    with one_sentence():
        for tested in kept_lift.strand_tests(visit):
            _tested(tested)
    with st.expander("Test a strand"):
        zones = list(visit.wishes)
        zone = st.pills("Zone", zones, format_func=_spoken, default=zones[0], required=True, key="strand_zone")
        if zone is not None:
            _enter(zone, visit.strands.get(zone, StrandEntry()))


def _spoken(zone: str) -> str:
    return in_markdown(wording.zone_text(zone))


def _tested(tested: "JudgedStrand") -> None:
    from estimator.reports.lift_drawings import Marked, lift_curve
    from estimator.reports.lift_sheet import strand_facts

    test = tested.test
    for call in test.stops:
        tell("stop", call.message, call.remedy)
    rows = "".join(f"<p><b>{in_html(label)}:</b> {in_html(words)}</p>" for label, words in strand_facts(test))
    curve = drawing(lift_curve(test.curve, Marked(test.reach.level, None, test.forecast.rinse_minutes)))
    put(
        f'<div class="reading"><h2>{in_html(wording.zone_text(tested.zone))}</h2><div class="row wraps">{curve}'
        f"<div><p><b>{in_html(test.can)}</b></p>{rows}</div></div></div>"
    )


def _enter(zone: str, entry: StrandEntry) -> None:
    """One more photograph or look at the strand; what was entered is listed and can be taken back."""
    turn = st.session_state.setdefault(f"strand_turn_{zone}", 0)
    with one_sentence(), st.form(f"strand_{zone}_{turn}"):
        minute = st.number_input("Minute", 0.0, 240.0, None, 1.0, format="%g", key=f"strand_minute_{zone}_{turn}")
        level = st.number_input("Level seen", 1.0, 10.0, None, 0.5, format="%.1f", key=f"strand_level_{zone}_{turn}")
        photo = st.file_uploader("Photograph, with the card, strand dry", key=f"strand_photo_{zone}_{turn}")
        volume = st.number_input(
            "Developer (volume)", 1.0, 40.0, entry.volume, 1.0, format="%g", key=f"vol_{zone}_{turn}"
        )
        if st.form_submit_button("Add", key=f"add_strand_{zone}"):
            _add(zone, entry, minute, (level, photo.getvalue() if photo else b""), volume)
    for what in (*(f"photo at minute {taken.minutes:g}" for taken in entry.photos), *_looks(entry)):
        st.text(what)
    if entry != StrandEntry() and st.button("Take the strand back", key=f"drop_strand_{zone}"):
        draft.change(strands={name: kept_one for name, kept_one in draft.current().strands.items() if name != zone})
        st.rerun()


def _looks(entry: StrandEntry) -> tuple[str, ...]:
    return tuple(f"level {wording.plain_text(level)} at minute {minute:g}" for minute, level in entry.looks)


def _add(zone: str, entry: StrandEntry, minute: float | None, seen: tuple[float | None, bytes], volume: float) -> None:
    from estimator.errors import BadInputError

    level, photo_bytes = seen
    if minute is None or (level is None and not photo_bytes):
        raise BadInputError("Write down the minute, and a level or a photograph.")
    if photo_bytes:
        taken = StrandPicture(minute, kept_readings.hash_of(photo_bytes), photo_bytes)
        entry = replace(entry, photos=(*entry.photos, taken))
    elif level is not None:
        entry = replace(entry, looks=(*entry.looks, (minute, level)))
    draft.change(strands={**draft.current().strands, zone: replace(entry, volume=volume)})
    st.session_state[f"strand_turn_{zone}"] += 1
    st.rerun()
