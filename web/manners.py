"""What whoever runs the service asks of it: is it alive, can it work, how is it doing, and what happened when.

Log lines and metrics name pages by their rule and people not at all, so that neither holds personal data.
"""

import json
import logging
import time
import traceback
from datetime import UTC, datetime

from flask import Blueprint, Flask, Response, current_app, g, has_request_context, jsonify, request
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest

from receiving import service
from receiving.errors import NotFound, ReceivingError
from receiving.messages import message
from web.connections import is_loopback
from web.frame import ctx

pages = Blueprint("manners", __name__)

_log = logging.getLogger("receiving.requests")
_own_log = logging.getLogger(__name__)
_QUIET = frozenset({"manners.alive", "manners.ready", "manners.metrics"})


def set_up(app: Flask) -> None:
    """Measure and log every request of the app."""
    registry = app.extensions["receiving.metrics"] = CollectorRegistry()
    answered = Counter("receiving_requests", "Requests answered.", ("method", "endpoint", "status"), registry=registry)
    took = Histogram(
        "receiving_request_seconds",
        "Time from a request to its answer.",
        ("endpoint",),
        registry=registry,
        buckets=(0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10),
    )

    def begin() -> None:
        g.began_s = time.perf_counter()

    def end(response: Response) -> Response:
        seconds = time.perf_counter() - g.get("began_s", time.perf_counter())
        endpoint = request.endpoint or "none"
        answered.labels(request.method, endpoint, str(response.status_code)).inc()
        took.labels(endpoint).observe(seconds)
        if endpoint not in _QUIET and _log.isEnabledFor(logging.INFO):
            _log.info(_line(endpoint, response.status_code, seconds))
        return response

    app.before_request(begin)
    app.after_request(end)


def _line(endpoint: str, status: int, seconds: float) -> str:
    return json.dumps(
        {
            "at": datetime.now(UTC).isoformat(timespec="milliseconds"),
            "request": g.get("request_id", ""),
            "method": request.method,
            "endpoint": endpoint,
            "status": status,
            "ms": round(seconds * 1000, 1),
            "bytes_in": request.content_length or 0,
        }
    )


@pages.get("/healthz")
def alive() -> Response:
    """The process answers."""
    return Response("ok\n", mimetype="text/plain")


@pages.get("/readyz")
def ready() -> Response:
    """The data can be read and written: 200, else 503 with what is wrong."""
    try:
        waiting = service.check_ready(ctx())
    except ReceivingError as fault:
        _own_log.warning("not ready: %s", fault)
        response = jsonify(ready=False, why="The data folder cannot be used; the log of the service says why.")
        response.status_code = 503
        return response
    return jsonify(ready=True, photos_waiting=waiting)


@pages.get("/metrics")
def metrics() -> Response:
    """Counts and times for Prometheus, to this machine alone."""
    if not is_loopback(request.remote_addr or ""):
        raise NotFound(
            message("There is no page at this address."), next_step=message("Choose a shipment from the list.")
        )
    registry = current_app.extensions["receiving.metrics"]
    return Response(generate_latest(registry), content_type=CONTENT_TYPE_LATEST)


def log_requests(where: str) -> None:
    """Write one JSON line for each request, and each fault, to this file, or to standard error where it is ``-``."""
    handler = logging.StreamHandler() if where == "-" else logging.FileHandler(where, encoding="utf-8")
    handler.setFormatter(_Lines())
    _log.addHandler(handler)
    _log.setLevel(logging.INFO)
    _log.propagate = False
    for name in _LOGGERS:
        logging.getLogger(name).addHandler(handler)


_LOGGERS = ("receiving", "web")
"""The loggers of the two packages; the one of requests hands nothing on to them."""


class _Lines(logging.Formatter):
    """Each record as one line of JSON; of an unforeseen fault its kind and where, not the values in its words."""

    def format(self, record: logging.LogRecord) -> str:
        """Give the line."""
        if record.name == _log.name:
            return record.getMessage()
        line: dict[str, object] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "request": g.get("request_id", "") if has_request_context() else "",
            "what": record.getMessage(),
        }
        if record.exc_info and record.exc_info[1]:
            fault = record.exc_info[1]
            line["fault"] = type(fault).__name__
            if isinstance(fault, OSError) and fault.strerror:
                line["fault"] = f"{type(fault).__name__}: {fault.strerror}"
            frames = traceback.extract_tb(fault.__traceback__)
            line["where"] = [f"{each.filename}:{each.lineno} {each.name}" for each in frames]
        return json.dumps(line)
