"""The standard atmosphere of ICAO and the US (1976) up to 11 km, for both kinds of height."""

from dataclasses import dataclass
from typing import Final, Literal

from graph.engineering._domain import between
from graph.errors import BadQuestion

Height = Literal["geometric", "geopotential"]

EARTH: Final = 6_356_766.0  # nominal radius of the Earth. [m]
SEA_TEMPERATURE: Final = 288.15  # [K]
SEA_PRESSURE: Final = 101_325.0  # [Pa]
LAPSE: Final = 0.0065  # fall of temperature. [K/m]
R: Final = 287.05287  # gas constant of the standard's air. [J/(kg·K)]
GRAVITY: Final = 9.80665  # [m/s²]
LOWEST, HIGHEST = -2000.0, 11_000.0  # geopotential; the one lapse rate holds between. [m]


@dataclass(frozen=True, slots=True)
class Air:
    """Still air at a height."""

    temperature: float  # [K]
    pressure: float  # [Pa]
    density: float  # [kg/m³]


def geopotential(height: float) -> float:
    """The height that the tables take, of a height as a tape or a map gives it.

    Parameters
    ----------
    height : float
        Geometric height over sea level. [m]

    Returns
    -------
    float
        Geopotential height. [m]

    Raises
    ------
    OutOfRange
        A height outside -2000 to 11 020 m.

    Sources
    -------
    [1] US Standard Atmosphere 1976, H = r·z/(r + z), r = 6 356 766 m.

    Examples
    --------
    >>> round(geopotential(3000.0), 2)
    2998.58
    """
    between(LOWEST, HIGHEST + 20, height=height)
    return EARTH * height / (EARTH + height)


def standard_air(height: float, kind: Height) -> Air:
    """Temperature, pressure and density of the standard atmosphere.

    Parameters
    ----------
    height : float
        Height over sea level. [m]
    kind : str
        `geometric` (a map's height) or `geopotential` (the argument of ICAO's tables); at 3000 m they are 12.6 Pa
        apart. [-]

    Returns
    -------
    Air
        Temperature [K], pressure [Pa], density [kg/m³].

    Raises
    ------
    OutOfRange
        A height outside -2000 to 11 000 m geopotential.
    BadQuestion
        Another kind of height.

    Sources
    -------
    [1] ICAO Doc 7488 (1993), ISO 2533:1975, US Standard Atmosphere 1976: T = 288.15 - 0.0065 H,
        p = 101 325 (T/288.15)^5.25588 (texts not seen; values held against three libraries).

    Examples
    --------
    >>> round(standard_air(3000.0, "geometric").pressure, 1), round(standard_air(3000.0, "geopotential").pressure, 1)
    (70121.1, 70108.5)
    """
    if kind not in ("geometric", "geopotential"):
        raise BadQuestion(f"{kind!r} is no kind of height", fix="say geometric or geopotential")
    level = geopotential(height) if kind == "geometric" else height
    between(LOWEST, HIGHEST, height=level)
    temperature = SEA_TEMPERATURE - LAPSE * level
    pressure = SEA_PRESSURE * (temperature / SEA_TEMPERATURE) ** (GRAVITY / (R * LAPSE))
    return Air(temperature, pressure, pressure / (R * temperature))
