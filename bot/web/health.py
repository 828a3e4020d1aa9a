"""For those who run the service: is it alive, is it ready, what does it count. Never personal data."""

from __future__ import annotations

from collections.abc import Iterator

from flask import Blueprint, Flask, Response, current_app, request
from prometheus_client import CollectorRegistry, Counter, generate_latest
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_PLAIN_0_0_4

from bot.store.counts import work_waiting
from bot.store.deaf import alarms
from bot.store.gateways import denials
from bot.web.parts import parts

door = Blueprint("health", __name__)


class _Work:
    """Counts what waits at the moment of asking."""

    def collect(self) -> Iterator[Metric]:
        waiting = work_waiting(parts().store, parts().clock.now())
        gauge = GaugeMetricFamily("dunnock_waiting", "What waits, by kind.", labels=["kind"])
        for kind, n in waiting.items():
            gauge.add_metric([kind], n)
        yield gauge
        with parts().store.read() as conn:
            denied = [denial.gateway for denial in denials(conn)]
        alarm = GaugeMetricFamily("dunnock_gateway_denied", "Gateways that deny us.", labels=["gateway"])
        for name in denied:
            alarm.add_metric([name], 1)
        yield alarm
        with parts().store.read() as conn:
            heard = alarms(conn, parts().clock.now(), parts().clock.machine())
        deaf = GaugeMetricFamily("dunnock_deaf", "What is not heard now.", labels=["what", "gateway"])
        for each in heard:
            deaf.add_metric([each.what, each.name], 1)
        yield deaf


@door.record_once
def _count_requests(setup: object) -> None:
    app: Flask = setup.app  # type: ignore[attr-defined]
    registry = CollectorRegistry(auto_describe=False)
    requests = Counter(
        "dunnock_requests", "Answered requests.", ["endpoint", "method", "status"], registry=registry
    )
    app.extensions["metrics"] = registry

    @app.after_request
    def _count(answer: Response) -> Response:
        requests.labels(request.endpoint or "none", request.method, str(answer.status_code)).inc()
        return answer


@door.get("/healthz")
def alive() -> Response:
    """Say that the process answers."""
    return Response("ok\n", mimetype="text/plain")


@door.get("/readyz")
def ready() -> Response:
    """Say that the database answers and its tables are the newest, or 503 with what is missing."""
    faults = parts().faults()
    return Response("\n".join(faults or ["ok"]) + "\n", 503 if faults else 200, mimetype="text/plain")


@door.get("/metrics")
def metrics() -> Response:
    """Give the counts in Prometheus' text format 0.0.4. Keep it from the public at the proxy."""
    counted = generate_latest(current_app.extensions["metrics"])
    work = CollectorRegistry(auto_describe=False)
    work.register(_Work())
    return Response(counted + generate_latest(work), content_type=CONTENT_TYPE_PLAIN_0_0_4)
