"""The page: `streamlit run app.py`. The screens of a visit, in their order."""

from estimator.pages import after, care, clock, lift, photograph, readings, targets, zones
from estimator.pages.frame import Step, run

STEPS = (
    Step("Photograph", "photograph", photograph.show),
    Step("Zones", "zones", zones.show),
    Step("Readings", "readings", readings.show),
    Step("Care", "care", care.show),
    Step("Plan", "plan", targets.show),
    Step("Lift", "lift", lift.show),
    Step("After", "after", after.show),
)

run("Tressmeter", STEPS, clock.bar)
