"""The figures that explain sweeps best, by least squares on ln|Z| and, where it is there, phase.

One model foresees and fits: the house's circuit.  What a sweep does not tell is left where the data sheet has it,
because that stands among the residuals too, loosely: a figure counts as told where the sweep narrows what was known of
it before.  Standard errors are from the covariance of the residuals (Gauss-Newton), wider where neighbouring residuals
go together: noise that hums, and whatever the circuit does not follow.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal, NamedTuple

import numpy as np
from scipy.optimize import least_squares
from scipy.special import stdtrit

from engine.acoustics.circuit import Systems
from engine.arrays import Complexes, Floats
from engine.derived import resonance, springy_air
from engine.errors import Fault, InputFaults
from engine.kinds import KINDS
from engine.measured.names import DRIVER, LOSSES, PRIORS
from engine.measured.peaks import Landmarks, check_phase, check_sweep, foreseen_landmarks, scatter_of
from engine.measured.taken import COILS, Coil, Taken

SURE = 0.95  # of the intervals
_TOLD = 0.7  # of what was known before, that a figure is known to at the worst where a sweep tells it
_ABOVE = 8.0  # times the highest peak, up to where a sweep is fitted; beyond it the cone breaks up and a coil is none
_HIGHEST = 1000.0  # Hz, if that is lower
_OUTLIER = 6.0  # standard deviations, beyond which a point is left out
_STEP = 1e-5  # of a logarithm, to either side
_BETTER = (
    10.0  # of the information criterion, that a figure more must gain to be worth it (Schwarz 1978: "very strong")
)
_QUIET = 1e-4  # of ln|Z|: no instrument scatters less
_NO_LOSS = 60.0  # Q that a loss begins with that is none
_MOST_UNSURE = 0.10  # of the tuning, to either side: beyond that nothing is told
# Shares of what is foreseen that a search is begun at, of figures over which the landscape has valleys.
_VALLEYS = {"tuning": (0.7, 0.8, 0.9, 1.0, 1.1, 1.25, 1.4), "fs": (0.75, 0.85, 1.0, 1.15, 1.3), "qes": (0.7, 1.0, 1.4)}
_GUESSES = 2  # of them that are followed to the end
_EXPONENTS = (0.5, 1.0)  # of a coil with losses (Leach 2002)


_COIL = {"plain": ("le",), "lossy": ("le", "n"), "second": ("le", "l2", "r2"), "wright": ("kr", "ki")}


@dataclass(frozen=True, kw_only=True)
class Found:
    """One figure found, SI, with the ends of its 95 % interval.

    ``foreseen`` is what data sheet or drawing have.  ``told`` says whether the sweeps narrow what was known before; of
    what they do not tell, and of what was ``held``, the value is the one foreseen, or near it.
    """

    name: str
    value: float
    low: float
    high: float
    foreseen: float
    told: bool
    held: bool = False

    @property
    def off(self) -> float:
        """By what share it is more than foreseen."""
        return self.value / self.foreseen - 1.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Fit:
    """What sweeps come to.

    ``changes`` are what :meth:`engine.measured.taken.Taken.impedance` takes, one row.  ``losses`` names those that
    were fitted; ``apart`` says whether the sweep tells them from each other and from those that were not.  ``residual``
    is the standard deviation of what the fitted circuit leaves of ln|Z|, ``scatter`` that of the noise from point to
    point; ``left_out`` counts points far off, and ``together`` is how many neighbours go together (1: white noise).
    """

    taken: tuple[Taken, ...]
    landmarks: tuple[Landmarks, ...]
    found: Mapping[str, Found]
    changes: Mapping[str, Floats]
    coil: Coil
    losses: tuple[str, ...]
    apart: bool
    residual: float
    scatter: float
    left_out: int
    together: float
    covariance: Floats
    names: tuple[str, ...]

    @cached_property
    def box(self) -> Taken | None:
        """The sweep of the finished box, the first of several; None without one."""
        return next((each for each in self.taken if each.of == "box"), None)

    def spread_of(self, **powers: float) -> float:
        """Relative standard error of a product of figures, each to a power."""
        weights = np.array([powers.get(name, 0.0) for name in self.names])
        return math.sqrt(max(float(weights @ self.covariance @ weights), 0.0))

    def impedance(self, taken: Taken, frequency: Floats) -> Complexes:
        """Of what one of the sweeps was taken of, as found; (F,) ohm."""
        return np.asarray(taken.impedance(self.changes, self.coil, frequency)[0])


def fit(taken: Sequence[Taken], *, hold: Collection[str] = (), tell: Collection[str] = ()) -> Fit:
    """The figures of driver and box that explain some sweeps best.

    What is held known unless they say otherwise: the cone's area, the volume of air in the box, the air's inertance
    there, a passive radiator's suspension; of the losses all but the leak, unless the sweep clearly tells more.
    ``hold`` names figures that are held beside them (keys of ``PRIORS``), ``tell`` losses that are fitted whatever the
    sweep says of them.  Raises InputFaults where a sweep tells nothing, see :func:`engine.measured.peaks.check_sweep`,
    or leaves the tuning open.
    """
    tops, found_at, faults = [], [], list[Fault]()
    for each in taken:
        expected = _expected(each)
        top = min(max(_ABOVE * expected.peaks[-1].hz, 300.0), _HIGHEST)
        tops.append(top)
        try:
            found_at.append(check_sweep(each.sweep, expected=expected, top=top))
        except InputFaults as wrong:
            faults += wrong.faults
    if faults:
        raise InputFaults(faults)
    used = [
        replace(each, sweep=each.sweep.take(each.sweep.frequency <= top)) for each, top in zip(taken, tops, strict=True)
    ]
    box = next((each for each in used if each.of == "box"), None)
    kind = None if box is None else KINDS.records[int(box.systems.kind[0])]
    own: tuple[str, ...] = ()
    losses: tuple[str, ...] = ()
    if kind is not None and kind.tuned:
        own, losses = ("tuning",), ("ql", "radiator_rms") if kind.opening == "radiator" else ("ql",)
    tried = _Tried(used, found_at, frozenset(hold))
    first, *other_coils = _coils(used[0])
    if any(each.sweep.phase is not None for each in used):
        _check_phases(used, found_at, (*DRIVER, *_COIL[first], *own, *losses), first, frozenset(hold))
    # A coil of a form of its own where the sweep clearly shows one; else the data sheet's.
    best = tried.of((*DRIVER, *_COIL[first], *own, *losses), first)
    for coil in other_coils:
        other = tried.of((*DRIVER, *_COIL[coil], *own, *losses), coil, near=best)
        best = other if other.criterion < best.criterion - _BETTER else best
    others = () if kind is None else ("qa",) if kind.opening != "vent" else ("qa", "qp")
    chosen = tuple(dict.fromkeys((*losses, *(name for name in tell if name in LOSSES))))
    apart, plain = True, best
    if box is not None and kind is not None and kind.tuned:
        names = (*DRIVER, *_COIL[best.coil], *own)
        best = tried.of((*names, *chosen), best.coil, near=best) if chosen != losses else best
        for more in others:
            other = tried.of((*names, *dict.fromkeys((*chosen, more))), best.coil, near=best)
            if more not in chosen and other.criterion < best.criterion - _BETTER:
                best, chosen = other, (*chosen, more)
        # Would another loss in the leak's place do as well?  Then they are not told apart.
        alone = [
            tried.of((*names, *(more if name == "ql" else name for name in losses)), best.coil, near=plain)
            for more in others
        ]
        apart = chosen != losses or all(each.criterion > plain.criterion + _BETTER for each in alone)
    return _told(tried, best, chosen, apart=apart)


def _check_phases(
    taken: Sequence[Taken], found: Sequence[Landmarks], names: Sequence[str], coil: Coil, hold: frozenset[str]
) -> None:
    """Hold every phase against what the magnitudes alone lead to.  Raises InputFaults, see ``check_phase``."""
    bare = [replace(each, sweep=replace(each.sweep, phase=None)) for each in taken]
    tried = _Tried(bare, found, hold)
    done, faults = tried.of(names, coil), list[Fault]()
    changes = tried.changes(done.names, done.start, done.point[np.newaxis], coil)
    for each in taken:
        if each.sweep.phase is not None:
            try:
                check_phase(each.sweep, np.angle(each.impedance(changes, coil, each.sweep.frequency)[0]))
            except InputFaults as wrong:
                faults += wrong.faults
    if faults:
        raise InputFaults(faults)


def _expected(taken: Taken) -> Landmarks:
    """The landmarks foreseen of what a sweep was taken of."""
    grid = np.geomspace(4.0, 400.0, 600)
    return foreseen_landmarks(grid, np.abs(taken.impedance({"re": np.ones(1)}, "plain", grid)[0]))


def _coils(taken: Taken) -> list[Coil]:
    """The forms of a coil, the data sheet's own first."""
    q = taken.systems
    own: Coil = "plain"
    if q.l2[0] > 0.0 and q.r2[0] > 0.0:
        own = "second"
    elif q.power_law is not None:
        own = "lossy" if q.xr[0] == q.xi[0] else "wright"
    return [own, *(coil for coil in COILS if coil != own and not (coil == "second" and own == "plain"))]


def _coil_start(taken: Taken, coil: Coil) -> dict[str, float]:
    """What a coil of some form begins with, from what the data sheet says of it."""
    q = taken.systems
    omega = 2.0 * math.pi * 200.0
    at = complex(1j * omega * q.le[0])
    if q.l2[0] > 0.0 and q.r2[0] > 0.0:
        at += 1.0 / (1.0 / (1j * omega * float(q.l2[0])) + 1.0 / float(q.r2[0]))
    if (law := q.power_law) is not None:
        at += complex(law.resistance(np.array([omega]))[0], law.reactance(np.array([omega]))[0])
    le = max(at.imag / omega, 2e-5 * float(q.re[0]))
    match coil:
        case "wright":
            return {"kr": float(q.kr[0]), "ki": float(q.ki[0])}
        case "plain":
            return {"le": le}
        case "lossy":
            n = float(q.xi[0]) if q.power_law is not None else 0.8
            return {"le": le * (0.2 ** (1.0 - n)), "n": n}
        case "second":
            if q.l2[0] > 0.0 and q.r2[0] > 0.0:
                return {"le": float(q.le[0]), "l2": float(q.l2[0]), "r2": float(q.r2[0])}
            return {"le": 0.5 * le, "l2": 0.5 * le, "r2": 2.0 * float(q.re[0])}


class _Done(NamedTuple):
    """One fit: where it ended and how good it is."""

    names: tuple[str, ...]
    start: Floats  # what each figure is told against
    point: Floats  # logarithms over the start; of n the difference
    coil: Coil
    covariance: Floats
    criterion: float
    residual: float
    left_out: int
    together: float


class _Tried:
    """Sweeps made ready to be fitted with one set of figures after the other."""

    def __init__(self, taken: Sequence[Taken], found: Sequence[Landmarks], hold: frozenset[str]) -> None:
        self.taken, self.found, self.hold = list(taken), list(found), hold
        # What each sweep has, ln|Z| and perhaps a phase, scatters from point to point.
        self.scatter = [[max(each.scatter, _QUIET)] for each in found]
        for each, widths in zip(taken, self.scatter, strict=True):
            widths += [] if each.sweep.phase is None else [max(scatter_of(each.sweep.phase), _QUIET)]

    def foreseen(self, name: str, coil: Coil) -> float:
        """What a figure begins with: 1 of those that are told as shares."""
        if name in (*DRIVER, "tuning", "radiator_rms"):
            return 1.0
        if name in LOSSES:
            stated = float(getattr(self.box.systems, name)[0])
            return stated if math.isfinite(stated) else _NO_LOSS
        return _coil_start(self.taken[0], coil)[name]

    @property
    def box(self) -> Taken:
        """The sweep of the finished box, or the first where there is none."""
        return next((each for each in self.taken if each.of == "box"), self.taken[0])

    def changes(self, names: Sequence[str], start: Floats, points: Floats, coil: Coil) -> dict[str, Floats]:
        """Points (N, P) of the search as changes, (N,) each; what of a coil is held stays as the data sheet has it."""
        found = {
            name: start[at] + points[:, at] if name == "n" else start[at] * np.exp(points[:, at])
            for at, name in enumerate(names)
        }
        if set(found) & {*_COIL[coil]}:
            held = {name: value for name, value in _coil_start(self.taken[0], coil).items() if name not in found}
            found |= {name: np.full(len(points), value) for name, value in held.items()}
        return found or {"re": np.ones(len(points))}

    def residuals(self, names: Sequence[str], start: Floats, points: Floats, coil: Coil) -> list[list[Floats]]:
        """What is left of each sweep at points (N, P): of ln|Z|, (N, F), and of its phase in rad where there is one."""
        changes, left = self.changes(names, start, points, coil), []
        for each in self.taken:
            with np.errstate(all="ignore"):
                z = each.impedance(changes, coil, each.sweep.frequency)
                parts = [np.log(each.sweep.magnitude) - np.log(np.abs(z))]
                if each.sweep.phase is not None:
                    off = each.sweep.phase - np.angle(z)
                    parts.append((off + math.pi) % (2.0 * math.pi) - math.pi)
            left.append([np.nan_to_num(part, nan=1e3, posinf=1e3, neginf=-1e3) for part in parts])
        return left

    def of(self, names: Sequence[str], coil: Coil, *, near: _Done | None = None) -> _Done:
        """The best that some figures come to, those that are held left out; sought ``near`` another fit of the same."""
        free = tuple(name for name in dict.fromkeys(names) if name not in self.hold)
        start = np.array([self.foreseen(name, coil) for name in free])
        search = _Search(self, free, start, coil)
        if near is None:
            return search.from_(search.guesses())
        known = dict(zip(near.names, near.point, strict=True))
        same = coil == near.coil
        beside = [
            known.get(name, 0.0) if same or name not in PRIORS.keys() & {"le", "n", "l2", "r2", "kr", "ki"} else 0.0
            for name in free
        ]
        return search.from_([np.array(beside)])


class _Search:
    """One set of figures sought."""

    def __init__(self, tried: _Tried, names: tuple[str, ...], start: Floats, coil: Coil) -> None:
        self.tried, self.names, self.start, self.coil = tried, names, start, coil
        self.priors = np.array([PRIORS[name].loose for name in names])
        most = np.array([PRIORS[name].most for name in names])
        self.low, self.high = -most, most.copy()
        if "n" in names:
            at = names.index("n")
            self.low[at], self.high[at] = _EXPONENTS[0] - start[at], _EXPONENTS[1] - start[at]
        # Of each sweep's streams, ln|Z| and phase: what one of its points weighs, and which of them count.
        self.widths = [list(widths) for widths in tried.scatter]
        self.keep = [
            [np.ones(len(each.sweep), dtype=bool) for _ in widths]
            for each, widths in zip(tried.taken, self.widths, strict=True)
        ]

    def left(self, points: Floats) -> list[list[Floats]]:
        return self.tried.residuals(self.names, self.start, points, self.coil)

    def stacked(self, points: Floats) -> Floats:
        """All residuals of points (N, P) by what they weigh, those of what was known before behind them."""
        parts = [
            part[:, there] / width
            for streams, kept, widths in zip(self.left(points), self.keep, self.widths, strict=True)
            for part, there, width in zip(streams, kept, widths, strict=True)
        ]
        return np.concatenate([*parts, points / self.priors], axis=1)

    def slopes(self, point: Floats) -> Floats:
        step = _STEP * np.eye(len(point))
        both = self.stacked(np.concatenate([point + step, point - step]))
        return np.asarray((both[: len(point)] - both[len(point) :]).T / (2.0 * _STEP))

    def guesses(self) -> list[Floats]:
        """Where to start from: the best of a grid over tuning and resonance, where the landscape has valleys."""
        moved = [name for name in _VALLEYS if name in self.names]
        grid = np.array(np.meshgrid(*(np.log(_VALLEYS[name]) for name in moved))).reshape(len(moved), -1).T
        points = np.zeros((len(grid) if moved else 1, len(self.names)))
        for at, name in enumerate(moved):
            points[:, self.names.index(name)] = grid[:, at]
        cost = np.sum(np.log1p((self.stacked(points) / 3.0) ** 2), axis=1)
        return [points[at] for at in np.argsort(cost, kind="stable")[:_GUESSES]]

    def solved(self, point: Floats, loss: Literal["linear", "soft_l1"]) -> Any:
        inner = np.clip(point, self.low + 1e-6, self.high - 1e-6)

        def off(point: Floats) -> Floats:
            return np.asarray(self.stacked(point[np.newaxis])[0])

        return least_squares(
            off, inner, jac=self.slopes, bounds=(self.low, self.high), loss=loss,
            x_scale=self.priors, f_scale=3.0, max_nfev=60, xtol=1e-7, ftol=1e-7,
        )  # fmt: skip

    def from_(self, starts: Sequence[Floats]) -> _Done:
        """The best reached from some starts."""
        if not self.names:
            point = np.zeros(0)
            self._weigh(point)
        else:
            point = min((self.solved(each, "soft_l1") for each in starts), key=lambda each: float(each.cost)).x
            for _ in range(2):
                self._weigh(point)
                point = self.solved(point, "linear").x
        left = self.left(point[np.newaxis])
        each_own = [
            [part[0][there] for part, there in zip(streams, kept, strict=True)]
            for streams, kept in zip(left, self.keep, strict=True)
        ]
        own = [part for parts in each_own for part in parts]
        count, together = sum(len(each) for each in own), max(_together(each) for each in own)
        data = self.slopes(point)[: -len(point)] if len(point) else np.zeros((count, 0))
        spare = max(count - len(point), 1) / count
        information = data.T @ data * spare / together + np.diag(self.priors**-2.0)
        fitting = sum(len(each) * math.log(max(float(np.mean(each**2)), _QUIET**2)) for each in own)
        return _Done(
            names=self.names, start=self.start, point=point, coil=self.coil,
            covariance=np.asarray(np.linalg.inv(information), dtype=np.float64),
            criterion=fitting / together + len(point) * math.log(count),
            residual=float(np.sqrt(np.mean(np.concatenate([parts[0] for parts in each_own]) ** 2))),
            left_out=int(sum(np.sum(~kept[0]) for kept in self.keep)), together=together,
        )  # fmt: skip

    def _weigh(self, point: Floats) -> None:
        """Leave out points far off, and have each stream weigh what it turns out to scatter."""
        for streams, kept, widths in zip(self.left(point[np.newaxis]), self.keep, self.widths, strict=True):
            for stream, part in enumerate(streams):
                size = 1.4826 * float(np.median(np.abs(part[0] - np.median(part[0]))))
                kept[stream] = np.abs(part[0]) <= _OUTLIER * max(size, _QUIET)
                widths[stream] = max(float(np.sqrt(np.mean(part[0][kept[stream]] ** 2))), _QUIET)


def _told(tried: _Tried, done: _Done, losses: tuple[str, ...], *, apart: bool) -> Fit:
    """A fit with all its figures, as absolute ones.  Raises InputFaults where the tuning is left open."""
    spare = max(sum(len(each.sweep) for each in tried.taken) - len(done.names), 1)
    reach = float(stdtrit(spare, 0.5 + 0.5 * SURE))
    q = tried.box.systems
    changes = tried.changes(done.names, done.start, done.point[np.newaxis], done.coil)
    found = {}
    for at, name in enumerate(done.names):
        error = math.sqrt(float(done.covariance[at, at]))
        unit, value = _unit(q, name), float(changes[name][0])
        ends = (
            (value - reach * error, value + reach * error)
            if name == "n"
            else (value * math.exp(-reach * error), value * math.exp(reach * error))
        )
        told = error < _TOLD * PRIORS[name].loose
        found[name] = Found(
            name=name, value=unit * value, low=unit * ends[0], high=unit * ends[1],
            foreseen=float(getattr(q, name)[0]) if name in LOSSES else unit * float(done.start[at]), told=told,
        )  # fmt: skip
    for name in tried.hold & {*DRIVER, "tuning"}:
        unit = _unit(q, name)
        if math.isnan(unit):
            continue  # a closed box has no tuning to be held
        found[name] = Found(name=name, value=unit, low=unit, high=unit, foreseen=unit, told=False, held=True)
    tuning = found.get("tuning")
    if tuning is not None and not tuning.held and tuning.high / tuning.value - 1.0 > _MOST_UNSURE:
        box = next(each for each in tried.taken if each.of == "box")
        ends_hz = {"low": round(tuning.low, 1), "high": round(tuning.high, 1)}
        raise InputFaults([Fault(box.sweep.source, "", "", "sweep_unsure", ends_hz)])
    return Fit(
        taken=tuple(tried.taken), landmarks=tuple(tried.found), found=found, changes=changes, coil=done.coil,
        losses=losses, apart=apart, residual=done.residual, scatter=max(widths[0] for widths in tried.scatter),
        left_out=done.left_out, together=done.together, covariance=done.covariance, names=done.names,
    )  # fmt: skip


def _unit(q: Systems, name: str) -> float:
    """What a share of a figure is multiplied by, SI: the figure foreseen."""
    cms, mms, re = (float(getattr(q, name)[0]) for name in ("cms", "mms", "re"))
    fs = resonance(mms, cms)
    reactance = 2.0 * math.pi * fs * mms
    shares = {
        "re": re, "fs": fs, "qms": reactance / float(q.rms[0]), "qes": reactance * re / float(q.bl[0]) ** 2,
        "vas": springy_air(cms, float(q.sd[0])), "tuning": float(q.tuning[0]),
        "radiator_rms": float(q.radiator_rms[0]),
    }  # fmt: skip
    return shares.get(name, 1.0)


def _together(values: Floats) -> float:
    """How many residuals in a row go together: 1 + 2·Σρ, ρ their autocorrelation up to the first that noise explains.

    1 for white noise.
    """
    centred = values - values.mean()
    power = float(centred @ centred)
    if power <= 0.0 or len(values) < 8:
        return 1.0
    total = 1.0
    for lag in range(1, len(values) // 4):
        rho = float(centred[lag:] @ centred[:-lag]) / power
        if rho < 1.5 / math.sqrt(len(values)):
            break
        total += 2.0 * rho
    return total
