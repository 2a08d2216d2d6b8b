"""On the screen after: what to do where a result missed, and learning from it."""

from typing import TYPE_CHECKING

import streamlit as st

from estimator.feedback.first_aid import ANY_SIGN
from estimator.pages import kept_plans, kept_results, taught
from estimator.pages.care import show_verdict, usual_cautions
from estimator.pages.draft import Draft
from estimator.pages.escaping import in_html
from estimator.pages.showing import capital, listed, one_sentence, put, tell
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.feedback.first_aid import FirstAid, Withheld
    from estimator.feedback.learning import Belief, Unknown
    from estimator.toning.plan import Bowl, Plan, ZonePlan
    from estimator.visit import CheckedPlan, Lesson, ZoneRescue


def show_results(visit: Draft) -> None:
    """Both sections, for a visit with targets and a photograph after that was read."""
    if not visit.wishes:
        return
    with one_sentence():
        _what_now(visit)
    with one_sentence():
        _learning(visit)


# --- it missed: what now ---


def _what_now(visit: Draft) -> None:
    rescue = kept_results.rescue(visit)
    if not rescue.missed:
        st.header("The result")
        tell("clear", "Every zone reached its target, as far as the photograph tells.", said="nothing to mend")
        return
    st.header("It missed: what now")
    st.markdown("Steps and washing times are common practice; the maker's instructions stand above them.")
    first = dict.fromkeys(step for zone in rescue.missed for step in zone.steps if step.sign == ANY_SIGN)
    put(f"<div><p><b>First, everywhere</b></p><ol>{''.join(f'<li>{_step(step)}</li>' for step in first)}</ol></div>")
    for zone in rescue.missed:
        _missed_zone(zone)
    fine = [wording.zone_text(zone.zone) for zone in rescue.zones if zone.miss.reached]
    if fine:
        put(f"<div><p>Nothing to mend: {in_html(wording.list_text(fine))}.</p></div>")
    if rescue.second is not None and rescue.second.plan is not None:
        with st.expander("The second bowl, planned from the result"):
            _second_bowl(rescue.second, rescue.second.plan)


def _missed_zone(zone: "ZoneRescue") -> None:
    signs = ", ".join(wording.sign_text(sign) for sign in zone.miss.signs)
    steps = "".join(f"<li>{_step(step)}</li>" for step in zone.steps if step.sign != ANY_SIGN)
    washing = f"<p>{in_html(capital(wording.washing_text(zone.washing)))}.</p>" if zone.washing else ""
    put(
        f'<div class="reading"><h2>{in_html(wording.zone_text(zone.zone))}</h2>'
        f"<p><b>{in_html(capital(signs))}</b></p><p>{in_html(zone.miss.signs[0].means)}</p>"
        f"<ol>{steps}</ol>{washing}</div>"
    )
    with st.expander(f"What happened to the {wording.zone_text(zone.zone)}"):
        put(f"<div><p>Light that the hair takes away, against hair of the colour wanted:</p>{_light(zone)}</div>")
        if zone.causes:
            told = tuple(capital(wording.cause_text(cause)) + "." for cause in zone.causes[:3])
            put(f"<div><p>Perhaps:</p>{listed(told)}</div>")


def _light(zone: "ZoneRescue") -> str:
    return listed(tuple(capital(wording.light_text(light)) + "." for light in zone.light))


def _step(step: "FirstAid | Withheld") -> str:
    from estimator.feedback.first_aid import Withheld

    return f"<b>Not today:</b> {in_html(step.why)}" if isinstance(step, Withheld) else in_html(step.text)


def _second_bowl(checked: "CheckedPlan", plan: "Plan") -> None:
    show_verdict(checked.care)
    if plan.shelf_demo:
        put("<div><p><span class='unverified'>DEMO shelf: invented shades, not for use on anybody</span></p></div>")
    for bowl in plan.bowls:
        put(bowl_html(bowl))
    rows = "".join(_minutes_row(zone) for zone in plan.zones if zone.bowl_number is not None)
    put(f"<div><table class='mix'>{rows}</table></div>" if rows else "<div><p>No bowl would bring it nearer.</p></div>")
    if rows:
        rests_on = dict.fromkeys(str(zone.rests_on) for zone in plan.zones if zone.bowl_number is not None)
        put(f"<div><p class='quiet'>Minutes rest on {in_html(wording.list_text(list(rests_on)))}.</p></div>")
    put(usual_cautions())


def bowl_html(bowl: "Bowl") -> str:
    """A bowl in short: what to weigh, its parts and its ratio."""
    zones = wording.list_text([wording.zone_text(zone) for zone in bowl.zones])
    rows = "".join(_row(name, wording.grams_text(grams)) for name, grams in bowl.shade_grams)
    rows += _row(wording.developer_text(bowl.developer), wording.grams_text(bowl.developer_grams))
    return (
        f'<div class="bowl"><h3>Bowl {bowl.number}: {in_html(zones)}</h3><table class="mix">{rows}</table>'
        f"<p>{in_html(wording.parts_text(bowl.parts))}; {in_html(bowl.ratio_text)} with developer.</p></div>"
    )


def _row(what: str, amount: str) -> str:
    return f"<tr><td>{in_html(what)}</td><td>{in_html(amount)}</td></tr>"


def _minutes_row(zone: "ZonePlan") -> str:
    checks = wording.checks_text(zone.first_check_minutes, zone.check_every_minutes)
    return _row(f"{wording.zone_text(zone.zone)}: {checks}", wording.minutes_text(zone.minutes_low, zone.minutes_high))


# --- learn from this result ---


def _learning(visit: Draft) -> None:
    planned = kept_plans.plan(visit).plan
    toned = [zone for zone in planned.zones if zone.bowl_number is not None] if planned else []
    if not toned:
        return
    st.header("Learn from this result")
    st.markdown(
        "If the bowls were mixed as planned, say how long each zone had. The next plan then knows these shades and "
        "this client better. Only verified photographs teach."
    )
    minutes = {zone.zone: _minutes_of(zone) for zone in toned}
    lesson = kept_results.lesson(visit, minutes)
    held = {outcome.key for outcome in taught.journal(visit).outcomes}
    learned = [outcome for outcome in lesson.outcomes if outcome.key in held]
    if learned:
        _learned(visit, [outcome.zone for outcome in learned], [outcome.key for outcome in learned])
    else:
        _offer(visit, lesson)
    _believed(visit)


def _minutes_of(zone: "ZonePlan") -> float:
    usual = float(round(max(1.0, (zone.minutes_low + zone.minutes_high) / 2)))
    said: float = st.number_input(
        f"Minutes on the {wording.zone_text(zone.zone)}",
        1.0,
        60.0,
        usual,
        1.0,
        format="%.0f",
        key=f"done_{zone.zone}",
    )
    return said


def _offer(visit: Draft, lesson: "Lesson") -> None:
    for refused in lesson.refused:
        tell("note", refused.why, said="not learned")
    if lesson.surprising:
        names = wording.list_text([wording.zone_text(zone) for zone in lesson.surprising])
        tell("care", f"{capital(names)}: far from what the bowl and the minutes should give.", _CHECK, said="check")
        if st.button("They are right: learn from every zone", key="learn_all"):
            taught.learn(visit, lesson.outcomes)
            st.rerun()
    teaching = lesson.unsurprising
    label = "Learn from the other zones" if lesson.surprising else "Learn from this result"
    if teaching and st.button(label, key="learn"):
        taught.learn(visit, teaching)
        st.rerun()


_CHECK = "Check what was mixed, for how long, and the outline. It is learned only if you say that they are right."


def _learned(visit: Draft, zones: list[str], keys: list[str]) -> None:
    names = wording.list_text([wording.zone_text(zone) for zone in zones])
    where = "It is kept with this demo alone." if visit.demo else f"It is kept in {taught.store().path}."
    tell("note", f"Learned from {names}. {where}", said="learned")
    if st.button("Take it back", key="unlearn"):
        taught.take_back(visit, keys)
        st.rerun()


def _believed(visit: Draft) -> None:
    """What is believed of shades and of this client, beside what was believed before any result."""
    from estimator.feedback.learning import ClientUptake, ShadeStrength, believe

    belief = believe(taught.journal(visit).outcomes)
    named: list[tuple[str, Unknown]] = []
    named += [(one.name, one) for one in belief.unknowns if isinstance(one, ShadeStrength)]
    named += [(f"client {one.client}", one) for one in belief.unknowns if isinstance(one, ClientUptake)]
    if not named:
        return
    with st.expander(f"What was learned so far, from {wording.count_text(belief.outcomes, 'zone')}"):
        rows = "".join(_belief_row(name, belief, one) for name, one in named)
        put(
            "<div><p>Dye given by a shade, or taken by a client's hair, against what swatch and tables say. "
            f"Intervals hold nine times in ten.</p>{rows}</div>"
        )


def _belief_row(name: str, belief: "Belief", unknown: "Unknown") -> str:
    from estimator.feedback.applying import interval_of
    from estimator.feedback.learning import NOTHING_LEARNED

    before = wording.factor_text(*interval_of(NOTHING_LEARNED, unknown))
    now = wording.factor_text(*interval_of(belief, unknown))
    return (
        f'<div class="reading"><p><b>{in_html(name)}</b></p><p class="amounts">Now {in_html(now)}</p>'
        f'<p class="amounts quiet">Before any result {in_html(before)}</p></div>'
    )
