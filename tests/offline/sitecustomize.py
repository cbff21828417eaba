"""Python runs this as it starts where PYTHONPATH names this folder: child processes stay offline too."""

import network_guard

network_guard.arm()
