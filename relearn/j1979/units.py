"""Units: how they are spelt in files, and how one becomes another. One row per unit; every factor is exact or named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

MILE_KM = 1.609344  # international mile (exact)
POUND_G = 453.59237  # international avoirdupois pound (exact)
PSI_KPA = 6.894757293168  # pound-force per square inch, from the two above and standard gravity 9.80665 m/s²
MMHG_KPA = 0.133322387415  # conventional millimetre of mercury, 13.5951 g/cm³ at standard gravity (NIST SP 811)
INH2O_KPA = 0.24908891  # conventional inch of water at 4 °C (NIST SP 811: 249.0889 Pa)
US_GALLON_L = 3.785411784  # exact
POUND_FOOT_NM = 1.3558179483314  # NIST SP 811


@dataclass(frozen=True)
class Unit:
    """A unit: value in the quantity's first unit = value here × scale + offset. `spellings` are met in files."""

    name: str
    quantity: str
    scale: float = 1.0
    offset: float = 0.0
    spellings: tuple[str, ...] = ()


UNITS = (
    Unit("°C", "temperature", spellings=("C", "degC", "deg C", "degrees C", "celsius", "℃")),
    Unit("°F", "temperature", 5 / 9, -160 / 9, ("F", "degF", "deg F", "degrees F", "fahrenheit", "℉")),
    Unit("K", "temperature", 1.0, -273.15, ("kelvin",)),
    Unit("rpm", "rotation", spellings=("1/min", "r/min", "rev/min", "min-1", "min^-1", "revs/min", "U/min")),
    Unit("km/h", "speed", spellings=("kph", "kmh", "kmph", "km/hr", "km per hour")),
    Unit("mph", "speed", MILE_KM, 0.0, ("mi/h", "miles/h", "mile/h", "miles per hour")),
    Unit("m/s", "speed", 3.6),
    Unit("V", "voltage", spellings=("volt", "volts", "Vdc", "V DC")),
    Unit("mV", "voltage", 0.001, 0.0, ("millivolt", "millivolts")),
    Unit("%", "share", spellings=("percent", "pct", "per cent")),
    Unit("kPa", "pressure", spellings=("kilopascal", "kPa abs", "kPaA")),
    Unit("Pa", "pressure", 0.001, 0.0, ("pascal",)),
    Unit("hPa", "pressure", 0.1),
    Unit("MPa", "pressure", 1000.0),
    Unit("mbar", "pressure", 0.1, 0.0, ("millibar",)),
    Unit("bar", "pressure", 100.0),
    Unit("psi", "pressure", PSI_KPA, 0.0, ("psia", "lbf/in²", "lb/in2", "lbs/in2")),
    Unit("inHg", "pressure", 25.4 * MMHG_KPA, 0.0, ("in Hg", '"Hg', "inches Hg")),
    Unit("mmHg", "pressure", MMHG_KPA, 0.0, ("mm Hg",)),
    Unit("inH2O", "pressure", INH2O_KPA, 0.0, ("in H2O", '"H2O')),
    Unit("g/s", "mass flow", spellings=("g/sec", "gm/s", "gm/sec", "grams/sec", "grams/s")),
    Unit("kg/h", "mass flow", 1 / 3.6, 0.0, ("kg/hr",)),
    Unit("lb/min", "mass flow", POUND_G / 60, 0.0, ("lbs/min", "lbm/min")),
    Unit("lb/h", "mass flow", POUND_G / 3600, 0.0, ("lb/hr", "lbs/hr", "lbs/h")),
    Unit("s", "time", spellings=("sec", "secs", "second", "seconds")),
    Unit("ms", "time", 0.001, 0.0, ("msec", "millisecond", "milliseconds")),
    Unit("min", "time", 60.0, 0.0, ("mins", "minute", "minutes")),
    Unit("h", "time", 3600.0, 0.0, ("hr", "hrs", "hour", "hours")),
    Unit("km", "distance", spellings=("kilometre", "kilometer", "kilometres", "kilometers")),
    Unit("m", "distance", 0.001, 0.0, ("metre", "meter", "metres", "meters")),
    Unit("mi", "distance", MILE_KM, 0.0, ("mile", "miles")),
    Unit("°", "angle", spellings=("deg", "degree", "degrees", "° BTDC", "deg BTDC", "°CA", "° CA")),
    Unit("mA", "current", spellings=("milliampere", "milliamp", "milliamps")),
    Unit("A", "current", 1000.0, 0.0, ("amp", "amps", "ampere", "amperes")),
    Unit("ratio", "ratio", spellings=("lambda", "λ")),
    Unit("L/h", "volume flow", spellings=("L/hr", "lph")),
    Unit("gal/h", "volume flow", US_GALLON_L, 0.0, ("gal/hr", "gph")),
    Unit("N·m", "torque", spellings=("Nm", "N m", "N*m", "N-m")),
    Unit("lb·ft", "torque", POUND_FOOT_NM, 0.0, ("lb-ft", "ft-lb", "ft·lb", "lbft", "lbf·ft", "ft lbs", "lb ft")),
    Unit("", "number", spellings=("-", "–", "on/off", "0/1")),
)


def find(text: str) -> Unit | None:
    """The unit spelt so, upper or lower case and spaces apart; None where nobody knows it."""
    return _BY_SPELLING.get(_plain(text))


def convert(values: NDArray[np.float64], given: str, wanted: str) -> NDArray[np.float64] | None:
    """The values in another unit; None where a unit is not known or the two measure different things."""
    source, target = find(given), find(wanted)
    if source is None or target is None or source.quantity != target.quantity:
        return None
    if source == target:
        return values
    converted: NDArray[np.float64] = (values * source.scale + source.offset - target.offset) / target.scale
    return converted


def _plain(text: str) -> str:
    return "".join(text.replace("º", "°").casefold().split())


def _by_spelling() -> Mapping[str, Unit]:
    return MappingProxyType({_plain(text): unit for unit in UNITS for text in (unit.name, *unit.spellings)})


_BY_SPELLING = _by_spelling()
