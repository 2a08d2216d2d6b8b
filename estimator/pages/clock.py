"""The running clock on the page: read from its record at every turn, so that a reload, a lock or a second page lose
nothing. What is pressed goes to the record at once; what the page remembers is only what is being typed."""

import hashlib
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

import streamlit as st

from estimator.access.roles import Right
from estimator.errors import EstimatorError
from estimator.pages import kept_lift, person, unfinished
from estimator.pages.escaping import in_html, in_markdown
from estimator.pages.showing import drawing, one_sentence, put, tell, told
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.lifting.clock import LiftClock
    from estimator.lifting.clock_events import Event
    from estimator.lifting.clock_now import ZoneClock

REFRESH_SECONDS = 1.0
_SKIN, _STRETCH, _HEAT = "skin", "stretch", "heat"
_ASKED = {_SKIN: "What the client says of the skin", _STRETCH: "A wet strand, stretched", _HEAT: "Mix or foil, felt"}


def bar() -> None:
    """On every screen: alarms that nobody has heard, and one line for what runs."""
    if not kept_lift.clock_runs():
        return
    runs = False
    with one_sentence():
        runs = _any_running()
    if runs:
        st.fragment(_bar, run_every=REFRESH_SECONDS)()


def _any_running() -> bool:
    clock = kept_lift.store().load()
    return any(clock.is_running(zone) for zone in clock.zones)


def _bar() -> None:
    from estimator.lifting.clock_now import read_clock
    from estimator.lifting.clock_store import instant_now
    from estimator.reports import lift_wording

    clock = kept_lift.store().load()
    running = [zone for zone in read_clock(clock, instant_now()) if zone.running]
    sounding = [zone for zone in running if zone.alarm]
    for zone in sounding:
        _alarm(zone, clock.sequence)
    if sounding:
        _sound()
    rows = "".join(
        f"<span><b>{in_html(wording.zone_text(zone.zone))}</b> {lift_wording.clock_text(zone.minutes)}, "
        f"{in_html('rinse now' if zone.calls else lift_wording.next_look_text(zone))}</span>"
        for zone in running
    )
    with st.container(key="clock_bar"):
        put(f'<div class="running" role="timer" aria-live="off">{rows}</div>')


def _alarm(zone: "ZoneClock", sequence: int) -> None:
    """A passed maximum, until somebody puts a name to having heard it; it comes back until the zone is rinsed."""
    name = wording.zone_text(zone.zone)
    call = next(call for call in zone.calls if call.code == "maximum-passed")
    with st.container(key=f"alarm_{zone.zone}"):
        put(f'<div role="alert">{told("stop", f"{name}: {call.message}", call.remedy, said="rinse now")}</div>')
        st.text_input("Who has heard this", max_chars=80, key=f"heard_who_{zone.zone}")
        with st.container(key=f"clock_heard_{zone.zone}", horizontal=True):
            _key("Heard", "heard", zone.zone, sequence)
            _key("Rinsed", "rinse", zone.zone, sequence, place="_now")


def _sound() -> None:
    from estimator.pages.sound import alarm_sound

    with st.container(key="clock_sound"):
        st.audio(alarm_sound(), format="audio/wav", autoplay=True, loop=True)


def _key(label: str, kind: str, zone: str, sequence: int, place: str = "") -> None:
    """A button of the clock. What goes with it is read when it is pressed, not when it was drawn."""
    args = (kind, zone, sequence)
    st.button(label, key=f"{kind}{place}_{zone}", on_click=_press, args=args, width="stretch")


# --- the screen's own part


def show() -> None:
    """Every zone of the clock with big figures; nothing where no clock was ever started."""
    refused = st.session_state.pop("clock_refused", "")
    if refused:
        tell("not possible", refused)
    if not kept_lift.clock_runs():
        return
    clock = kept_lift.store().load()
    if not clock.zones:
        return
    st.header("The clock")
    if _any_running():
        st.fragment(_zones, run_every=REFRESH_SECONDS)()
    else:
        _zones()
        st.button("Put the clock away", key="put_away", on_click=_put_away)
    for zone in clock.zones:
        if clock.is_running(zone):
            _look(zone, clock)
            _more(zone, clock)


def _zones() -> None:
    from estimator.lifting.clock_now import read_clock
    from estimator.lifting.clock_store import instant_now

    clock = kept_lift.store().load()
    for zone in read_clock(clock, instant_now()):
        _zone(zone, clock)


def _zone(zone: "ZoneClock", clock: "LiftClock") -> None:
    from estimator.reports import lift_wording

    name = in_html(wording.zone_text(zone.zone))
    if not zone.running:
        over = f", {in_html(lift_wording.left_text(zone))}" if zone.over_minutes > 0 else ""
        put(f"<div class='reading'><p><b>{name}</b> rinsed at {lift_wording.clock_text(zone.minutes)}{over}</p></div>")
        return
    due = " due" if zone.check_due or zone.calls else ""
    look = "rinse now" if zone.calls else lift_wording.next_look_text(zone)
    with st.container(key=f"clock_zone_{zone.zone}"):
        left, right = st.columns([1, 1], gap="medium")
        with left:
            put(
                f'<div class="clock{due}"><h2>{name}</h2>'
                f'<p class="time" role="timer">{lift_wording.clock_text(zone.minutes)}</p>'
                f'<p class="next">{in_html(look)}</p><p class="amounts">{in_html(lift_wording.left_text(zone))}</p>'
                f"{_seen(zone)}{_calls(zone)}{_disagree(zone)}</div>"
            )
            with st.container(key=f"clock_keys_{zone.zone}", horizontal=True):
                st.button("Look", key=f"look_{zone.zone}", on_click=_open_look, args=(zone.zone,), width="stretch")
                _key("Rinsed", "rinse", zone.zone, clock.sequence)
        with right:
            put(f"<div>{drawing(_curve(zone, clock))}<p class='quiet'>{in_html(_basis(zone, clock))}</p></div>")


def _seen(zone: "ZoneClock") -> str:
    if zone.last_level is None and zone.target_level is None:
        return ""
    seen = f"last seen level {wording.plain_text(zone.last_level)}" if zone.last_level is not None else "not seen yet"
    aim = f", aim {wording.plain_text(zone.target_level)}" if zone.target_level is not None else ""
    return f'<p class="amounts">{in_html(seen + aim)}</p>'


def _calls(zone: "ZoneClock") -> str:
    return "".join(told("stop", call.message, call.remedy, said="rinse now") for call in zone.calls)


def _disagree(zone: "ZoneClock") -> str:
    if not zone.clocks_disagree:
        return ""
    message = "The machine's two clocks disagree; the longer time counts."
    return told("care", message, "Look at a watch, then settle it below.", said="care")


@st.cache_resource(max_entries=24, show_spinner=False)
def _fitted(_clock: "LiftClock", zone: str, key: str) -> Any:
    from estimator.lifting.clock_curve import curve_on_clock

    return curve_on_clock(_clock, zone)


def _curve_of(zone: "ZoneClock", clock: "LiftClock") -> Any:
    # Anew only when something was written down about this zone.
    return _fitted(clock, zone.zone, repr([event.id for event in clock.run_of(zone.zone)]))


def _curve(zone: "ZoneClock", clock: "LiftClock") -> str:
    from estimator.reports.lift_drawings import Marked, lift_curve

    marked = Marked(zone.target_level, zone.most_minutes, None, zone.minutes)
    return lift_curve(_curve_of(zone, clock), marked)


def _basis(zone: "ZoneClock", clock: "LiftClock") -> str:
    return str(_curve_of(zone, clock).basis)


# --- what is pressed


def start(event: "Event", sequence: int) -> None:
    """A zone's lightener goes on now. A press sent twice counts once."""
    mark = unfinished.name_in_hand()
    _write(replace(event, id=_id_of_press("start", event.zone, sequence), visit=mark), sequence)


# What each press says, by the name of the field that holds it.
_SAID = {
    "rinse": {},
    "heard": {"who": "heard_who"},
    "limit": {"most_minutes": "limit_most", "who": "limit_who", "note": "limit_why"},
    "settle": {"true_minutes": "limit_watch", "who": "limit_who", "note": "limit_why"},
}


def _press(kind: str, zone: str, sequence: int) -> None:
    from estimator.lifting.clock_events import Kind, Said, new_event
    from estimator.lifting.clock_store import instant_now

    said = {name: st.session_state.get(f"{field}_{zone}") for name, field in _SAID[kind].items()}
    try:
        event = new_event(Kind(kind), zone, instant_now(), **cast("Said", said))
    except EstimatorError as fault:
        st.session_state["clock_refused"] = str(fault)
        return
    _write(replace(event, id=_id_of_press(kind, zone, sequence)), sequence)


def _id_of_press(kind: str, zone: str, sequence: int) -> str:
    """The same for a press that is sent twice, on this page or on another that shows the same record."""
    return hashlib.sha256(f"{kind}\n{zone}\n{sequence}".encode()).hexdigest()


def _write(event: "Event", sequence: int) -> None:
    try:
        person.must(Right.WORK)
        kept_lift.store().add(event, sequence)
    except EstimatorError as fault:
        st.session_state["clock_refused"] = str(fault)


def _put_away() -> None:
    from datetime import datetime

    try:
        person.must(Right.WORK)
        kept_lift.store().put_away(datetime.now().astimezone())
    except EstimatorError as fault:
        st.session_state["clock_refused"] = str(fault)


def _open_look(zone: str) -> None:
    st.session_state[f"looking_{zone}"] = True


def _look(zone: str, clock: "LiftClock") -> None:
    """One look: level by eye or by photograph, and what was asked and felt."""
    from estimator.lifting.stopping import NOT_SEEN, sign_words

    name = in_markdown(wording.zone_text(zone))
    with st.expander(f"Look at {name}", expanded=st.session_state.get(f"looking_{zone}", False)):
        turn = st.session_state.setdefault(f"look_turn_{zone}", 0)
        with st.form(f"look_form_{zone}_{turn}"):
            level = st.number_input("Level seen", 1.0, 10.0, None, 0.5, format="%.1f", key=f"level_{zone}_{turn}")
            felt = {
                sign: st.pills(asked, sign_words()[sign], default=NOT_SEEN[sign], key=f"{sign}_{zone}_{turn}")
                for sign, asked in _ASKED.items()
            }
            photo = st.file_uploader(
                "Photograph of one strand: wiped, blotted, dry, with the card", key=f"photo_{zone}_{turn}"
            )
            sent = st.form_submit_button("Write the look down", key=f"send_look_{zone}")
        if sent:
            said = {sign: word or NOT_SEEN[sign] for sign, word in felt.items()}
            with one_sentence():
                _write_look(zone, clock.sequence, level, photo.getvalue() if photo else b"", said)


def _write_look(zone: str, sequence: int, level: float | None, photo_bytes: bytes, said: dict[str, str]) -> None:
    from estimator.lifting.clock_events import Kind, new_event
    from estimator.lifting.clock_store import instant_now

    person.must(Right.WORK)
    now = instant_now()  # the look was now, however long its photograph takes to be read
    event = new_event(Kind.CHECK, zone, now, level=level, skin=said[_SKIN], stretch=said[_STRETCH], heat=said[_HEAT])
    if event.signs.stops or not photo_bytes:
        # A sign of harm is in the record before anything else is tried.
        kept_lift.store().add(event, sequence)
    if photo_bytes:
        read = kept_lift.read_check(photo_bytes)
        shown = min(max(read.level, 1.0), 10.0)
        mark = _id_of_press("photo", event.id, sequence)
        seen = replace(event, id=mark, level=shown, photo_sha256=read.photo_sha256, seen=read.seen)
        kept_lift.store().add(seen)
    st.session_state[f"look_turn_{zone}"] += 1
    st.session_state[f"looking_{zone}"] = False
    st.rerun()


def _more(zone: str, clock: "LiftClock") -> None:
    """Another maximum, and settling by a watch: both with a name and a reason."""
    with st.expander(f"Maximum and watch: {in_markdown(wording.zone_text(zone))}"):
        st.number_input("Maximum (minutes)", 1.0, 50.0, None, 1.0, format="%.0f", key=f"limit_most_{zone}")
        st.number_input("A watch says (minutes)", 0.0, 240.0, None, 1.0, format="%.0f", key=f"limit_watch_{zone}")
        st.text_input("Who", max_chars=80, key=f"limit_who_{zone}")
        st.text_input("Reason", max_chars=400, key=f"limit_why_{zone}")
        with st.container(key=f"clock_limits_{zone}", horizontal=True):
            _key("Set the maximum", "limit", zone, clock.sequence)
            _key("Settle by the watch", "settle", zone, clock.sequence)
