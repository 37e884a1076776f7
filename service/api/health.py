"""Whether this process is alive and whether it should be sent requests.

A process is *live* as long as it answers at all. It is *ready* from the moment the dataset is verified until it is told to
stop; between the signal and the end of listening it still answers everything, so that nobody who was slow to
look away loses a request.
"""

from dataclasses import dataclass, field


@dataclass(slots=True)
class Health:
    """The state of one process; the signal handler of ``serve`` turns it, the guard and the health routes read it."""

    draining: bool = False
    not_ready_because: list[str] = field(default_factory=list)
    """Reasons, in words for the operator, why requests should not come yet."""

    @property
    def ready(self) -> bool:
        """True when requests are welcome."""
        return not self.draining and not self.not_ready_because

    def drain(self) -> None:
        """Say goodbye: readiness turns false, answers from now on close their connection."""
        self.draining = True

    def answer(self) -> tuple[int, dict[str, object]]:
        """Status and body for ``GET /health/ready``."""
        if self.ready:
            return 200, {"status": "ready"}
        reasons = ["stopping"] if self.draining else list(self.not_ready_because)
        return 503, {"status": "not ready", "reasons": reasons}


PROCESS = Health()
"""The health of this process: a signal reaches a process, not an app."""
