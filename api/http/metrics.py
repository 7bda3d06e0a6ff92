"""What is counted and timed while serving, for Prometheus to fetch."""

from typing import Final

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest

SECONDS: Final = (0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0)


class Metrics:
    """One application's counters; several applications in one process do not share them."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self._series: dict[tuple[str, str, int], tuple[Counter, Histogram]] = {}
        self._answers = Counter(
            "spoolwright_answers",
            "Answers by method, address and status",
            ("method", "address", "status"),
            registry=self.registry,
        )
        self._seconds = Histogram(
            "spoolwright_answer_seconds",
            "Time to answer",
            ("method", "address"),
            buckets=SECONDS,
            registry=self.registry,
        )
        self.again = Counter(
            "spoolwright_answers_again", "Answers given again for the same snapshot", registry=self.registry
        )
        self.refused = Counter(
            "spoolwright_refused_full", "Questions refused because all workers were busy", registry=self.registry
        )
        self.shelf = Gauge("spoolwright_change_set", "Number of the last change set served", registry=self.registry)

    def answered(self, method: str, address: str, status: int, seconds: float) -> None:
        """One more answer; `address` is the template, so that the number of series stays small."""
        key = (method, address, status)
        if key not in self._series:
            self._series[key] = (
                self._answers.labels(method, address, str(status)),
                self._seconds.labels(method, address),
            )
        count, time = self._series[key]
        count.inc()
        time.observe(seconds)

    def text(self) -> bytes:
        """All of it in Prometheus' text format."""
        return generate_latest(self.registry)
