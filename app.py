"""The page: `streamlit run app.py`. The screens of a visit, in their order, and the areas beside it."""

from estimator.pages import after, care, clients, clock, lift, photograph, readings, targets, zones
from estimator.pages.frame import Area, Step, run

STEPS = (
    Step("Photograph", "photograph", photograph.show),
    Step("Zones", "zones", zones.show),
    Step("Readings", "readings", readings.show),
    Step("Care", "care", care.show),
    Step("Plan", "plan", targets.show),
    Step("Lift", "lift", lift.show),
    Step("After", "after", after.show),
)
AREAS = (Area("Clients", "clients", clients.show),)

run("Tressmeter", STEPS, AREAS, clock.bar)
