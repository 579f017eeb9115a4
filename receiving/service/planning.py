"""Staging plans made when somebody looks, away from the threads that answer: the newest inputs alone, at low priority.

A plan follows from its inputs and is cached by them (`Cache`: until something newer is stored or room is needed):
another read of a carton that is here changes none of them. While one is in work, pages say so; newer inputs of the same
shipment end it.
"""

import hashlib
import logging
import pickle
import threading
import weakref
from collections import OrderedDict
from collections.abc import Hashable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from enum import Enum
from functools import cached_property
from typing import Any, Generic, Protocol, TypeVar

from receiving.errors import Limit, ReceivingError, WorkStopped
from receiving.messages import Text, message
from receiving.model import (
    CartonFinding,
    CartonMoved,
    CartonPlace,
    ChangeCost,
    Layout,
    Manifest,
    Note,
    NoteWithdrawn,
    OuterOpened,
    Reconciliation,
    StagingChanged,
    StagingPlan,
    fact,
)
from receiving.model.limits import PLAN_SEARCH_S
from receiving.staging import before_planning, plan_change_cost, plan_staging
from receiving.workers import Job, Limits, WorkerPool

V = TypeVar("V")

LOCKS = 64


class Cache(Generic[V]):
    """At most ``most`` values by name, each good for one version; the one not asked for longest goes first.

    Safe to use from several threads.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._kept: OrderedDict[Hashable, tuple[str, V]] = OrderedDict()
        self._lock = threading.Lock()
        # Two names may share one, which costs waiting and no more; a thread that holds one may take it again.
        self._locks = tuple(threading.RLock() for _ in range(LOCKS))

    def get(self, name: Hashable, version: str) -> V | None:
        """The value of this name, unless it is of another version or went."""
        with self._lock:
            kept = self._kept.get(name)
            if kept is None or kept[0] != version:
                return None
            self._kept.move_to_end(name)
            return kept[1]

    def last(self, name: Hashable) -> V | None:
        """The value of this name that was kept last, of whatever version."""
        with self._lock:
            kept = self._kept.get(name)
            return kept[1] if kept else None

    @contextmanager
    def alone(self, name: Hashable) -> Iterator[None]:
        """One thread at a time for this name, so that what many ask for at once is worked out once."""
        with self._lock:
            lock = self._locks[hash(name) % len(self._locks)]
        with lock:
            yield

    def put(self, name: Hashable, version: str, value: V) -> None:
        """Keep this value, in place of an older one of the same name."""
        with self._lock:
            self._kept[name] = (version, value)
            self._kept.move_to_end(name)
            while len(self._kept) > self.most:
                self._kept.popitem(last=False)

    def clear(self) -> None:
        """Keep nothing of what is kept now."""
        with self._lock:
            self._kept.clear()

    def __len__(self) -> int:
        return len(self._kept)


MOST_PLANS = 200
PLAN_LIMITS = Limits(wall_s=1800, cpu_s=600, memory_mb=2048)
"""A plan of 600 cartons takes half a minute; beyond this something is wrong with the shipment."""


BINDING = (CartonMoved, CartonPlace, NoteWithdrawn, OuterOpened, StagingChanged)
"""The notes that a plan may follow from; `receiving.staging.overrides` reads no others."""

_log = logging.getLogger(__name__)
_digests: "Cache[tuple[weakref.ref[Manifest], bytes]]" = Cache(MOST_PLANS)


class Progress(Enum):
    """How far a plan is."""

    READY = "ready"
    WORKING = "working"
    FAILED = "failed"


@dataclass(frozen=True)
class Planned:
    """A plan and how far it is: while it is in work, or failed with ``fault``, what is known without it."""

    plan: StagingPlan
    progress: Progress = Progress.READY
    fault: Text = ""


@dataclass(frozen=True)
class PlanInputs:
    """All that the plan of one shipment follows from; equal inputs have an equal ``key``."""

    manifest: Manifest
    findings: tuple[CartonFinding, ...]
    layout: Layout | None
    notes: tuple[Note, ...]

    @classmethod
    def of(
        cls, manifest: Manifest, reconciliation: Reconciliation, layout: Layout | None, notes: Iterable[Note]
    ) -> "PlanInputs":
        """The inputs, without what a plan does not look at: by which reads a carton is known, and other notes."""
        findings = tuple(
            CartonFinding(each.carton, each.state, fact(each.state), place=each.place, damage=each.damage)
            for each in reconciliation.cartons
        )
        return cls(manifest, findings, layout, tuple(note for note in notes if isinstance(note, BINDING)))

    @property
    def shipment(self) -> str:
        """The shipment that is planned."""
        return self.manifest.shipment

    @property
    def values(self) -> tuple[Manifest, Reconciliation, Layout | None, tuple[Note, ...]]:
        """What `plan_staging` is called with."""
        found = Reconciliation(self.manifest.shipment, self.manifest.store, self.findings, ())
        return self.manifest, found, self.layout, self.notes

    @cached_property
    def key(self) -> str:
        """SHA-256 over all inputs; of the findings what they say beyond the manifest, whose cartons they are of."""
        found = [(each.carton.carton, each.state.value, each.place, each.damage) for each in self.findings]
        return hashlib.sha256(
            _digest_of(self.manifest) + pickle.dumps((found, self.layout, self.notes)),
        ).hexdigest()

    def at_once(self, progress: Progress, fault: Text = "") -> Planned:
        """What is known without a plan."""
        return Planned(before_planning(*self.values), progress, fault)


def _digest_of(manifest: Manifest) -> bytes:
    """SHA-256 over a manifest, worked out once for each that is in use: a shipment keeps its own while it is read."""
    name = str(id(manifest))
    kept = _digests.get(name, "")
    if kept is None or kept[0]() is not manifest:
        kept = (weakref.ref(manifest), hashlib.sha256(pickle.dumps(manifest)).digest())
        _digests.put(name, "", kept)
    return kept[1]


class Planner(Protocol):
    """Makes staging plans."""

    def look(self, inputs: PlanInputs) -> Planned:
        """The plan of these inputs as far as it is; one that is not there is begun."""
        ...

    def wait(self, inputs: PlanInputs) -> StagingPlan:
        """The plan of these inputs, waited for. Raises WorkStopped."""
        ...

    def change_cost(self, inputs: PlanInputs, change: StagingChanged) -> ChangeCost:
        """What `plan_change_cost` gives. Raises WorkStopped."""
        ...

    def last(self, shipment: str) -> StagingPlan | None:
        """The plan of this shipment that was finished last, which is what people saw; None where there is none."""
        ...

    def mark(self, shipment: str) -> int:
        """A number that grows whenever a plan of this shipment is finished."""
        ...

    def close(self) -> None:
        """Give up what is in work."""
        ...


class PlannerHere:
    """Makes each plan in the thread that looks: for commands and tests."""

    def __init__(self) -> None:
        self._plans: Cache[StagingPlan] = Cache(MOST_PLANS)
        self._last: Cache[StagingPlan] = Cache(MOST_PLANS)

    def look(self, inputs: PlanInputs) -> Planned:
        """The plan, made now where it is not kept."""
        return Planned(self.wait(inputs))

    def wait(self, inputs: PlanInputs) -> StagingPlan:
        """The plan, made now where it is not kept."""
        plan = self._plans.get(inputs.key, inputs.key)
        if plan is None:
            plan = plan_staging(*inputs.values, time_limit_s=PLAN_SEARCH_S)
            self._plans.put(inputs.key, inputs.key, plan)
        self._last.put(inputs.shipment, "", plan)
        return plan

    def change_cost(self, inputs: PlanInputs, change: StagingChanged) -> ChangeCost:
        """What the change costs, worked out now."""
        return plan_change_cost(*inputs.values, change)

    def last(self, shipment: str) -> StagingPlan | None:
        """The plan that was asked for last."""
        return self._last.get(shipment, "")

    def mark(self, shipment: str) -> int:
        """Always the same: nothing is finished later."""
        return 0

    def close(self) -> None:
        """Nothing is in work."""


@dataclass(frozen=True)
class _Work:
    key: str
    job: Job
    future: "Future[Planned | None]"


class PlannerAway:
    """Makes plans in ``workers`` processes; at most one of a shipment is in work, that of its newest inputs."""

    def __init__(self, workers: int = 1, *, limits: Limits = PLAN_LIMITS) -> None:
        self._pool = WorkerPool(workers, limits, name="planner")
        self._threads = ThreadPoolExecutor(workers, thread_name_prefix="plan")
        self._lock = threading.Lock()
        self._plans: Cache[Planned] = Cache(MOST_PLANS)
        self._last: Cache[StagingPlan] = Cache(MOST_PLANS)
        self._working: dict[str, _Work] = {}
        self._marks: dict[str, int] = {}

    def look(self, inputs: PlanInputs) -> Planned:
        """The plan as far as it is; begun where it is not there, in place of an older one of the same shipment."""
        done = self._plans.get(inputs.key, inputs.key)
        if done is not None:
            return done
        self._begin(inputs)
        return inputs.at_once(Progress.WORKING)

    def wait(self, inputs: PlanInputs) -> StagingPlan:
        """The plan, waited for; where newer inputs ended it meanwhile, it is not made. Raises WorkStopped."""
        done = self._plans.get(inputs.key, inputs.key) or self._begin(inputs).future.result()
        if done is None:
            raise WorkStopped(
                message("More was read while the plan was worked out."),
                Limit.CANCELLED,
                next_step=message("Look at the plan again."),
            )
        if done.progress is Progress.FAILED:
            raise WorkStopped(done.fault, Limit.FAILED, next_step=message("The rule's bays are on each carton's page."))
        return done.plan

    def change_cost(self, inputs: PlanInputs, change: StagingChanged) -> ChangeCost:
        """What the change costs, worked out by a worker. Raises WorkStopped."""
        cost: ChangeCost = self._pool.run("receiving.staging:plan_change_cost", *inputs.values, change)
        return cost

    def last(self, shipment: str) -> StagingPlan | None:
        """The plan that was finished last, from whatever inputs."""
        return self._last.get(shipment, "")

    def mark(self, shipment: str) -> int:
        """How many plans of this shipment were finished since the start."""
        return self._marks.get(shipment, 0)

    def close(self) -> None:
        """Give up what is in work, and end the processes."""
        with self._lock:
            for work in self._working.values():
                work.job.cancel()
        self._threads.shutdown(wait=False, cancel_futures=True)
        self._pool.close()

    def _begin(self, inputs: PlanInputs) -> _Work:
        with self._lock:
            working = self._working.get(inputs.shipment)
            if working is not None and working.key == inputs.key:
                return working
            if working is not None:
                working.job.cancel()
            job = Job()
            work = _Work(inputs.key, job, self._threads.submit(self._work_out, inputs, job))
            self._working[inputs.shipment] = work
            return work

    def _work_out(self, inputs: PlanInputs, job: Job) -> Planned | None:
        """The plan, kept and marked as finished; None where it was cancelled."""
        planned = None if job.cancelled else self._asked(inputs, job)
        with self._lock:
            working = self._working.get(inputs.shipment)
            if working is not None and working.job is job:
                del self._working[inputs.shipment]
            if planned is not None:
                self._plans.put(inputs.key, inputs.key, planned)
                if planned.progress is Progress.READY:
                    self._last.put(inputs.shipment, "", planned.plan)
                self._marks[inputs.shipment] = self._marks.get(inputs.shipment, 0) + 1
        return planned

    def _asked(self, inputs: PlanInputs, job: Job) -> Planned | None:
        try:
            given: Any = self._pool.run(
                "receiving.staging:plan_staging", *inputs.values, time_limit_s=PLAN_SEARCH_S, job=job
            )
            return Planned(given)
        except WorkStopped as fault:
            if fault.limit in (Limit.CANCELLED, Limit.CLOSED):
                return None
            return inputs.at_once(
                Progress.FAILED, message("The plan could not be worked out: {why}", why=fault.message)
            )
        except ReceivingError as fault:
            return inputs.at_once(Progress.FAILED, fault.words)
        except Exception:
            _log.exception("the plan of %s failed", inputs.shipment)
            return inputs.at_once(
                Progress.FAILED, message("The plan could not be worked out; the server's log says why.")
            )
