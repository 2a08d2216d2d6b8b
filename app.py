"""The page: `streamlit run app.py`. The screens of a visit, in their order, and the areas beside it."""

from streamlit import runtime
from streamlit.starlette import App

from estimator.access.roles import Right
from estimator.pages import after, care, clients, clock, lift, phones, photograph, readings, remote, targets, zones
from estimator.pages.frame import Area, Step, run
from estimator.serving.here import THIS_MACHINE_ALONE

STEPS = (
    Step("Photograph", "photograph", photograph.show),
    Step("Zones", "zones", zones.show),
    Step("Readings", "readings", readings.show),
    Step("Care", "care", care.show),
    Step("Plan", "plan", targets.show),
    Step("Lift", "lift", lift.show),
    Step("After", "after", after.show),
)
AREAS = (
    Area("Clients", "clients", clients.show),
    Area("From a client", "from_client", remote.show, Right.WORK),
    *phones.area(),
)

if runtime.exists():  # a browser asks for a screen
    run("Tressmeter", STEPS, AREAS, clock.bar)
else:  # the server starts, and is to answer to this machine alone
    app = App(__file__, middleware=THIS_MACHINE_ALONE)
