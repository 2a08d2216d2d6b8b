"""What is added to a kept visit: what was really mixed, and what came of a zone. What was there stays beside it."""

from typing import TYPE_CHECKING, Any

import streamlit as st

from estimator.pages import kept_clients, opened_client
from estimator.pages.escaping import in_markdown
from estimator.pages.showing import one_sentence
from estimator.reports import wording

if TYPE_CHECKING:
    from estimator.records.visit_record import MixedRecord, VisitRecord

_TURN = "visit_added_turn"
OTHER = "another mix"
OUTCOMES = ("as wished", "too warm", "too cool", "too deep", "too light", "uneven")
MOST_GRAMS = 2000.0


def show(visit_id: str, record: "VisitRecord") -> None:
    """Both forms, each on a key."""
    turn = st.session_state.setdefault(_TURN, 0)  # empty fields once something is kept, and only then
    with st.expander("Write down what was really mixed"):
        _mixed(visit_id, record, turn)
    with st.expander("Write down what came of it"):
        _outcome(visit_id, record, turn)


def bowls_of(record: "VisitRecord") -> dict[int, dict[str, Any]]:
    """The bowls of the plan by their number, as it was kept; none where there is no plan."""
    bowls = (record.plan.content if record.plan else {}).get("bowls") or []
    return {int(bowl.get("number", place)): bowl for place, bowl in enumerate(bowls, 1)}


def _kept(words: str) -> None:
    st.session_state[_TURN] += 1
    st.session_state[opened_client.SAID] = words
    st.rerun()


def _mixed(visit_id: str, record: "VisitRecord", turn: int) -> None:
    bowls = {f"bowl {number}": bowl for number, bowl in bowls_of(record).items()}
    which = OTHER
    if bowls:
        which = st.pills("Which bowl", [*bowls, OTHER], default=next(iter(bowls)), key=f"mixed_which_{turn}") or OTHER
    bowl = bowls.get(which, {})
    planned = dict(bowl.get("shade_grams") or [(name, None) for name, _ in bowl.get("parts", [])])
    with st.form(f"mixed_form_{turn}", border=False):
        grams = {
            name: st.number_input(
                f"{in_markdown(name)} (g)", 0.0, MOST_GRAMS, weight, 0.5, format="%.1f", key=f"grams_{which}_{n}_{turn}"
            )
            for n, (name, weight) in enumerate(planned.items())
        }
        others = "" if bowl else st.text_input("Weighed, such as violet=20.5, clear=10", "", 200, key=f"weighed_{turn}")
        developer = bowl.get("developer") or {}
        developer_grams = st.number_input(
            "Developer (g)", 0.0, MOST_GRAMS, bowl.get("developer_grams"), 1.0, format="%.1f", key=f"dev_{which}_{turn}"
        )
        volume = st.number_input(
            "Strength (volume)", 0.0, 40.0, developer.get("volume"), 1.0, format="%.1f", key=f"vol_{which}_{turn}"
        )
        minutes = st.number_input("Minutes on the hair", 0.0, 240.0, None, 1.0, format="%.0f", key=f"minutes_{turn}")
        note = st.text_input("Note", "", 400, key=f"mixed_note_{turn}")
        sent = st.form_submit_button("Keep what was mixed", key="keep_mixed")
    if sent:
        with one_sentence():
            weighed = tuple((name, weight) for name, weight in grams.items() if weight)
            zones = tuple(map(str, bowl.get("zones", ())))
            kept_clients.add_mixed(
                visit_id,
                _record(int(bowl.get("number", 1)), zones, weighed, others, (developer_grams, volume, minutes), note),
            )
            _kept("What was really mixed is kept, beside what was planned.")


def _record(
    number: int,
    zones: tuple[str, ...],
    weighed: tuple[tuple[str, float], ...],
    others: str,
    figures: tuple[float | None, float | None, float | None],
    note: str,
) -> "MixedRecord":
    """figures : Grams and volume of the developer, minutes on the hair. Raises BadInputError."""
    from estimator.records.visit_record import MixedRecord
    from estimator.records.weighed import need_weighed, weighed_from

    grams, volume, minutes = figures
    pairs = weighed or (weighed_from(others) if others.strip() else ())
    need_weighed(pairs)
    return MixedRecord(number, zones, pairs, grams or 0.0, volume or 0.0, minutes, note.strip())


def _outcome(visit_id: str, record: "VisitRecord", turn: int) -> None:
    zones = [zone.name for zone in record.zones]
    with st.form(f"outcome_form_{turn}", border=False):
        zone = st.pills("Zone", zones, format_func=lambda name: in_markdown(wording.zone_text(name)), key=f"oz_{turn}")
        quick = st.pills("By eye", OUTCOMES, key=f"outcome_quick_{turn}")
        words = st.text_input("In words", "", 400, key=f"outcome_words_{turn}")
        sent = st.form_submit_button("Keep the outcome", key="keep_outcome")
    if sent:
        with one_sentence():
            told = ", ".join(filter(None, (quick, words.strip())))
            kept_clients.add_outcome(visit_id, zone or "the rest", told)
            _kept("The outcome is kept.")
