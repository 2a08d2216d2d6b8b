"""What stands before the page on this machine: safe headers, its own names alone, and nobody from elsewhere."""

from starlette.middleware import Middleware

from estimator.serving.door import AtThisMachine
from estimator.serving.headers import OnlyThisHost, SafeHeaders
from estimator.serving.names import LOCAL_HOSTS

THIS_MACHINE_ALONE = (Middleware(SafeHeaders), Middleware(OnlyThisHost, LOCAL_HOSTS), Middleware(AtThisMachine))
