"""Channels: one driver with its whole series-parallel load of one emitter kind, at one drive current.

An adjustable driver is tried at the least and at the greatest current that emitter and driver allow for those
strings, and at every step of the emitter's rated current between them.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from optimise.columns.expand import Floats, Ints, ceil_of, expand, floor_of
from optimise.parts import Driver, Emitter
from optimise.physics.emitters import REFERENCE_TEMPERATURE, forward_voltage, relative_flux


@dataclass(frozen=True)
class Channels:
    """Arrays of equal length, one entry a channel; emitter and driver are indices into the parts given."""

    emitter: Ints
    driver: Ints
    series: Ints
    parallel: Ints
    current: Floats
    """Current of one emitter, A (0 for tubes)."""
    flux: Floats
    """Flux at 25 °C junction, lm."""
    rise: Floats
    """Junction above board, K."""
    heat: Floats
    """Heat into the board, W."""
    power: Floats
    """Power at the driver's input, W."""
    apparent: Floats
    """Volt-amperes at the driver's input: what the lead and the fuse see."""

    @property
    def count(self) -> Ints:
        """Emitters of each channel."""
        return self.series * self.parallel

    def __len__(self) -> int:
        return len(self.emitter)

    def take(self, index: NDArray[np.int64] | NDArray[np.bool_]) -> "Channels":
        """Return the channels at `index` (whole numbers or a mask)."""
        return Channels(**{f.name: getattr(self, f.name)[index] for f in fields(self)})


def _join(pieces: Sequence[Channels]) -> Channels:
    whole = Channels(**{f.name: np.concatenate([getattr(p, f.name) for p in pieces]) for f in fields(Channels)})
    return whole.take(np.lexsort((whole.current, whole.parallel, whole.series, whole.driver, whole.emitter)))


def _array(values: Iterable[float | None], blank: float) -> Floats:
    return np.array([blank if value is None else value for value in values], dtype=np.float64)


class _Emitters:
    """Columns of figures of the emitters, for the vector sums."""

    def __init__(self, emitters: Sequence[Emitter]) -> None:
        self.drive = np.array([e.drive for e in emitters], dtype=np.str_)
        self.flux = _array((e.flux for e in emitters), 0.0)
        self.watts = _array((e.watts for e in emitters), 0.0)
        self.heat_share = _array((e.heat_share for e in emitters), 0.0)
        self.current = _array((e.current for e in emitters), 0.0)
        self.voltage = _array((e.voltage for e in emitters), 0.0)
        self.voltage_min = _array((e.voltage_min if e.voltage_min is not None else e.voltage for e in emitters), 0.0)
        self.voltage_max = _array((e.voltage_max if e.voltage_max is not None else e.voltage for e in emitters), 0.0)
        self.per_kelvin = _array((e.voltage_per_kelvin for e in emitters), 0.0)
        self.slope = _array((e.dynamic_resistance for e in emitters), 0.0)
        self.least = _array((e.lowest_current for e in emitters), 0.0)
        self.most = _array((e.highest_current for e in emitters), 0.0)
        self.hot = _array((e.case_max for e in emitters), REFERENCE_TEMPERATURE)
        self.droop = _array((e.droop for e in emitters), 0.0)
        self.resistance = _array((e.resistance_junction_case for e in emitters), 0.0)


class DriverFigures:
    """Columns of figures of the drivers, made once for all emitters."""

    def __init__(self, drivers: Sequence[Driver]) -> None:
        self.output = np.array([d.output for d in drivers], dtype=np.str_)
        self.adjustable = np.array([d.output_current is None for d in drivers], dtype=bool)
        self.current = _array((d.output_current for d in drivers), np.inf)
        self.least = _array((d.output_current or d.current_min for d in drivers), 0.0)
        self.most = _array((d.output_current or d.current_max for d in drivers), 0.0)
        self.low = _array((d.output_min for d in drivers), 0.0)
        self.high = _array((d.output_max for d in drivers), np.inf)
        self.power_max = _array((d.power_max for d in drivers), 0.0)
        self.lamps = np.array([d.lamps or 0 for d in drivers], dtype=np.int64)
        self.lamp_power = _array((d.lamp_power for d in drivers), 0.0)
        self.efficiency = _array((d.efficiency for d in drivers), 1.0)
        self.factor = _array((d.power_factor if d.input == "ac" else None for d in drivers), 1.0)


def build_channels(
    emitters: Sequence[Emitter],
    drivers: DriverFigures,
    ambient: float,
    string_limit: float,
    capacity: Ints,
    step: float,
) -> Channels:
    """Return every channel that the emitters and drivers can form, in order of their indices and figures.

    ambient: °C at switch-on, where the string voltage is highest; string_limit: V, the greatest voltage of
    a string or of a driver left open; capacity: the most emitters of each kind that any panel holds, shape
    (len(emitters),); step: between the currents tried, as a share of the rated one.
    """
    figures = _Emitters(emitters)
    return _join(
        [
            _constant_current(figures, drivers, ambient, string_limit, capacity, step),
            _constant_voltage(figures, drivers, string_limit, capacity),
            _ballast(figures, drivers, capacity),
        ]
    )


def _pairs(f: _Emitters, d: DriverFigures, drive: str) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    e, k = np.flatnonzero(f.drive == drive), np.flatnonzero(d.output == drive)
    return np.repeat(e, len(k)), np.tile(k, len(e))


def _constant_current(
    f: _Emitters, drivers: DriverFigures, ambient: float, string_limit: float, capacity: Ints, step: float
) -> Channels:
    e, d = _pairs(f, drivers, "constant current")
    # A string that comes loose lets the driver rise to the top of its range, and that can be touched.
    touchable = drivers.high[d] <= string_limit * (1 + 1e-12)
    e, d = e[touchable], d[touchable]
    index, parallel = expand(
        np.maximum(ceil_of(drivers.least[d] / f.most[e]), 1),
        np.minimum(floor_of(drivers.most[d] / f.least[e]), capacity[e]),
    )
    e, d = e[index], d[index]
    low = np.maximum(drivers.least[d] / parallel, f.least[e])
    high = np.minimum(drivers.most[d] / parallel, f.most[e])
    # A fixed current has no room to give: what rounding took from it is given back.
    high = np.where(drivers.adjustable[d] & (high >= low), high, low)
    # Volts of a string of one at no current; each ampere adds the slope.
    cold, hot = min(ambient, REFERENCE_TEMPERATURE), np.maximum(f.hot[e], REFERENCE_TEMPERATURE)
    foot = -f.slope[e] * f.current[e]
    foot_low = f.voltage_min[e] + foot + f.per_kelvin[e] * (hot - REFERENCE_TEMPERATURE)
    foot_high = f.voltage_max[e] + foot + f.per_kelvin[e] * (cold - REFERENCE_TEMPERATURE)
    foot_strong = f.voltage_max[e] + foot
    slope = f.slope[e]
    fewest = ceil_of(drivers.low[d] / np.maximum(foot_low + slope * high, 1e-300))
    most = np.minimum(
        floor_of(drivers.high[d] / np.maximum(foot_high + slope * low, 1e-300)),
        floor_of(drivers.power_max[d] / (parallel * low * np.maximum(foot_strong + slope * low, 1e-300))),
    )
    index, series = expand(np.maximum(fewest, 1), np.minimum(most, capacity[e] // parallel))
    e, d, parallel, slope = e[index], d[index], parallel[index], slope[index]
    low, high = low[index], high[index]
    foot_low, foot_high, foot_strong = foot_low[index], foot_high[index], foot_strong[index]
    with np.errstate(divide="ignore", invalid="ignore"):
        # The window and the power of the driver bound the current of these strings, where it bears on voltage.
        bent = slope > 0.0
        low = np.where(bent, np.maximum(low, (drivers.low[d] / series - foot_low) / slope), low)
        high = np.where(bent, np.minimum(high, (drivers.high[d] / series - foot_high) / slope), high)
        each = drivers.power_max[d] / (series * parallel)
        strongest = 2.0 * each / (foot_strong + np.sqrt(foot_strong**2 + 4.0 * slope * each))
    high = np.minimum(high, strongest)
    keep = (high >= low * (1.0 - 1e-12)) & (low > 0.0)
    e, d, series, parallel = e[keep], d[keep], series[keep], parallel[keep]
    low, high = low[keep], np.maximum(high[keep], low[keep])
    index, current = _currents(low, high, f.current[e] * step)
    e, d, series, parallel = e[index], d[index], series[index], parallel[index]
    volts = forward_voltage(f.voltage[e], current, f.current[e], f.slope[e])
    return _channels(f, drivers, e, d, series, parallel, current, current * volts)


def _currents(low: Floats, high: Floats, step: Floats) -> tuple[Ints, Floats]:
    """Return (index, current): both ends of each range, and the whole steps between them."""
    index, steps = expand(
        np.floor(low / step * (1 + 1e-9)).astype(np.int64) + 1, np.ceil(high / step * (1 - 1e-9)).astype(np.int64) - 1
    )
    apart = np.flatnonzero(high > low * (1.0 + 1e-9))
    every = np.arange(len(low))
    return (
        np.concatenate([every, index, apart]),
        np.concatenate([low, steps * step[index], high[apart]]),
    )


def _constant_voltage(f: _Emitters, drivers: DriverFigures, string_limit: float, capacity: Ints) -> Channels:
    e, d = _pairs(f, drivers, "constant voltage")
    touchable = drivers.high[d] <= string_limit * (1 + 1e-12)
    e, d = e[touchable], d[touchable]
    index, series = expand(
        np.maximum(ceil_of(drivers.low[d] / f.voltage[e]), 1), floor_of(drivers.high[d] / f.voltage[e])
    )
    e, d = e[index], d[index]
    most = np.minimum.reduce(
        [
            floor_of(drivers.power_max[d] / (series * f.watts[e])),
            floor_of(drivers.current[d] / f.current[e]),
            capacity[e] // series,
        ]
    )
    index, parallel = expand(np.ones(len(e), dtype=np.int64), most)
    e, d, series = e[index], d[index], series[index]
    return _channels(f, drivers, e, d, series, parallel, f.current[e], f.watts[e])


def _ballast(f: _Emitters, drivers: DriverFigures, capacity: Ints) -> Channels:
    e, d = _pairs(f, drivers, "ballast")
    lamps = drivers.lamps
    fits = (np.abs(drivers.lamp_power[d] - f.watts[e]) <= 1e-9 * f.watts[e]) & (lamps[d] <= capacity[e])
    e, d = e[fits], d[fits]
    one = np.ones(len(e), dtype=np.int64)
    return _channels(f, drivers, e, d, one, lamps[d], np.zeros(len(e)), f.watts[e])


def _channels(
    f: _Emitters,
    drivers: DriverFigures,
    e: Ints,
    d: Ints,
    series: Ints,
    parallel: Ints,
    current: Floats,
    watts: Floats,
) -> Channels:
    count = series * parallel
    # Tubes have no current of their own, and their rated flux.
    with np.errstate(invalid="ignore"):
        drive = np.where(current > 0.0, current / f.current[e], 1.0)
    heat = watts * f.heat_share[e]
    power = count * watts / drivers.efficiency[d]
    return Channels(
        emitter=e,
        driver=d,
        series=series,
        parallel=parallel,
        current=current,
        flux=count * f.flux[e] * relative_flux(drive, f.droop[e]),
        rise=heat * f.resistance[e],
        heat=count * heat,
        power=power,
        apparent=power / drivers.factor[d],
    )
