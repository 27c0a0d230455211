"""Channels: one driver with its whole series-parallel load of one emitter kind, at one drive current."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from optimise.columns.expand import Floats, Ints, ceil_of, expand, floor_of
from optimise.parts import Driver, Emitter
from optimise.physics.emitters import REFERENCE_TEMPERATURE, forward_voltage, relative_flux

DRIVE_LEVELS = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5)
"""Shares of the emitter's rated current to which an adjustable driver is set; its two ends are tried as well."""


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
    return Channels(**{f.name: np.concatenate([getattr(p, f.name) for p in pieces]) for f in fields(Channels)})


def _array(values: Iterable[float | None], blank: float) -> Floats:
    return np.array([blank if value is None else value for value in values], dtype=np.float64)


class _Emitters:
    """Columns of figures of the emitters, for the vector sums."""

    def __init__(self, emitters: Sequence[Emitter]) -> None:
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


def build_channels(
    emitters: Sequence[Emitter],
    drivers: Sequence[Driver],
    ambient: float,
    string_limit: float,
    capacity: Ints,
) -> Channels:
    """Return every channel that the emitters and drivers can form.

    ambient: °C at switch-on, where the string voltage is highest; string_limit: V, the greatest voltage of
    a string or of a driver left open; capacity: the most emitters of each kind that any panel holds, shape
    (len(emitters),).
    """
    figures = _Emitters(emitters)
    pieces = [
        _constant_current(figures, emitters, drivers, mode, ambient, string_limit, capacity)
        for mode in ("fixed", "least", "most", *DRIVE_LEVELS)
    ]
    pieces.append(_constant_voltage(figures, emitters, drivers, string_limit, capacity))
    pieces.append(_ballast(figures, emitters, drivers, capacity))
    channels = _join(pieces)
    keys = np.stack(
        [
            channels.emitter,
            channels.driver,
            channels.series,
            channels.parallel,
            np.round(channels.current * 1e9).astype(np.int64),
        ]
    )
    _, first = np.unique(keys, axis=1, return_index=True)
    return channels.take(first)


def _pairs(
    emitters: Sequence[Emitter], drivers: Sequence[Driver], drive: str
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    e = np.flatnonzero(np.array([part.drive == drive for part in emitters], dtype=bool))
    d = np.flatnonzero(np.array([part.output == drive for part in drivers], dtype=bool))
    return np.repeat(e, len(d)), np.tile(d, len(e))


def _constant_current(
    f: _Emitters,
    emitters: Sequence[Emitter],
    drivers: Sequence[Driver],
    mode: str | float,
    ambient: float,
    string_limit: float,
    capacity: Ints,
) -> Channels:
    e, d = _pairs(emitters, drivers, "constant current")
    # A string that comes loose lets the driver rise to the top of its range, and that can be touched.
    touchable = _array((part.output_max for part in drivers), np.inf)[d] <= string_limit * (1 + 1e-12)
    e, d = e[touchable], d[touchable]
    fixed = _array((part.output_current for part in drivers), 0.0)
    low = _array((part.current_min for part in drivers), 0.0)
    high = _array((part.current_max for part in drivers), 0.0)
    if isinstance(mode, float):
        keep = high[d] > 0.0
        e, d = e[keep], d[keep]
        string = mode * f.current[e]
        index, parallel = expand(
            np.maximum(ceil_of(low[d] / string), 1), np.minimum(floor_of(high[d] / string), capacity[e])
        )
        e, d = e[index], d[index]
        current = mode * f.current[e]
    else:
        output = {"fixed": fixed, "least": low, "most": high}[mode]
        keep = output[d] > 0.0
        e, d = e[keep], d[keep]
        index, parallel = expand(
            np.ones(len(e), dtype=np.int64), np.minimum(floor_of(output[d] / f.least[e]), capacity[e])
        )
        e, d = e[index], d[index]
        current = output[d] / parallel
    keep = (current >= f.least[e] * (1 - 1e-12)) & (current <= f.most[e] * (1 + 1e-12))
    e, d, parallel, current = e[keep], d[keep], parallel[keep], current[keep]

    def voltage(rated: Floats, junction: Floats | float) -> Floats:
        return forward_voltage(rated[e], current, f.current[e], f.slope[e], f.per_kelvin[e], junction)

    lowest = voltage(f.voltage_min, np.maximum(f.hot[e], REFERENCE_TEMPERATURE))
    highest = voltage(f.voltage_max, min(ambient, REFERENCE_TEMPERATURE))
    strongest = current * voltage(f.voltage_max, REFERENCE_TEMPERATURE)
    nominal = current * voltage(f.voltage, REFERENCE_TEMPERATURE)
    window_low = _array((part.output_min for part in drivers), 0.0)[d]
    window_high = _array((part.output_max for part in drivers), 0.0)[d]
    power_max = _array((part.power_max for part in drivers), 0.0)[d]
    with np.errstate(divide="ignore"):
        least = np.maximum(ceil_of(window_low / lowest), 1)
    most = np.minimum.reduce(
        [
            floor_of(window_high / highest),
            floor_of(power_max / (parallel * strongest)),
            capacity[e] // parallel,
        ]
    )
    index, series = expand(least, most)
    return _channels(f, drivers, e[index], d[index], series, parallel[index], current[index], nominal[index])


def _constant_voltage(
    f: _Emitters, emitters: Sequence[Emitter], drivers: Sequence[Driver], string_limit: float, capacity: Ints
) -> Channels:
    e, d = _pairs(emitters, drivers, "constant voltage")
    low = _array((part.output_min for part in drivers), 0.0)
    high = _array((part.output_max for part in drivers), 0.0)
    touchable = high[d] <= string_limit * (1 + 1e-12)
    e, d = e[touchable], d[touchable]
    index, series = expand(np.maximum(ceil_of(low[d] / f.voltage[e]), 1), floor_of(high[d] / f.voltage[e]))
    e, d = e[index], d[index]
    power_max = _array((part.power_max for part in drivers), 0.0)
    current_max = _array((part.output_current for part in drivers), np.inf)
    most = np.minimum.reduce(
        [
            floor_of(power_max[d] / (series * f.watts[e])),
            floor_of(current_max[d] / f.current[e]),
            capacity[e] // series,
        ]
    )
    index, parallel = expand(np.ones(len(e), dtype=np.int64), most)
    e, d, series = e[index], d[index], series[index]
    return _channels(f, drivers, e, d, series, parallel, f.current[e], f.watts[e])


def _ballast(f: _Emitters, emitters: Sequence[Emitter], drivers: Sequence[Driver], capacity: Ints) -> Channels:
    e, d = _pairs(emitters, drivers, "ballast")
    lamps = np.array([part.lamps or 0 for part in drivers], dtype=np.int64)
    lamp_power = _array((part.lamp_power for part in drivers), 0.0)
    fits = (np.abs(lamp_power[d] - f.watts[e]) <= 1e-9 * f.watts[e]) & (lamps[d] <= capacity[e])
    e, d = e[fits], d[fits]
    one = np.ones(len(e), dtype=np.int64)
    return _channels(f, drivers, e, d, one, lamps[d], np.zeros(len(e)), f.watts[e])


def _channels(
    f: _Emitters,
    drivers: Sequence[Driver],
    e: Ints,
    d: Ints,
    series: Ints,
    parallel: Ints,
    current: Floats,
    watts: Floats,
) -> Channels:
    count = series * parallel
    with np.errstate(invalid="ignore", divide="ignore"):
        drive = np.where(f.current[e] > 0.0, current / f.current[e], 1.0)
    drive = np.where(current > 0.0, drive, 1.0)
    heat = watts * f.heat_share[e]
    efficiency = _array((part.efficiency for part in drivers), 1.0)[d]
    factor = _array((part.power_factor if part.input == "ac" else None for part in drivers), 1.0)[d]
    power = count * watts / efficiency
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
        apparent=power / factor,
    )
